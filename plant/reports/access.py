"""The door to stored reports."""

from datetime import datetime

from plant.errors import Forbidden, NotFound
from plant.people.models import Person, Role
from plant.people.queries import roles_of
from plant.reports.models import StoredReport
from plant.reports.registry import require_report


def stored_report(pk: int, person: Person, at: datetime) -> StoredReport:
    """A report for who asked for it; QA, managers and supervisors read all."""
    found = StoredReport.objects.filter(pk=pk).first()
    if found is None:
        raise NotFound("report", str(pk), "Print the record again.")
    if found.asked_by_id != person.pk and not roles_of(person, at) & {Role.QA, Role.MANAGER, Role.SUPERVISOR}:
        raise Forbidden("not-yours", "This report was printed by somebody else. Print the record yourself, or ask QA.")
    require_report(person, found.kind, found.subject_id, at)
    return found
