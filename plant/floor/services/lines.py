"""Lines, their tension zones, and the positions on them."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime

from django.db import transaction

from plant.audit.services import record
from plant.errors import Refused
from plant.floor import rules
from plant.floor.models import Line, Position, Room, TensionZone
from plant.floor.services.coded import create_coded
from plant.people.access import require_role
from plant.people.models import Person, Role
from plant.web.quantities import Figure, taken


@dataclass(frozen=True)
class Zone:
    """A tension zone as it is entered."""

    number: int
    control: str = TensionZone.Control.TENSION
    sensor: str = ""
    calibrated_on: date | None = None


def _zones(line: Line, zones: Sequence[Zone]) -> list[TensionZone]:
    made: list[TensionZone] = []
    for zone in zones:
        if zone.number < 1 or zone.number in {other.number for other in made}:
            sentence = f"Tension zone {zone.number}: zones are numbered from 1, each number once."
            raise Refused("zone-number", sentence, field="zones")
        if zone.control not in TensionZone.Control.values:
            sentence = f"{zone.control!r} is no kind of control; write tension, draw or none."
            raise Refused("zone-control", sentence, field="zones")
        made.append(
            TensionZone(
                line=line,
                number=zone.number,
                control=zone.control,
                sensor=zone.sensor.strip()[:60],
                calibrated_on=zone.calibrated_on,
            )
        )
    return TensionZone.objects.bulk_create(made)


@transaction.atomic
def add_line(
    *,
    code: str,
    name: str,
    by: Person,
    at: datetime,
    reversing: bool = False,
    max_speed_m_per_min: Figure = None,
    zones: Sequence[Zone] = (Zone(1),),
) -> Line:
    """Enter a line with its tension zones."""
    require_role(by, Role.KEEPER, Role.ENGINEER, at=at, act="Entering a line")
    numbers, typed = taken({"max_speed_m_per_min": max_speed_m_per_min}, rules.LINE_BOUNDS)
    rules.refuse_out_of_bounds(numbers, rules.LINE_BOUNDS)
    line = create_coded(
        Line,
        what="line",
        field="code",
        code=rules.checked_code(code, what="line", most=12),
        name=rules.checked_name(name, what="line"),
        reversing=reversing,
        typed=typed,
        **numbers,
    )
    made = _zones(line, zones)
    record(
        stream=f"line:{line.code}",
        action="add-line",
        subject=line,
        sentence=f"line {line.code} entered with {len(made)} tension zones",
        by=by,
        at=at,
        facts={"reversing": reversing, **numbers, "zones": [zone.number for zone in made]},
    )
    return line


@transaction.atomic
def add_position(
    *,
    line: Line,
    room: Room,
    code: str,
    order: int,
    by: Person,
    at: datetime,
    kind: str = Position.Kind.IDLER,
    zone: int | None = None,
    kept_bare: bool = False,
    surface_temp_c: Figure = None,
    note: str = "",
) -> Position:
    """Enter a place for a roller, at its number along the line."""
    require_role(by, Role.KEEPER, Role.ENGINEER, Role.MAINTENANCE, at=at, act="Entering a roller position")
    if kind not in Position.Kind.values:
        sentence = f"{kind!r} is no kind of roller here; write one of: {', '.join(Position.Kind.values)}."
        raise Refused("roller-kind", sentence, field="kind")
    if order < 1:
        raise Refused("order", "Positions are numbered from 1 along the line.", field="order")
    there = Position.objects.filter(line=line, order=order).first()
    if there is not None:
        sentence = f"Number {order} on line {line.code} is position {there.code} already. Choose the next free number."
        raise Refused("order-taken", sentence, field="order")
    numbers, typed = taken({"surface_temp_c": surface_temp_c}, rules.POSITION_BOUNDS)
    rules.refuse_out_of_bounds(numbers, rules.POSITION_BOUNDS)
    position = create_coded(
        Position,
        what="roller position",
        field="code",
        code=rules.checked_code(code, what="roller position", most=20),
        line=line,
        room=room,
        zone=_zone_of(line, zone),
        order=order,
        kind=kind,
        kept_bare=kept_bare,
        note=note.strip()[:200],
        typed=typed,
        **numbers,
    )
    facts = {"room": room.code, "order": order, "kind": str(kind), "kept_bare": kept_bare, "zone": zone}
    record(
        stream=f"line:{line.code}",
        action="add-position",
        subject=position,
        sentence=f"position {position.code} entered on line {line.code}, {position.get_kind_display()}",
        by=by,
        at=at,
        facts=facts,
    )
    return position


def _zone_of(line: Line, number: int | None) -> TensionZone | None:
    if number is None:
        return None
    zone = line.zones.filter(number=number).first()
    if zone is None:
        sentence = f"Line {line.code} has no tension zone {number}. Leave it empty or use a zone of the line."
        raise Refused("no-zone", sentence, field="zone")
    return zone
