"""Training record and matrix as CSV: with filter, time, user and row count above the rows, and an event."""

from datetime import datetime

from django.db import transaction

from plant.audit.services import record
from plant.errors import Forbidden
from plant.floor.queries import local, the_plant
from plant.people.access import require_insider
from plant.people.models import Person, Role
from plant.people.queries import roles_of
from plant.web.spreadsheet import headed, neutralised, written
from training.record_rows import COLUMNS, matrix, may_see_results, training_record

RECORD_READERS = (Role.TRAINER, Role.ASSESSOR, Role.QA, Role.SUPERVISOR, Role.MANAGER)


def require_record(reader: Person, about: Person, at: datetime) -> None:
    """Let pass the person, and who has to know: trainers, assessors, QA, supervisors, managers."""
    if reader.pk == about.pk or roles_of(reader, at) & set(RECORD_READERS):
        return
    raise Forbidden("not-yours", f"The training record of {about.name} is for {about.name}, trainers, QA and managers.")


@transaction.atomic
def export_record(about: Person, *, as_of: datetime, by: Person, at: datetime) -> str:
    """The training record of one person as of a moment."""
    require_record(by, about, at)
    lines = training_record(about, as_of, results=may_see_results(by, about, at))
    rows = [[line.cells[name] for name in COLUMNS] for line in lines]
    return _file("Training record", [*COLUMNS], rows, f"person = {about.name} ({about.staff_no})", as_of, about, by, at)


@transaction.atomic
def export_matrix(*, search: str = "", shift: str = "", as_of: datetime, by: Person, at: datetime) -> str:
    """Who holds what, as of a moment: valid or not and the last day, no scores."""
    require_insider(by, at=at)
    found = matrix(as_of, search=search, shift=shift)
    chosen = {"name contains": search, "shift": shift}
    shown = ", ".join(f"{name} = {value}" for name, value in chosen.items() if value) or "none"
    columns = ["name", "staff number", "shift", *(name for _, name in found.skills)]
    rows = [[person.name, person.staff_no, person.home_shift, *cells] for person, cells in found.rows]
    return _file("Training matrix", columns, rows, shown, as_of, None, by, at)


def _file(
    title: str,
    columns: list[str],
    rows: list[list[str]],
    shown: str,
    as_of: datetime,
    about: Person | None,
    by: Person,
    at: datetime,
) -> str:
    plant = the_plant()
    facts = [
        ("plant", plant.name),
        ("filter", shown),
        ("data as of", local(as_of).isoformat(timespec="seconds")),
        ("written", local(at).isoformat(timespec="seconds")),
        ("by", f"{by.name} ({by.staff_no})"),
        ("rows", str(len(rows))),
    ]
    record(
        stream="exports",
        action="export",
        subject=about or plant,
        sentence=f"{by.name} exported {len(rows)} rows of {title.lower()}, filter {shown}",
        by=by,
        at=at,
        facts={"title": title, "filter": shown, "as_of": as_of, "rows": len(rows)},
    )
    cells = [[neutralised(cell) for cell in row] for row in rows]
    return headed(title, facts) + written([columns, *cells])
