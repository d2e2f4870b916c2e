"""Roller bodies and what is measured on them."""

from datetime import datetime
from typing import Any

from django.db import transaction

from plant.audit.services import record
from plant.errors import Refused
from plant.floor import rules as floor_rules
from plant.floor.models import Position
from plant.floor.services.coded import create_coded
from plant.people.access import require_role
from plant.people.models import Person, Role
from plant.web.quantities import Figure, digits, taken
from rollers.models import Body, Gauge, Measurement, TapeStock
from rollers.queries import misalignments
from rollers.queries_registry import overdue_at
from rollers.services.asking_again import after_alignment

# Accepted ranges in stored units (defaults of the trade form, no source).
BODY_BOUNDS = {
    "diameter_mm": (30.0, 800.0),
    "drawing_diameter_mm": (30.0, 800.0),
    "face_mm": (30.0, 10_000.0),
    "roughness_um": (0.0, 60.0),
    "runout_mm": (0.0, 10.0),
}
MEASURED_BOUNDS = {
    "diameter_mm": (30.0, 800.0),
    "misalignment_mm_per_m": (-50.0, 50.0),
    "roughness_um": (0.0, 60.0),
    "thickness_mm": (0.03, 0.30),
}
SPARE_PLACES = (Body.Whereabouts.SPARE, Body.Whereabouts.GRINDING, Body.Whereabouts.SCRAPPED)
KEEPERS_OF_ROLLERS = (Role.MAINTENANCE, Role.ENGINEER, Role.KEEPER)


def stream_of(body: Body) -> str:
    """The audit stream of a body."""
    return f"roller:{body.serial}"


@transaction.atomic
def enter_body(
    *,
    serial: str,
    face_mm: Figure,
    roughness_um: Figure,
    by: Person,
    at: datetime,
    diameter_mm: Figure = None,
    diameter_measured: bool = False,
    drawing_diameter_mm: Figure = None,
    material: str = "",
    runout_mm: Figure = None,
    drive_end_mark: str = "",
    whereabouts: str = Body.Whereabouts.SPARE,
) -> Body:
    """Enter a roller with its serial number. It begins as a spare; what is on it is not known yet."""
    require_role(by, *KEEPERS_OF_ROLLERS, at=at, act="Entering a roller")
    if whereabouts not in SPARE_PLACES:
        sentence = "A new roller is a spare, at grinding or scrapped; it is mounted in a step of its own."
        raise Refused("whereabouts", sentence, field="whereabouts")
    figures = {
        "diameter_mm": diameter_mm,
        "drawing_diameter_mm": drawing_diameter_mm,
        "face_mm": face_mm,
        "roughness_um": roughness_um,
        "runout_mm": runout_mm,
    }
    for field in ("face_mm", "roughness_um"):
        if figures[field] is None:
            sentence = f"The {floor_rules.words(field)} is missing. Maintenance or the drawing has it."
            raise Refused("empty", sentence, field=field)
    if diameter_measured and diameter_mm is None:
        sentence = "The diameter is said to be measured but is missing. Type it, or leave measured empty."
        raise Refused("empty", sentence, field="diameter_mm")
    numbers, typed = taken(figures, figures)
    floor_rules.refuse_out_of_bounds(numbers, BODY_BOUNDS)
    floor_rules.refuse_sides(drive_end_mark, field="drive_end_mark")
    body = create_coded(
        Body,
        what="roller",
        field="serial",
        code=floor_rules.checked_code(serial, what="roller", most=40, field="serial"),
        diameter_measured=diameter_measured,
        material=material.strip()[:60],
        drive_end_mark=drive_end_mark.strip()[:60],
        whereabouts=whereabouts,
        typed=typed,
        **numbers,
    )
    record(
        stream=stream_of(body),
        action="enter-body",
        subject=body,
        sentence=f"roller {body.serial} entered",
        by=by,
        at=at,
        facts=numbers | {"typed": typed, "measured": diameter_measured, "whereabouts": str(whereabouts)},
    )
    return body


@transaction.atomic
def record_measurement(
    *,
    quantity: str,
    value: Figure,
    by: Person,
    at: datetime,
    gauge: Gauge | None = None,
    body: Body | None = None,
    position: Position | None = None,
    stock: TapeStock | None = None,
    readings: dict[str, Any] | None = None,
    measured_at: datetime | None = None,
) -> Measurement:
    """Keep a measured value with its gauge. A diameter or roughness becomes the body's.

    A gauge past its calibration is not refused: the value is kept and flagged, so that it can be found later.
    """
    roles = (Role.MAINTENANCE, Role.ENGINEER, Role.QA, Role.STOREKEEPER, Role.OPERATOR)
    require_role(by, *roles, at=at, act="Recording a measurement")
    measured_at = measured_at or at
    if measured_at > at:
        raise Refused("future", "A measurement lies in the past or now. Check the time.", field="measured_at")
    if quantity not in Measurement.Quantity.values:
        sentence = f"{quantity!r} is not measured here; choose diameter, misalignment, roughness or tape thickness."
        raise Refused("quantity", sentence, field="quantity")
    _refuse_wrong_subject(quantity, body, position, stock)
    if value is None:
        raise Refused("empty", "The measured value is missing. Type it with its unit.", field="value")
    numbers, typed = taken({quantity: value}, [quantity])
    floor_rules.refuse_out_of_bounds(numbers, MEASURED_BOUNDS)
    number = numbers[quantity] or 0.0
    facts: dict[str, Any] = {"value": number, "typed": typed, "gauge": gauge.code if gauge else None}
    overdue = gauge is None or overdue_at(gauge, measured_at)
    before = misalignments([position]).get(position.pk) if position else None
    made = Measurement.objects.create(
        gauge=gauge,
        quantity=quantity,
        body=body,
        position=position,
        stock=stock,
        value=number,
        readings=readings or {},
        typed=typed,
        gauge_overdue=overdue,
        at=measured_at,
        by=by,
    )
    if body is not None:
        facts |= _now_of_body(body, quantity, number, typed)
    subject = body or position or stock
    stream = stream_of(body) if body else "measurements"
    record(
        stream=stream,
        action="record-measurement",
        subject=made,
        sentence=f"{subject}: {made.get_quantity_display()} {digits(number)}"
        + (", gauge without valid calibration" if overdue else ""),
        by=by,
        at=at,
        facts=facts | {"gauge_overdue": overdue, "measured_at": measured_at},
    )
    if position is not None:
        after_alignment(position, before, number, key=f"measurement-{made.pk}", by=by, at=at)
    return made


def _refuse_wrong_subject(quantity: str, body: Body | None, position: Position | None, stock: TapeStock | None) -> None:
    if sum(subject is not None for subject in (body, position, stock)) != 1:
        raise Refused("subject", "Say what was measured: one roller, one position or one tape stock.", field="quantity")
    fits = {
        Measurement.Quantity.DIAMETER: body,
        Measurement.Quantity.ROUGHNESS: body,
        Measurement.Quantity.ALIGNMENT: position,
        Measurement.Quantity.TAPE_THICKNESS: stock,
    }
    if fits[Measurement.Quantity(quantity)] is None:
        sentence = (
            "Diameter and roughness belong to a roller, misalignment to a position, tape thickness to a stock. "
            "Open the page of that thing and record it there."
        )
        raise Refused("subject", sentence, field="quantity")


def _now_of_body(body: Body, quantity: str, number: float, typed: dict[str, Any]) -> dict[str, Any]:
    """Let the body have the measured value; say what it was before and, for a diameter, by how much it changed."""
    body = Body.objects.select_for_update().get(pk=body.pk)
    before = getattr(body, quantity)
    setattr(body, quantity, number)
    body.typed = body.typed | typed
    if quantity == Measurement.Quantity.DIAMETER:
        body.diameter_measured = True
    body.save(update_fields=[quantity, "typed", "diameter_measured"])
    facts: dict[str, Any] = {"before": before}
    if before and quantity == Measurement.Quantity.DIAMETER:
        facts["change_pct"] = round(100 * (number - before) / before, 4)
    return facts
