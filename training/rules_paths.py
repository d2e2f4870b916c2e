"""Pure rules of the way to a certificate: what a skill asks for, by how long ago the last certificate ended."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date, timedelta
from enum import StrEnum

from training.rules_due import Tier

# What was shown longer ago than this is shown again (our own default; a year-old test proves little).
FRESH = timedelta(days=183)


class Part(StrEnum):
    """A part of the way."""

    MODULES = "modules"
    CLASS = "class"
    PRACTICE = "practice"
    TEST = "test"
    PRACTICAL = "practical"
    JOINT = "joint-marking"
    NEEDS = "needs"


# What a renewal takes; the first time it is everything.
BY_TIER: Mapping[Tier, frozenset[Part]] = {
    Tier.IN_TIME: frozenset({Part.MODULES, Part.TEST, Part.JOINT, Part.NEEDS}),
    Tier.LATE: frozenset({Part.MODULES, Part.TEST, Part.PRACTICAL, Part.JOINT, Part.NEEDS}),
    Tier.LAPSED_LONG: frozenset(Part),
}
FULL = frozenset(Part)


@dataclass(frozen=True)
class Demand:
    """One thing that a certificate stands on: how much is asked, how much is there, and which rows prove it."""

    part: Part
    what: str
    asked: int
    have: int
    unit: str = ""
    keys: tuple[int, ...] = ()
    done_on: date | None = None
    next_step: str = ""
    kind: str = ""

    @property
    def done(self) -> bool:
        """Whether there is enough."""
        return self.have >= self.asked


@dataclass(frozen=True)
class Way:
    """All that a certificate asks for, in the order in which it is done."""

    tier: Tier | None
    demands: Sequence[Demand] = field(default_factory=tuple)

    @property
    def missing(self) -> list[Demand]:
        """What is not there yet."""
        return [demand for demand in self.demands if not demand.done]

    @property
    def complete(self) -> bool:
        """Whether the certificate can be issued."""
        return bool(self.demands) and not self.missing

    @property
    def next(self) -> Demand | None:
        """What comes next."""
        return next(iter(self.missing), None)

    @property
    def completed_on(self) -> date | None:
        """The day on which the last thing was done."""
        return max((demand.done_on for demand in self.demands if demand.done_on), default=None)


def parts_for(tier: Tier | None) -> frozenset[Part]:
    """What is asked: all of it the first time, less for a renewal in time."""
    return FULL if tier is None else BY_TIER[tier]


def keep_asked(demands: Sequence[Demand], tier: Tier | None) -> list[Demand]:
    """The demands that this tier asks for; one that asks for nothing is left out."""
    wanted = parts_for(tier)
    return [demand for demand in demands if demand.part in wanted and demand.asked > 0]
