"""Writing what is recorded as CSV that can be brought in again."""

from datetime import datetime

from django.db import transaction

from plant.audit.services import record
from plant.errors import Forbidden
from plant.floor.queries import local, plant_zone, the_plant
from plant.people.access import require_role
from plant.people.models import Person, Role
from plant.people.queries import roles_of
from plant.web.spreadsheet import headed, neutralised, written
from rollers.services.files.columns import headers
from rollers.services.files.taking import Asked, Kind


def table_text(kind: Kind, rows: list[dict[str, str]]) -> str:
    """Header and rows; cells that a spreadsheet would take for a formula are neutralised."""
    names = headers(kind.columns)
    return written([names, *([neutralised(row.get(name, "")) for name in names] for row in rows)])


def blank(kind: Kind) -> str:
    """The header alone, to be filled in."""
    return table_text(kind, [])


def example(kind: Kind) -> str:
    """The header with a few invented rows."""
    return table_text(kind, list(kind.example))


@transaction.atomic
def export(kind: Kind, *, filters: dict[str, str], by: Person, at: datetime) -> str:
    """The rows of a kind, under a block of # lines that says what, when, by whom and how many.

    An import passes over that block, so the file can be brought in as it is.
    """
    plant = the_plant()
    if kind.readers:
        require_role(by, *kind.readers, at=at, act=f"Exporting {kind.title.lower()}")
    elif roles_of(by, at) <= {Role.GUEST}:
        raise Forbidden("guest", "Guests read on the screen; they export nothing. Ask the process engineer.")
    wanted = {name: filters[name] for name in kind.filters if filters.get(name)}
    rows = list(kind.give(Asked(wanted, plant_zone(), at)))
    shown = ", ".join(f"{name} = {value}" for name, value in wanted.items()) or "none"
    head = headed(
        kind.title,
        [
            ("plant", plant.name),
            ("filter", shown),
            ("written", local(at).isoformat(timespec="seconds")),
            ("by", f"{by.name} ({by.staff_no})"),
            ("rows", str(len(rows))),
        ],
    )
    record(
        stream="exports",
        action="export",
        subject=plant,
        sentence=f"{by.name} exported {len(rows)} rows of {kind.title.lower()}, filter {shown}",
        by=by,
        at=at,
        facts={"kind": kind.code, "filter": wanted, "rows": len(rows)},
    )
    return head + table_text(kind, rows)
