"""Pure rules of one taping: what may follow what, what is next, when a look is due, how the line starts again."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from itertools import groupby
from typing import Protocol

from rollers.rules import STRICT, lane_length_mm, lanes

LOCKOUT = (
    ("prepare", "I know which energies this roller has and how each is locked out"),
    ("shut-down", "The line is stopped in the orderly way"),
    ("isolate", "Every energy-isolating device is off"),
    ("lock", "My own lock and tag are on"),
    ("stored", "Stored energy is released or blocked: tension, dancers, air, raised rolls"),
    ("verify", "I tried to start it and nothing moved"),
)
"""The order of 29 CFR 1910.147(d)(1)-(6). The plant's own procedure comes first; the program knows nothing of the
machine's real state."""
ON_ONES_OWN = "lock"  # the step that names the lock

AFTER: Mapping[str, tuple[str, ...]] = {
    "planned": ("locked out", "void"),
    "locked out": ("applied", "void"),
    "applied": ("measured", "removing", "void"),
    "measured": ("checked", "restart", "verified", "removing", "void"),
    "checked": ("restart", "verified", "removing", "void"),
    "restart": ("checked", "verified", "removing", "void"),
    "verified": ("removing", "void"),
    "removing": ("partial", "removed", "void"),
    "partial": ("removed", "void"),
    "removed": (),
    "void": (),
}
"""From each state to those that may follow. Nothing leads back; from *partial* the rest can only come off."""

ON = ("applied", "measured", "checked", "restart", "verified")
"""States in which the whole tape is on."""
WORKED_ON = ("planned", "locked out", "applied", "removing")
"""States in which hands are at the roller, or are about to be."""


def may_follow(before: str, after: str) -> bool:
    """Whether a taping may go from one state to another."""
    return after in AFTER[before]


# --- pieces -----------------------------------------------------------------------------------------------------


class BandLike(Protocol):
    """What the lanes need of a band."""

    end: str
    inner_mm: float
    outer_mm: float
    wraps: int


@dataclass(frozen=True)
class Lane:
    """One piece of tape to be: its number on the roller, its end, its lane from the inside, and its length."""

    number: int
    end: str
    lane: int
    inner_mm: float
    outer_mm: float
    wraps: int
    length_mm: float


def lanes_of(
    bands: Iterable[BandLike], *, tape_width_mm: float, tape_mm: float, diameter_mm: float
) -> tuple[Lane, ...]:
    """Every lane of a recipe, operator end first, from the inside to the outside. One lane is one piece."""
    if tape_width_mm <= 0:
        return ()
    ordered = sorted(bands, key=lambda band: (band.end != "operator", band.inner_mm))
    found: list[Lane] = []
    for end, of_end in groupby(ordered, key=lambda band: band.end):
        place = 0
        for band in of_end:
            length = lane_length_mm(band.wraps, diameter_mm, tape_mm)
            for index in range(lanes(band.inner_mm, band.outer_mm, tape_width_mm)):
                place += 1
                inner = band.inner_mm + index * tape_width_mm
                outer = min(inner + tape_width_mm, band.outer_mm)
                found.append(Lane(len(found) + 1, end, place, inner, outer, band.wraps, length))
    return tuple(found)


# --- restart ----------------------------------------------------------------------------------------------------

RESTART = (("crawl", "crawl"), ("half", "half speed"), ("full", "full speed"))
WORSE = 1  # a step of the grade, common practice of the trade: back off


@dataclass(frozen=True)
class RestartStep:
    """What was seen at one step of the slow restart."""

    key: str
    grade: int
    passed: bool = True


def next_restart_step(done: Sequence[RestartStep]) -> str:
    """The step that comes next; empty when all three are passed."""
    passed = {step.key for step in done if step.passed}
    return next((key for key, _ in RESTART if key not in passed), "")


def fastest_m_per_min(key: str, set_speed: float, controls: Mapping[str, float]) -> float:
    """The speed that a step of the restart may not exceed."""
    crawl = min(controls["crawl_m_per_min"], set_speed)
    return {"crawl": crawl, "half": max(crawl, set_speed / 2), "full": set_speed}[key]


def shortest_minutes(key: str, controls: Mapping[str, float]) -> float:
    """How long a step of the restart takes at least."""
    return controls[f"{key}_minutes"]


def is_worse(grade: int, before: int | None, done: Sequence[RestartStep]) -> bool:
    """Whether a grade is worse by one or more than before the taping, or than at a step before that was passed."""
    known = [step.grade for step in done if step.passed] + ([before] if before is not None else [])
    return bool(known) and grade >= min(known) + WORSE


def after_check(state: str, *, all_passed: bool) -> str:
    """The state of a taping after the second person looked."""
    return "verified" if all_passed else "checked"


def after_restart(state: str, *, begun: bool, all_passed: bool, checked: bool) -> str:
    """The state after a step of the restart. None is reached twice: who was in *restart* before does not go back."""
    if all_passed and checked:
        return "verified"
    return "restart" if state in ("measured", "checked") and not begun else state


# --- looks ------------------------------------------------------------------------------------------------------

RESULTS = (("ok", "Fine"), ("watch", "Watch it"), ("fail", "Not fit to run"))
DEFECTS = (
    ("lifted", "An edge or end is lifted"),
    ("tail", "The tail is loose or leads"),
    ("ooze", "Adhesive oozes out"),
    ("dirt", "Dirt or dust sticks to it"),
    ("shredding", "It frays or sheds"),
    ("moved", "It moved from its place"),
)


@dataclass(frozen=True)
class Look:
    """When tape is to be looked at next, and what a missed look means."""

    due: datetime
    late: datetime  # no grace is left from here on

    def word(self, at: datetime) -> str:
        """later, due, or overdue."""
        if at < self.due:
            return "later"
        return "overdue" if at >= self.late else "due"


def _by_shift(last: datetime, interval: timedelta, begins: datetime, ends: datetime) -> datetime:
    """The end of the shift after the one in which the last look was; a whole shift without a look is overdue."""
    if last >= begins:
        return max(ends, last + interval)
    return ends if last >= begins - interval else begins


def look_due(
    last: datetime,
    *,
    room_kind: str,
    controls: Mapping[str, float],
    result: str = "",
    released_at: datetime | None = None,
    shift: tuple[datetime, datetime] | None = None,
) -> Look:
    """When the next look is due: after the first minutes of a run, then by interval and room class.

    Food and medical rooms look once a shift, by its end, and have no grace. *Watch* halves the interval. `shift` is
    the present one, where shifts are planned.
    """
    strict = room_kind in STRICT
    hours = controls["look_shifts_strict"] * 8 if strict else controls["look_days_general"] * 24
    interval = timedelta(hours=hours) / (2 if result == "watch" else 1)
    due = last + interval
    if strict:
        due = due if shift is None or result == "watch" else _by_shift(last, interval, *shift)
        return Look(due, due)
    grace = min(interval * controls["look_grace_pct"] / 100, timedelta(hours=controls["look_grace_hours"]))
    late = due + grace
    if released_at is not None and released_at > last:
        # The first look after a release asks early; it stops nothing before its grace is over.
        first = released_at + timedelta(minutes=controls["first_look_minutes"])
        due = min(due, first)
    return Look(due, late)
