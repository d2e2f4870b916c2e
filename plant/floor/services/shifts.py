"""Shift patterns, the shifts planned from them, and who works when."""

from collections.abc import Iterable, Sequence
from datetime import date, datetime, time, timedelta

from django.db import transaction

from plant.audit.services import record
from plant.errors import Refused
from plant.floor import rules
from plant.floor.models import Shift, ShiftPattern
from plant.floor.queries import plant_zone, the_plant
from plant.people.access import require_role
from plant.people.models import Person, Role

STREAM = "shifts"
MOST_DAYS = 400


@transaction.atomic
def set_shift_patterns(patterns: Sequence[tuple[str, time, time]], *, by: Person, at: datetime) -> list[ShiftPattern]:
    """Say which shifts a day has, in plant time. What is planned already stays until it is planned anew."""
    require_role(by, Role.SUPERVISOR, Role.KEEPER, at=at, act="Setting the shifts of a day")
    plant = the_plant()
    tidy = [(rules.checked_name(name, what="shift", most=20), starts, ends) for name, starts, ends in patterns]
    if not tidy:
        raise Refused("empty", "A plant has at least one shift. Type its name, start and end.", field="name")
    rules.refuse_overlapping_patterns(tidy)
    before = [[p.name, f"{p.starts:%H:%M}", f"{p.ends:%H:%M}"] for p in ShiftPattern.objects.all()]
    ShiftPattern.objects.all().delete()
    made = ShiftPattern.objects.bulk_create(
        ShiftPattern(name=name, starts=starts, ends=ends) for name, starts, ends in tidy
    )
    after = [[name, f"{starts:%H:%M}", f"{ends:%H:%M}"] for name, starts, ends in tidy]
    record(
        stream=STREAM,
        action="set-shift-patterns",
        subject=plant,
        sentence="shifts of a day: " + ", ".join(f"{name} {starts} to {ends}" for name, starts, ends in after),
        by=by,
        at=at,
        facts={"before": before, "after": after},
    )
    return made


@transaction.atomic
def plan_shifts(first: date, last: date, *, by: Person, at: datetime) -> list[Shift]:
    """Make the shifts of these dates from the patterns.

    A shift that has begun stays as it is; one still to come gets the times of its pattern and keeps its crew; one
    still to come whose pattern is gone is taken out.
    """
    require_role(by, Role.SUPERVISOR, Role.KEEPER, at=at, act="Planning shifts")
    plant, zone = the_plant(), plant_zone()
    if not timedelta(0) <= last - first < timedelta(days=MOST_DAYS):
        sentence = f"Plan from a first to a later or same last day, at most {MOST_DAYS} days."
        raise Refused("dates", sentence, field="last")
    patterns = list(ShiftPattern.objects.all())
    if not patterns:
        raise Refused("no-pattern", "Say first which shifts a day has (name, start, end).", field="first")
    wanted = {
        (day, pattern.name): rules.shift_on(day, pattern.name, pattern.starts, pattern.ends, zone)
        for day in (first + timedelta(days=n) for n in range((last - first).days + 1))
        for pattern in patterns
    }
    there = {(s.date, s.name): s for s in Shift.objects.select_for_update().filter(date__range=(first, last))}
    gone = [shift for key, shift in there.items() if key not in wanted and shift.starts_at > at]
    for shift in gone:
        shift.delete()
    for key, stretch in wanted.items():
        shift = there.get(key) or Shift(date=stretch.date, name=stretch.name, starts_at=stretch.starts_at)
        if shift.pk is None or shift.starts_at > at:
            shift.starts_at, shift.ends_at = stretch.starts_at, stretch.ends_at
            shift.save()
    planned = list(Shift.objects.filter(date__range=(first, last)))
    _refuse_overlap(first, last)
    record(
        stream=STREAM,
        action="plan-shifts",
        subject=plant,
        sentence=f"{len(planned)} shifts stand from {first} to {last}",
        by=by,
        at=at,
        facts={"patterns": [p.name for p in patterns], "taken_out": [str(shift) for shift in gone]},
    )
    return planned


def _refuse_overlap(first: date, last: date) -> None:
    around = Shift.objects.filter(date__range=(first - timedelta(days=1), last + timedelta(days=1)))
    before: Shift | None = None
    for shift in around.order_by("starts_at"):
        if before is not None and shift.starts_at < before.ends_at:
            sentence = f"{before} and {shift} would overlap. Plan from the day after, or change the shift times."
            raise Refused("shifts-overlap", sentence, field="first")
        before = shift


@transaction.atomic
def set_crew(shift: Shift, people: Iterable[Person], *, by: Person, at: datetime) -> Shift:
    """Say who works a shift."""
    require_role(by, Role.SUPERVISOR, Role.KEEPER, at=at, act="Setting the crew of a shift")
    shift = Shift.objects.select_for_update().get(pk=shift.pk)
    crew = sorted(people, key=lambda person: person.staff_no)
    for person in crew:
        if not person.active_at(shift.starts_at):
            sentence = f"{person.name} does not belong to the plant when {shift} starts. Choose somebody else."
            raise Refused("not-active", sentence, field="crew")
    before = sorted(shift.crew.values_list("staff_no", flat=True))
    shift.crew.set(crew)
    record(
        stream=STREAM,
        action="set-crew",
        subject=shift,
        sentence=f"{shift}: {', '.join(person.name for person in crew) or 'nobody'}",
        by=by,
        at=at,
        facts={"before": before, "after": [person.staff_no for person in crew]},
    )
    return shift
