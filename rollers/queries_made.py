"""What runs made in a time: rolls by number, and the stretches that belong to none. For many runs at once."""

import itertools
from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from datetime import datetime

from plant.floor.models import Run
from rollers.models import Roll, SetPoint
from rollers.rules_holds import Ran, RollTime, Touched, touched

PORTION = 500
SHOWN_ROLLS = 24


def portions(keys: Iterable[int]) -> Iterator[list[int]]:
    """Keys in portions that every database takes."""
    rows = iter(sorted(set(keys)))
    while part := list(itertools.islice(rows, PORTION)):
        yield part


@dataclass(frozen=True)
class Passed:
    """A run whose web passed a roller with the tape, and what of it was made in that time."""

    run: Run
    since: datetime
    until: datetime
    metres: float
    rolls: tuple[Touched, ...]

    @property
    def recorded(self) -> list[Touched]:
        """Rolls that were recorded."""
        return [roll for roll in self.rolls if roll.key is not None]

    @property
    def stretches(self) -> list[Touched]:
        """Parts of the run that belong to no recorded roll."""
        return [roll for roll in self.rolls if roll.key is None]

    @property
    def first(self) -> list[Touched]:
        return self.recorded[:SHOWN_ROLLS]

    @property
    def rest(self) -> list[Touched]:
        return self.recorded[SHOWN_ROLLS:]

    @property
    def words(self) -> str:
        """Every roll by its number, then the stretches without one: thousands of them print in no time as one text."""
        rolls = ", ".join(f"{roll.label} (part)" if roll.part else roll.label for roll in self.recorded)
        bare = ", ".join(f"{roll.label}, no roll recorded: {roll.length_m:.0f} m" for roll in self.stretches)
        return "; ".join(part for part in (rolls, bare) if part)


def rolls_of(runs: Iterable[int]) -> Mapping[int, list[RollTime]]:
    found: dict[int, list[RollTime]] = defaultdict(list)
    for part in portions(runs):
        rows = Roll.objects.filter(run__in=part).order_by("began_at")
        for row in rows:
            found[row.run_id].append(RollTime(row.pk, row.number, row.began_at, row.ended_at, row.length_m))
    return found


def speeds_of(runs: Iterable[int]) -> Mapping[int, list[tuple[datetime, float, float]]]:
    found: dict[int, list[tuple[datetime, float, float]]] = defaultdict(list)
    for part in portions(runs):
        rows = SetPoint.objects.filter(run__in=part, quantity=SetPoint.Quantity.SPEED).order_by("at", "pk")
        for key, when, before, after in rows.values_list("run", "at", "before", "after"):
            found[key].append((when, before, after))
    return found


def ran_of(run: Run, changes: list[tuple[datetime, float, float]], at: datetime) -> Ran:
    """A run as stretches of speed, from what was read for all runs at once."""
    began = run.released_at or at
    first = changes[0][1] if changes else run.speed_m_per_min
    return Ran(began, run.ended_at or at, ((began, first), *((when, after) for when, _, after in changes)))


def passed_by(run: Run, went: Ran, rolls: list[RollTime], since: datetime, until: datetime) -> Passed:
    label = f"{run.product_version.product.code}, run {run.pk}"
    return Passed(
        run,
        max(since, went.began),
        min(until, went.ended),
        went.metres(since, until),
        touched(went, rolls, since, until, unrolled=label),
    )
