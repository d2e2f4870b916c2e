"""Cause sheets: opening one, filling in a cause, saying why one was not checked, closing it."""

from datetime import datetime

from django.db import IntegrityError, transaction

from calcs import units
from calcs.traction import capstan_ratio
from plant.audit.services import record
from plant.errors import Conflict, Refused
from plant.floor.models import PathStep, Position, ProductVersion
from plant.floor.queries import plant_date
from plant.people.access import require_role
from plant.people.models import Person, Role
from plant.web.quantities import Typed
from rollers.causes import rules
from rollers.causes.causerows import CauseRow, rows_for
from rollers.causes.margins import grip_left
from rollers.causes.models import CauseEntry, CauseSheet, Walk
from rollers.causes.queries import newest_entries, walks_naming
from rollers.causes.ranking import web_run
from rollers.causes.rules import WebFacts
from rollers.causes.services.sightings import stream_of
from rollers.causes.standing import roller_here, set_points
from rollers.models import Gauge, Task
from rollers.queries_registry import calibration_at, overdue_at
from rollers.readiness import present_limits
from rollers.services.bodies import record_measurement
from rollers.services.tasks import close_task

CHECKERS = (Role.ENGINEER, Role.MAINTENANCE, Role.QA, Role.OPERATOR)
MOST = 1e6


@transaction.atomic
def open_sheet(
    position: Position, version: ProductVersion, *, by: Person, at: datetime, walk: Walk | None = None
) -> CauseSheet:
    """Begin a sheet for a suspected roller and a product; an open one is gone on with."""
    require_role(by, *CHECKERS, at=at, act="Opening a cause sheet")
    known = CauseSheet.objects.filter(position=position, product_version=version, closed_at=None).first()
    if known is not None:
        return known
    try:
        with transaction.atomic():
            made = CauseSheet.objects.create(position=position, product_version=version, walk=walk, at=at, by=by)
    except IntegrityError:
        return CauseSheet.objects.get(position=position, product_version=version, closed_at=None)
    record(
        stream=stream_of(position.line),
        action="open-cause-sheet",
        subject=made,
        sentence=f"cause sheet of {position.code} for {version.product.code} opened",
        by=by,
        at=at,
        facts={"walk": walk.pk if walk else None},
    )
    return made


def web_facts(sheet: CauseSheet) -> WebFacts:
    """What the limits of this sheet depend on, by the present records."""
    version = sheet.product_version
    web = web_run(version, set_points(sheet))
    here = roller_here(sheet.position, PathStep.objects.filter(position=sheet.position, path__in_use=True).first())
    if here is None:
        return WebFacts(web.strain, 0.0, 0.0, version.product.family)
    _, kept = grip_left(web, here)
    hold = float(capstan_ratio(web.friction * kept, here.wrap)) - 1
    return WebFacts(web.strain, 2 * here.radius, hold, version.product.family)


def worked_out(sheet: CauseSheet) -> dict[str, float]:
    """Values that need no gauge: the air film over the roughness, at the set-points of the walk or product."""
    here = roller_here(sheet.position, PathStep.objects.filter(position=sheet.position, path__in_use=True).first())
    if here is None:
        return {}
    web = web_run(sheet.product_version, set_points(sheet))
    film, _ = grip_left(web, here)
    return {"air": film} if film < MOST else {}


def _row(sheet: CauseSheet, code: str) -> CauseRow:
    found = next((row for row in rows_for(sheet.product_version.product.family) if row.code == code), None)
    if found is None:
        raise Refused("cause", f"{code!r} is no cause on this sheet. Choose one of its rows.", field="cause")
    return found


def _open(sheet: CauseSheet) -> CauseSheet:
    fresh = CauseSheet.objects.select_for_update(of=("self",)).select_related(
        "position__line", "product_version__product", "walk"
    )
    found = fresh.get(pk=sheet.pk)
    if found.closed_at is not None:
        sentence = f"This sheet was closed on {plant_date(found.closed_at)}. Open a new one to measure again."
        raise Conflict("closed", sentence)
    return found


def value_of(row: CauseRow, typed: Typed) -> float:
    """The figure in the row's unit.

    Raises
    ------
    Refused
        For what is no figure, or a unit of something else.
    """
    if row.unit == "K":
        if typed.unit not in ("K", "°C", "°F"):
            raise Refused("unit", "A temperature difference is typed in K, °C or °F.", field="value")
        try:
            number = float(typed.value)
        except ValueError:
            raise Refused("not-a-quantity", f"{typed.value!r} is no figure.", field="value") from None
        number *= 5 / 9 if typed.unit == "°F" else 1
    else:
        try:
            si = units.to_si(typed.value, typed.unit or row.unit, row.quantity)
            number = float(units.from_si(si, row.unit, row.quantity))
        except units.UnitError as trouble:
            raise Refused("not-a-quantity", str(trouble), field="value") from None
    if not abs(number) < MOST:
        raise Refused("not-a-quantity", f"{typed.value!r} is no figure of a line. Type it again.", field="value")
    return number


def _uncertainty(row: CauseRow, gauge: Gauge | None, at: datetime) -> tuple[float | None, str, bool]:
    """Expanded uncertainty in the row's unit where it can be said, its words, and whether the gauge is overdue."""
    if gauge is None:
        return None, "no gauge named", False
    known = calibration_at(gauge, plant_date(at))
    if known is None:
        return None, f"{gauge.code}: no calibration is recorded", True
    overdue = overdue_at(gauge, at)
    words = f"{gauge.code}: ±{known.uncertainty:g} {known.unit} (k = 2), calibration "
    words += f"was due {known.due_on}" if overdue else f"due {known.due_on}"
    try:
        size = float(units.from_si(units.to_si(known.uncertainty, known.unit, row.quantity), row.unit, row.quantity))
    except units.UnitError:
        size = None
    return size, words, overdue


@transaction.atomic
def check_cause(
    sheet: CauseSheet,
    cause: str,
    *,
    value: Typed,
    by: Person,
    at: datetime,
    gauge: Gauge | None = None,
    measured_at: datetime | None = None,
) -> CauseEntry:
    """Fill in a measured value; it is judged by the limits signed now, which are kept with it."""
    require_role(by, *CHECKERS, at=at, act="Filling in a cause sheet")
    sheet = _open(sheet)
    row, measured_at = _row(sheet, cause), measured_at or at
    if measured_at > at:
        raise Refused("future", "A measurement lies in the past or now. Check the time.", field="measured_at")
    number = value_of(row, value)
    size, words, overdue = _uncertainty(row, gauge, measured_at)
    if row.code == "misalignment":  # the same figure serves sizing and release
        record_measurement(
            quantity="misalignment_mm_per_m",
            value=value,
            gauge=gauge,
            position=sheet.position,
            measured_at=measured_at,
            by=by,
            at=at,
        )
    limits = present_limits()
    found = rules.judge(row, number, limits, web_facts(sheet), size)
    return _keep(
        sheet,
        row,
        by,
        at,
        outcome=found.outcome,
        value=number,
        unit=row.unit,
        typed={"value": value.value, "unit": value.unit},
        gauge=gauge,
        gauge_words=words,
        gauge_overdue=overdue,
        measured_at=measured_at,
        limits=found.limits(limits.version),
        sentence=found.sentence + (" The gauge's calibration is overdue." if overdue else ""),
    )


@transaction.atomic
def skip_cause(sheet: CauseSheet, cause: str, *, reason: str, by: Person, at: datetime) -> CauseEntry:
    """Say why a cause was not checked. It stays visible wherever tape for this roller is approved."""
    require_role(by, *CHECKERS, at=at, act="Filling in a cause sheet")
    sheet = _open(sheet)
    row = _row(sheet, cause)
    if len(reason.strip()) < 5:
        sentence = f"{row.title}: say in a few words why it was not checked; whoever approves reads it."
        raise Refused("no-reason", sentence, field="reason")
    said = f"{row.title}: not checked, {reason.strip()}"
    return _keep(sheet, row, by, at, outcome=CauseEntry.Outcome.NOT_CHECKED, reason=reason.strip()[:300], sentence=said)


def _keep(sheet: CauseSheet, row: CauseRow, by: Person, at: datetime, **fields: object) -> CauseEntry:
    made = CauseEntry.objects.create(sheet=sheet, cause=row.code, at=at, by=by, **fields)
    record(
        stream=stream_of(sheet.position.line),
        action="check-cause",
        subject=made,
        sentence=f"{sheet.position.code}: {made.sentence}",
        by=by,
        at=at,
        facts={"value": made.value, "typed": made.typed, "limits": made.limits, "gauge": made.gauge_words},
        reason=made.reason,
    )
    return made


@transaction.atomic
def close_sheet(sheet: CauseSheet, *, by: Person, at: datetime) -> CauseSheet:
    """The engineer closes the sheet: every cause has a value, or a reason why it was not checked."""
    require_role(by, Role.ENGINEER, at=at, act="Closing a cause sheet")
    sheet = _open(sheet)
    entries = newest_entries(sheet)
    left = [row.title for row in rows_for(sheet.product_version.product.family) if row.code not in entries]
    if left:
        sentence = f"{len(left)} causes are still open: {', '.join(left)}. Type a value, or say why it was not checked."
        raise Refused("open-causes", sentence, details=left)
    sheet.closed_at, sheet.closed_by = at, by
    sheet.save(update_fields=["closed_at", "closed_by"])
    by_outcome: dict[str, list[str]] = {}
    for code, entry in entries.items():
        by_outcome.setdefault(entry.outcome, []).append(code)
    said = ", ".join(f"{outcome}: {' '.join(sorted(codes))}" for outcome, codes in sorted(by_outcome.items()))
    record(
        stream=stream_of(sheet.position.line),
        action="close-cause-sheet",
        subject=sheet,
        sentence=f"cause sheet of {sheet.position.code} closed; {said}",
        by=by,
        at=at,
        facts=by_outcome,
    )
    _close_emergencies(sheet, by=by, at=at)
    return sheet


def _close_emergencies(sheet: CauseSheet, *, by: Person, at: datetime) -> None:
    """Tape that was decided as an emergency is followed up by walk and sheet."""
    if not walks_naming(sheet.position).exists():
        return
    open_tasks = Task.objects.filter(position=sheet.position, kind=Task.Kind.CAUSE_SHEET, closed_at=None)
    for task in open_tasks.filter(for_role=Role.ENGINEER):
        close_task(task, outcome=f"Line walked, cause sheet {sheet.pk} closed.", by=by, at=at)
