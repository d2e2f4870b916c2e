"""The gauge register: gauges, and their calibrations."""

from datetime import date, datetime

from django.db import transaction

from plant.audit.services import record
from plant.errors import Refused
from plant.floor import rules as floor_rules
from plant.floor.queries import plant_date
from plant.floor.services.coded import create_coded
from plant.people.access import require_role
from plant.people.models import Person, Role
from plant.web.quantities import Figure, Typed, digits
from rollers.models import Calibration, Gauge

STREAM = "gauges"
KEEPERS_OF_GAUGES = (Role.MAINTENANCE, Role.QA, Role.ENGINEER, Role.KEEPER)


@transaction.atomic
def enter_gauge(*, code: str, name: str, by: Person, at: datetime) -> Gauge:
    """Enter a measuring instrument. Until a calibration is entered, what it measures is flagged."""
    require_role(by, *KEEPERS_OF_GAUGES, at=at, act="Entering a gauge")
    gauge = create_coded(
        Gauge,
        what="gauge",
        code=floor_rules.checked_code(code, what="gauge", most=30),
        name=floor_rules.checked_name(name, what="gauge"),
    )
    sentence = f"gauge {gauge.code} entered, {gauge.name}"
    record(stream=STREAM, action="enter-gauge", subject=gauge, sentence=sentence, by=by, at=at)
    return gauge


@transaction.atomic
def record_calibration(
    gauge: Gauge,
    *,
    certificate: str,
    done_on: date,
    due_on: date,
    uncertainty: Figure,
    unit: str,
    by: Person,
    at: datetime,
    found_in_tolerance: bool = True,
) -> Calibration:
    """Keep a calibration certificate; `uncertainty` is the expanded one, k = 2, in `unit`."""
    require_role(by, *KEEPERS_OF_GAUGES, at=at, act="Recording a calibration")
    certificate = certificate.strip()
    if not certificate:
        sentence = "Type the number of the calibration certificate; it is the evidence."
        raise Refused("empty", sentence, field="certificate")
    if done_on > plant_date(at):
        raise Refused("future", "A calibration was done today or before. Check the date.", field="done_on")
    if due_on <= done_on:
        raise Refused("out-of-order", "The next calibration is due after this one. Check the date.", field="due_on")
    number = _uncertainty(uncertainty)
    if not unit.strip():
        raise Refused("empty", "Type the unit of the uncertainty, for example mm.", field="unit")
    gauge = Gauge.objects.select_for_update().get(pk=gauge.pk)
    if Calibration.objects.filter(gauge=gauge, certificate__iexact=certificate).exists():
        sentence = f"Certificate {certificate} is recorded for gauge {gauge.code} already."
        raise Refused("certificate-taken", sentence, field="certificate")
    made = Calibration.objects.create(
        gauge=gauge,
        certificate=certificate[:80],
        done_on=done_on,
        due_on=due_on,
        uncertainty=number,
        unit=unit.strip()[:12],
        found_in_tolerance=found_in_tolerance,
        by=by,
        at=at,
    )
    found = "in tolerance" if found_in_tolerance else "OUT of tolerance"
    record(
        stream=STREAM,
        action="record-calibration",
        subject=made,
        sentence=f"gauge {gauge.code} calibrated {done_on}, found {found}, due {due_on}",
        by=by,
        at=at,
        facts={
            "certificate": certificate,
            "uncertainty": f"{digits(number)} {unit}",
            "in_tolerance": found_in_tolerance,
        },
    )
    return made


def _uncertainty(figure: Figure) -> float:
    text = figure.value if isinstance(figure, Typed) else str(figure)
    try:
        number = float(text)
    except ValueError:
        number = float("nan")
    if not 0 < number < 1000:
        sentence = f"The uncertainty {text!r} is no positive figure. It stands on the calibration certificate (k = 2)."
        raise Refused("not-a-quantity", sentence, field="uncertainty")
    return number


@transaction.atomic
def retire_gauge(gauge: Gauge, *, reason: str, by: Person, at: datetime) -> Gauge:
    """Take a gauge out of use. What was measured with it stays."""
    require_role(by, *KEEPERS_OF_GAUGES, at=at, act="Taking a gauge out of use")
    if not reason.strip():
        raise Refused("no-reason", "Say why the gauge goes out of use (worn, lost, replaced).", field="reason")
    gauge = Gauge.objects.select_for_update().get(pk=gauge.pk)
    if not gauge.in_use:
        raise Refused("retired", f"Gauge {gauge.code} is out of use already.")
    gauge.in_use = False
    gauge.save(update_fields=["in_use"])
    sentence = f"gauge {gauge.code} out of use"
    record(stream=STREAM, action="retire-gauge", subject=gauge, sentence=sentence, by=by, at=at, reason=reason)
    return gauge
