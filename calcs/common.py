"""Several products over one taped roller: what each takes, what all take, and why there may be nothing.

Wraps are first treated as a number that need not be whole (a step of any height), so that a product's room is an
interval; only then the whole numbers in it are looked at.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any

from calcs import VERSION
from calcs.case import Case, CaseError, Interval
from calcs.limits import DEFAULT, Limits
from calcs.readings import CANNOT_TELL, CAUTION, FITS, ORDER, REFUSED, judge
from calcs.sizing import Suggestion, covered_share, most_wraps, suggest, with_wraps
from calcs.units import MM
from calcs.verdict import STANDING
from calcs.window import TARGET_HALF

_HALVINGS = 18
_WORDS = (FITS, CAUTION, CANNOT_TELL)


@dataclass(frozen=True, slots=True)
class Room:
    """What one product takes, in wraps that need not be whole.

    Attributes
    ----------
    name : str
    touched : bool
        False where the web runs inside the tape: any number does nothing.
    wanted : tuple of float or None
        Wraps that bring the edge ratio into the target field at nominal values, whatever the limits say; None when
        untouched.
    highest_fits, highest_caution, highest : float
        Most wraps that still fit, that are still at most a caution, and that are not refused, over all corners.
    feasible : tuple of float or None
        ``wanted`` as far as it is not refused; None when nothing of it is left (the product wants bare).
    because : str
        The check that ends ``highest``; empty when the most wraps of the limits pass.
    """

    name: str
    touched: bool
    wanted: tuple[float, float] | None
    highest_fits: float
    highest_caution: float
    highest: float
    feasible: tuple[float, float] | None
    because: str

    def as_dict(self) -> dict[str, Any]:
        """Plain form."""
        return {name: _listed(getattr(self, name)) for name in self.__dataclass_fields__}


@dataclass(frozen=True, slots=True)
class Common:
    """The answer for one roller. ``best`` is the suggested whole number (0: bare)."""

    rooms: tuple[Room, ...]
    interval: tuple[float, float] | None
    not_refused: tuple[int, ...]
    on_target: tuple[int, ...]
    best: int
    sentences: tuple[str, ...]
    suggestion: Suggestion
    limits_version: str

    @property
    def verdict(self) -> str:
        """Overall word of the best number over all products."""
        return self.suggestion.verdict

    def as_dict(self) -> dict[str, Any]:
        """Plain form for JSON."""
        return {
            "products": [room.as_dict() for room in self.rooms],
            "common_interval": _listed(self.interval),
            "wraps_not_refused": list(self.not_refused),
            "wraps_on_target": list(self.on_target),
            "best_wraps": self.best,
            "verdict": self.verdict,
            "sentences": list(self.sentences),
            "outcomes": self.suggestion.as_dict()["outcomes"],
            "standing": STANDING,
            "version": VERSION,
            "limits_version": self.limits_version,
        }


def _listed(value: Any) -> Any:
    return list(value) if isinstance(value, tuple) else value


def common_wraps(cases: Sequence[Case], limits: Limits = DEFAULT, *, names: Sequence[str] | None = None) -> Common:
    """Wraps that several products of one roller can share.

    Parameters
    ----------
    cases
        One per product; same roller, tape and band places. The wraps of the bands do not matter.
    limits
        The plant's limits.
    names
        Names of the products for the sentences.

    Returns
    -------
    Common
        ``interval`` is what all touched products find feasible; ``not_refused`` the whole numbers of wraps that no
        product refuses, ``on_target`` those of them inside the interval; ``best`` is what
        :func:`calcs.sizing.suggest` proposes.

    Raises
    ------
    CaseError
        Products of different rollers, no tape or no band places.
    """
    group = list(cases)
    called = list(names or [f"product {number + 1}" for number in range(len(group))])
    if len(called) != len(group):
        raise CaseError("names", "names must have one entry for each product.")
    suggestion = suggest(group, limits)
    rooms = _rooms(group, called, limits)
    touched = [room for room in rooms if room.touched]
    interval = _shared([room.feasible for room in touched])
    allowed = tuple(row.wraps for row in suggestion.outcomes if row.wraps and row.verdict != REFUSED)
    on_target = tuple(n for n in allowed if interval and interval[0] - 1e-9 <= n <= interval[1] + 1e-9)
    layer = group[0].tape.thickness.nominal if group[0].tape else 0.0
    said = _sentences(rooms, interval, allowed, on_target, suggestion, layer)
    return Common(rooms, interval, allowed, on_target, suggestion.wraps, said, suggestion, limits.version)


def _shared(rooms: Sequence[tuple[float, float] | None]) -> tuple[float, float] | None:
    known = [room for room in rooms if room is not None]
    if not known or len(known) < len(rooms):
        return None
    low, high = max(room[0] for room in known), min(room[1] for room in known)
    return (low, high) if low <= high else None


def _scaled(case: Case, wraps: float) -> Case:
    """One wrap of a tape ``wraps`` times as thick: the same step as that many wraps."""
    one = with_wraps(case, 1)
    if one.tape is None or wraps == 0:
        return with_wraps(case, 0)
    thick = one.tape.thickness
    grown = Interval(thick.low * wraps, thick.nominal * wraps, thick.high * wraps)
    return replace(one, tape=replace(one.tape, thickness=grown))


def _rooms(cases: Sequence[Case], names: Sequence[str], limits: Limits) -> tuple[Room, ...]:
    """Rooms of all products, halving the bracket of every product and word together."""
    most = float(most_wraps(limits))
    wanted_words = [(number, word) for number in range(len(cases)) for word in _WORDS]
    low = dict.fromkeys(wanted_words, 0.0)
    high = dict.fromkeys(wanted_words, most)
    tried = judge([_scaled(case, most) for case in cases], limits).overall
    for number, word in wanted_words:
        if ORDER.index(tried[number]) <= ORDER.index(word):
            low[number, word] = most
    open_ones = [key for key in wanted_words if low[key] < most]
    for _ in range(_HALVINGS if open_ones else 0):
        middle = {key: (low[key] + high[key]) / 2 for key in open_ones}
        words = judge([_scaled(cases[key[0]], middle[key]) for key in open_ones], limits).overall
        for key, word in zip(open_ones, words, strict=True):
            (low if ORDER.index(word) <= ORDER.index(key[1]) else high)[key] = middle[key]
    reasons = _reasons(cases, [high[number, CANNOT_TELL] for number in range(len(cases))], limits)
    return tuple(
        _room(case, name, [_settled(low[number, word]) for word in _WORDS], reasons[number], limits)
        for number, (case, name) in enumerate(zip(cases, names, strict=True))
    )


def _settled(wraps: float) -> float:
    """A bracket that closed on nought is nought."""
    return 0.0 if wraps < 1e-4 else wraps


def _reasons(cases: Sequence[Case], wraps: Sequence[float], limits: Limits) -> list[str]:
    judged = judge([_scaled(case, count) for case, count in zip(cases, wraps, strict=True)], limits)
    found = []
    for number in range(len(cases)):
        refusing = [reading.limit.title for reading in judged.readings(number) if reading.word == REFUSED]
        found.append(refusing[0] if refusing else "")
    return found


def _room(case: Case, name: str, highest: Sequence[float], because: str, limits: Limits) -> Room:
    target = limits["edge_ratio"].target
    share = covered_share(case)
    fits, caution, most = highest
    counted = limits["wraps"].caution  # a scaled layer is one wrap, so the count itself is looked at here
    fits = fits if counted is None else min(fits, counted)
    if not share or share >= 1 - 1e-9 or target is None or case.tape is None:
        return Room(name, False, None, fits, caution, most, None, because)
    mean = case.state.tension.nominal / (case.web.modulus_md.nominal * case.web.thickness.nominal)
    per_ratio = mean * case.roller.diameter.nominal / 2 / ((1 - share) * case.tape.thickness.nominal)
    wanted = ((target - TARGET_HALF - 1) * per_ratio, (target + TARGET_HALF - 1) * per_ratio)
    feasible = (wanted[0], min(wanted[1], most)) if wanted[0] <= most else None
    return Room(name, True, wanted, fits, caution, most, feasible, because)


def _sentences(
    rooms: Sequence[Room],
    interval: tuple[float, float] | None,
    allowed: Sequence[int],
    on_target: Sequence[int],
    suggestion: Suggestion,
    layer: float,
) -> tuple[str, ...]:
    touched = [room for room in rooms if room.touched]
    said = [f"{room.name} is not touched by this tape." for room in rooms if not room.touched]
    if not touched:
        return (*said, "No product runs on this tape: the roller may as well be bare.")
    if not allowed:
        least = min(touched, key=lambda room: room.highest)
        said.append(
            f"No whole number of wraps serves all: {least.name} takes at most {least.highest:.2f} wraps "
            f"({least.because.lower()}), so one is already refused. Take the tape off before {least.name}, or use "
            "thinner tape or a larger roller."
        )
    elif interval is None:
        said.append(_why_apart(touched))
    elif not on_target:
        said.append(
            f"All could share {interval[0]:.2f} to {interval[1]:.2f} wraps, but no whole number lies there; one "
            f"wrap of {interval[0] * layer / MM:.3f} to {interval[1] * layer / MM:.3f} mm would do."
        )
    else:
        shown = " or ".join(str(count) for count in on_target)
        said.append(f"{shown} {'wrap suits' if on_target == (1,) else 'wraps suit'} all products.")
    best = "bare" if suggestion.bare else f"{suggestion.wraps} {'wrap' if suggestion.wraps == 1 else 'wraps'}"
    said.append(f"Best for all: {best}, {suggestion.verdict}. {suggestion.why}")
    return tuple(said)


def _why_apart(touched: Sequence[Room]) -> str:
    """Which two products cannot share, and what would help."""
    bare = [room for room in touched if room.feasible is None]
    if bare:
        names = " and ".join(room.name for room in bare)
        first = bare[0]
        least = math.inf if first.wanted is None else first.wanted[0]
        return (
            f"{names} should run bare: an edge ratio on target needs {least:.2f} wraps, more than the "
            f"{first.highest:.2f} that are not refused ({first.because.lower()})."
        )
    wants = max(touched, key=lambda room: room.feasible[0] if room.feasible else -math.inf)
    takes = min(touched, key=lambda room: room.feasible[1] if room.feasible else math.inf)
    low = wants.feasible[0] if wants.feasible else math.nan
    high = takes.feasible[1] if takes.feasible else math.nan
    return (
        f"No number of wraps puts all on target: {wants.name} wants at least {low:.2f}, {takes.name} at most "
        f"{high:.2f}. Re-tape between them, run them on different rollers, or accept the best compromise below."
    )
