"""How much web ran in a time, and which rolls that touches. Pure."""

import itertools
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime


@dataclass(frozen=True)
class Ran:
    """A run while it was released: from when to when, and its speeds (m/min), each from a moment on."""

    began: datetime
    ended: datetime
    speeds: tuple[tuple[datetime, float], ...]

    def metres(self, since: datetime, until: datetime) -> float:
        """Web that ran between two moments. The set-point counts: the program reads no machine."""
        since, until = max(since, self.began), min(until, self.ended)
        total = 0.0
        steps = [*self.speeds, (self.ended, 0.0)]
        for (start, speed), (following, _) in itertools.pairwise(steps):
            seconds = (min(until, following) - max(since, start)).total_seconds()
            total += max(0.0, seconds) / 60 * speed
        return total


@dataclass(frozen=True)
class RollTime:
    """A recorded roll: when it was made."""

    key: int
    number: str
    began: datetime
    ended: datetime
    length_m: float


@dataclass(frozen=True)
class Touched:
    """A roll, or a stretch between recorded rolls, of which some part ran in the time. `key` is of a recorded roll."""

    label: str
    length_m: float
    part: bool
    key: int | None = None


def touched(
    run: Ran, rolls: Iterable[RollTime], since: datetime, until: datetime, *, unrolled: str
) -> tuple[Touched, ...]:
    """Every roll any part of which ran between two moments, and the stretches that belong to no recorded roll.

    A roll counts whole, also where only its end ran in the time: the piece may lie anywhere in it. `unrolled` names the
    run for stretches without a roll, for example the roll that is still on the winder.
    """
    since, until = max(since, run.began), min(until, run.ended)
    if since > until:
        return ()
    hit = sorted((roll for roll in rolls if roll.began < until and roll.ended > since), key=lambda roll: roll.began)
    found = [Touched(roll.number, roll.length_m, roll.began < since or roll.ended > until, roll.key) for roll in hit]
    for number, (start, end) in enumerate(_gaps(hit, since, until), 1):
        length = run.metres(start, end)
        if length > 0:
            found.append(Touched(f"{unrolled}, part {number}", length, True))
    return tuple(found)


def _gaps(rolls: Sequence[RollTime], since: datetime, until: datetime) -> list[tuple[datetime, datetime]]:
    gaps, reached = [], since
    for roll in rolls:
        if roll.began > reached:
            gaps.append((reached, roll.began))
        reached = max(reached, roll.ended)
    if reached < until:
        gaps.append((reached, until))
    return gaps
