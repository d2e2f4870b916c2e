"""Reporting what the web shows, and that somebody looked and saw nothing."""

from datetime import datetime, timedelta
from uuid import UUID

from django.core.files.uploadedfile import UploadedFile
from django.db import IntegrityError, transaction

from plant.audit.services import keep_photo, record
from plant.errors import Conflict, Refused
from plant.floor.models import Line, Position, ProductVersion, Run
from plant.floor.rules import refuse_out_of_bounds, refuse_sides
from plant.people.models import Person
from plant.people.queries import roles_of
from plant.web.quantities import Figure, taken
from rollers.causes.models import Sighting
from rollers.causes.models.sighting import Direction, Grade, Lane

AHEAD = timedelta(minutes=2)  # a device clock may be off by so much (default, no source)
BOUNDS = {"from_operator_mm": (0.0, 10_000.0), "speed_m_per_min": (0.0, 3000.0), "tension_n_per_m": (0.0, 3000.0)}
FIGURES = tuple(BOUNDS)


def stream_of(line: Line) -> str:
    """The stream in which what is seen of a line stays in order."""
    return f"line:{line.code}"


def require_active(by: Person, at: datetime, act: str) -> None:
    """Everybody who belongs to the plant or its guests at the moment may report.

    Raises
    ------
    Refused
        For who left or holds no role.
    """
    if not roles_of(by, at):
        raise Refused("not-active", f"{act} takes a person who is active here. Ask the system keeper for a role.")


def refuse_future(at: datetime, recorded_at: datetime) -> None:
    """What was seen lies in the past.

    Raises
    ------
    Refused
        For a time more than two minutes ahead.
    """
    if at > recorded_at + AHEAD:
        sentence = f"The time {at:%Y-%m-%d %H:%M} UTC has not come yet. Check the clock of this device."
        raise Refused("future", sentence, field="at")


def run_at(line: Line, at: datetime) -> Run | None:
    """The run that was released on a line at a moment."""
    runs = Run.objects.select_related("product_version__product").filter(line=line, released_at__lte=at)
    return runs.exclude(ended_at__lte=at).order_by("-released_at").first()


def _refuse_places(line: Line, after: Position | None, before: Position | None, grade: int) -> None:
    if grade and before is None:
        raise Refused("no-place", "Say before which roller you saw it; tap the span in the drawing.", field="before")
    for place, field in ((after, "after"), (before, "before")):
        if place is not None and place.line_id != line.pk:
            sentence = f"{place.code} is not on line {line.code}. Choose a roller of this line."
            raise Refused("other-line", sentence, field=field)
    if after is not None and before is not None and after.pk == before.pk:
        raise Refused("same-roller", "A span lies between two rollers. Choose two.", field="after")


def _chosen(value: str, choices: type, field: str, what: str) -> str:
    if value and value not in choices.values:  # type: ignore[attr-defined]
        raise Refused("choice", f"{value!r} is no {what}. Choose one of those shown.", field=field)
    return value


@transaction.atomic
def report_sighting(
    line: Line,
    *,
    key: UUID,
    grade: int,
    by: Person,
    at: datetime,
    recorded_at: datetime | None = None,
    after: Position | None = None,
    before: Position | None = None,
    lane: str = "",
    direction: str = "",
    from_operator_mm: Figure = None,
    speed_m_per_min: Figure = None,
    tension_n_per_m: Figure = None,
    product_version: ProductVersion | None = None,
    roll: str = "",
    note: str = "",
    photo: UploadedFile | None = None,
    corrects: Sighting | None = None,
    reason: str = "",
) -> Sighting:
    """Keep one look at the web. Grade 0 is *looked, none*, and counts as much.

    The same `key` is the same look: the first is kept and given back. Product and set-points are those of the run,
    where they are not typed.
    """
    recorded_at = recorded_at or at
    known = Sighting.objects.filter(key=key).first()
    if known is not None:
        return known
    require_active(by, recorded_at, "Reporting what the web shows")
    refuse_future(at, recorded_at)
    if grade not in Grade.values:
        raise Refused("grade", "Choose one of the five grades, 0 for flat.", field="grade")
    _refuse_places(line, after, before, grade)
    refuse_sides(note, field="note")
    if corrects is not None:
        _refuse_correction(corrects, line, reason)
    run = run_at(line, at)
    numbers, typed = taken(
        {
            "from_operator_mm": from_operator_mm,
            "speed_m_per_min": speed_m_per_min if speed_m_per_min is not None else run and run.speed_m_per_min,
            "tension_n_per_m": tension_n_per_m if tension_n_per_m is not None else run and run.tension_n_per_m,
        },
        FIGURES,
    )
    refuse_out_of_bounds(numbers, BOUNDS)
    attached = keep_photo(photo, by=by, at=recorded_at, purpose=f"wrinkle on line {line.code}") if photo else None
    fields = {
        "line": line,
        "after": after,
        "before": before,
        "grade": grade,
        "lane": _chosen(lane, Lane, "lane", "place across the web") if grade else "",
        "direction": _chosen(direction, Direction, "direction", "direction") if grade else "",
        **numbers,
        "typed": typed,
        "product_version": product_version or (run.product_version if run else None),
        "run": run,
        "roll": roll.strip()[:40],
        "note": note.strip()[:300],
        "photo": attached,
        "corrects": corrects,
        "reason": reason.strip()[:300],
        "at": at,
        "recorded_at": recorded_at,
        "by": by,
    }
    try:
        with transaction.atomic():
            made = Sighting.objects.create(key=key, **fields)
    except IntegrityError:  # of one look sent twice at once, the second
        twin = Sighting.objects.filter(key=key).first()
        if twin is None:
            raise Conflict("corrected", "This sighting was corrected meanwhile. Look at the newer one.") from None
        return twin
    record(
        stream=stream_of(line),
        action="report-sighting",
        subject=made,
        sentence=f"line {line.code}: {words_of(made)}",
        by=by,
        at=recorded_at,
        facts={"key": str(key), "at": at, "typed": typed, "grade": grade},
        reason=made.reason,
    )
    return made


def _refuse_correction(corrects: Sighting, line: Line, reason: str) -> None:
    if corrects.line_id != line.pk:
        raise Refused("other-line", "A correction stays on the line of what it corrects.", field="line")
    if Sighting.objects.filter(corrects=corrects).exists():
        raise Conflict("corrected", "This sighting was corrected already. Correct the newer one.")
    if len(reason.strip()) < 5:
        raise Refused("no-reason", "Say why the sighting is corrected, in a few words.", field="reason")


def words_of(row: Sighting) -> str:
    """A sighting in one sentence."""
    if row.grade == 0:
        where = f" before {row.before.code}" if row.before else ""
        return f"looked{where}, none"
    span = f"{row.after.code} to {row.before.code}" if row.after and row.before else f"before {row.before}"
    parts = [f"grade {row.grade} ({row.get_grade_display()}), {span}"]
    parts += [str(row.get_lane_display()).lower()] if row.lane else []
    parts += [str(row.get_direction_display())] if row.direction else []
    return ", ".join(parts)
