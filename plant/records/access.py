"""The doors to the trail."""

from datetime import datetime

from django.db.models import Q, QuerySet

from plant.audit.models import Event
from plant.errors import NotFound
from plant.people.access import require_role
from plant.people.models import Person, Role
from plant.people.queries import roles_of
from plant.records.models import PurgeOrder
from plant.records.purging import PURGEABLES, Purgeable

READERS = (Role.QA, Role.KEEPER, Role.MANAGER, Role.GUEST)
EXPORTERS = (Role.QA, Role.KEEPER, Role.MANAGER)
# Sign-ins, secrets, roles, certificates and who read what are no matter for outsiders.
CLOSED_TO_GUESTS = (
    Q(stream__in=["people", "strangers", "training"]) | Q(stream__startswith="guest:") | Q(subject_type="person")
)


def trail(reader: Person, at: datetime) -> QuerySet[Event]:
    """The events that a person may read."""
    require_role(reader, *READERS, at=at, act="Reading the audit trail")
    events = Event.objects.select_related("actor")
    return events.exclude(CLOSED_TO_GUESTS) if is_guest(reader, at) else events


def purgeable(matter: str) -> Purgeable:
    """Something that may be removed after its time."""
    if matter not in PURGEABLES:
        raise NotFound("thing to remove", matter, "Choose from the page on keeping.")
    return PURGEABLES[matter]


def purge_order(pk: int) -> PurgeOrder:
    """An order to remove something."""
    found = PurgeOrder.objects.select_related("signature", "exported_by").filter(pk=pk).first()
    if found is None:
        raise NotFound("purge order", str(pk), "Choose from the page on keeping.")
    return found


def is_guest(reader: Person, at: datetime) -> bool:
    """Whether the person comes from outside and only looks."""
    return not roles_of(reader, at) - {Role.GUEST}


def event(pk: int, reader: Person, at: datetime) -> Event:
    """One event."""
    found = trail(reader, at).filter(pk=pk).first()
    if found is None:
        raise NotFound("event", str(pk), "Look for it in the list; ask QA where it is not shown to you.")
    return found
