"""Which roller starts the wrinkle: what a walk along the line says, and how sure it can be.

A walk is a list of looks at rollers in path order. Somebody who looks can miss a trough, see one where there is none,
or take a trough for a crease; with these rates stated, the chance of every roller to be the first follows by Bayes'
rule. A wrinkle begins at one roller with the span that enters it and stays on all rollers after it, first as a trough
or at once as a crease; a trough may turn into a crease at any later roller, a crease does not go back. Or it comes with
the parent roll and is there from the first roller on; or there is none.

The rates are our defaults, no source: a plant that repeats some walks with two people can put its own in their place.
How the mechanics rank the rollers can go in as the prior; without it every roller is as likely as the next.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, fields

import numpy as np
from numpy.typing import NDArray

from calcs.case import CaseError

CLEAN, TROUGH, CREASE = "clean", "trough", "crease"
NOT_LOOKED = "not looked"
SEEN = (CLEAN, TROUGH, CREASE)
ROLLER, PARENT, NONE = "roller", "parent roll", "none"
"""What a walk can name: one roller, the parent roll, or no wrinkle at all."""
_SURE = 0.95
_Array = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Look:
    """One look at one roller.

    ``seen`` is clean, trough, crease or not looked. The answers are None where the question was not asked. One roller
    may be looked at several times; each look counts.
    """

    position: str
    seen: str
    moves_with_parent: bool | None = None
    changes_with_tension: bool | None = None
    changes_with_speed: bool | None = None


@dataclass(frozen=True, slots=True)
class Rates:
    """How often a look is wrong, and how wrinkles grow along a line (all our defaults, no source).

    ``false_alarm``: something seen on a clean roller; ``miss_trough``, ``miss_crease``: clean seen instead;
    ``confusion``: one taken for the other; ``answer_error``: wrong answer about the parent roll. ``begins_as_crease``
    and ``turns``: chance that the first roller shows a crease at once, and that a trough turns into a crease at the
    next roller. ``parent`` and ``none``: chance before the walk that it comes with the parent roll, or is not there.
    """

    false_alarm: float = 0.05
    miss_trough: float = 0.15
    miss_crease: float = 0.05
    confusion: float = 0.15
    answer_error: float = 0.15
    begins_as_crease: float = 0.4
    turns: float = 0.3
    parent: float = 0.10
    none: float = 0.05


DEFAULT_RATES = Rates()


@dataclass(frozen=True, slots=True)
class NextLook:
    """A roller to look at again, with the bits of information another look is expected to bring."""

    position: str
    bits: float


@dataclass(frozen=True, slots=True)
class Walk:
    """What a walk says.

    ``chances`` are those of the rollers in path order to be the first, ``parent`` and ``none`` the rest; all add up to
    1. ``kind`` is what is named (roller, parent roll, none), ``named`` the position if it is a roller, ``sureness`` its
    chance. ``enters_from`` is the roller before the named one: the span between them is under suspicion as well.
    """

    positions: tuple[str, ...]
    chances: tuple[float, ...]
    parent: float
    none: float
    kind: str
    named: str | None
    enters_from: str | None
    sureness: float
    contradictions: tuple[str, ...]
    next_looks: tuple[NextLook, ...]
    hints: tuple[str, ...]
    sentence: str

    def candidates(self, level: float = _SURE) -> tuple[str, ...]:
        """Fewest of rollers, parent roll and none that hold the level together, likeliest first."""
        names = [*self.positions, PARENT, NONE]
        chances = [*self.chances, self.parent, self.none]
        order = sorted(range(len(names)), key=lambda place: (-chances[place], place))
        held, total = [], 0.0
        for place in order:
            held.append(names[place])
            total += chances[place]
            if total >= level - 1e-12:
                break
        return tuple(held)


def _checked(positions: Sequence[str], looks: Sequence[Look], rates: Rates, weights: Sequence[float] | None) -> None:
    if not positions:
        raise CaseError("positions", "positions is empty; name the rollers in path order.")
    if len(set(positions)) != len(positions):
        raise CaseError("positions", "positions names a roller twice; give each roller of the path once.")
    for look in looks:
        if look.position not in positions:
            raise CaseError("looks", f"looks names {look.position}, which is not in the path; correct the roller.")
        if look.seen not in (*SEEN, NOT_LOOKED):
            raise CaseError("looks", f"looks: {look.position} is '{look.seen}'; say {', '.join(SEEN)} or {NOT_LOOKED}.")
    for field in fields(rates):
        value = getattr(rates, field.name)
        top = 1.0 if field.name in ("begins_as_crease", "turns") else 0.5
        if not 0 < value < top:
            raise CaseError(field.name, f"{field.name} is {value}; give a share above 0 and below {top:g}.")
    if weights is not None and (
        len(weights) != len(positions) or not all(math.isfinite(weight) and weight > 0 for weight in weights)
    ):
        raise CaseError("prior", "prior needs one weight above 0 for every roller of the path.")


def look_chances(rates: Rates) -> _Array:
    """Chance of each look (columns clean, trough, crease) for each truth (rows clean, trough, crease)."""
    alarm, swap = rates.false_alarm, rates.confusion
    trough, crease = 1 - rates.miss_trough, 1 - rates.miss_crease
    return np.array(
        [
            [1 - alarm, alarm * (1 - swap), alarm * swap],
            [rates.miss_trough, trough * (1 - swap), trough * swap],
            [rates.miss_crease, crease * swap, crease * (1 - swap)],
        ]
    )


def _paths(positions: Sequence[str], looks: Sequence[Look], rates: Rates, prior: _Array) -> _Array:
    """Chance of every (what starts it, roller from which it is a crease): rollers, parent roll, none by n + 1."""
    count = len(positions)
    place = {name: at for at, name in enumerate(positions)}
    table = np.log(look_chances(rates))
    seen = np.zeros((count, 3))
    for look in looks:
        if look.seen != NOT_LOOKED:
            seen[place[look.position]] += table[:, SEEN.index(look.seen)]
    upto = np.vstack([np.zeros(3), np.cumsum(seen, axis=0)])
    first, turn = np.arange(count)[:, None], np.arange(count + 1)[None, :]
    steps = turn - first
    waits = (steps - 1) * math.log1p(-rates.turns) + math.log1p(-rates.begins_as_crease)
    growth = np.where(steps == 0, math.log(rates.begins_as_crease), waits + math.log(rates.turns))
    growth = np.where(turn == count, waits, growth)
    growth = np.where(steps < 0, -np.inf, growth)
    clean, trough, crease = upto.T
    starts = clean[first] + (trough[turn] - trough[first]) + (crease[count] - crease[turn]) + growth
    found = np.full((count + 2, count + 1), -np.inf)
    found[:count] = starts
    found[count] = starts[0]
    found[count + 1, count] = clean[count]
    found += (np.log(prior) + _answers(looks, rates, count))[:, None]
    found = np.exp(found - found.max())
    return np.asarray(found / found.sum(), float)


def _parent_answer(looks: Sequence[Look]) -> bool | None:
    """One answer for the walk: rows of one walk are one observer's view of one thing, so they count once."""
    said = {look.moves_with_parent for look in looks if look.moves_with_parent is not None}
    return said.pop() if len(said) == 1 else None


def _answers(looks: Sequence[Look], rates: Rates, count: int) -> _Array:
    answer = _parent_answer(looks)
    found = np.full(count + 2, 0.5 if answer is not None else 1.0)
    if answer is not None:
        right = 1 - rates.answer_error
        found[:count] = rates.answer_error if answer else right
        found[count] = right if answer else rates.answer_error
    return np.log(found)


def _entropy(chances: _Array) -> _Array:
    """Bits of the last axis, which need not add up to 1."""
    total = chances.sum(axis=-1, keepdims=True)
    shares = np.divide(chances, total, out=np.zeros_like(chances), where=total > 0)
    logs = np.log2(shares, out=np.zeros_like(shares), where=shares > 0)
    return np.asarray(-(shares * logs).sum(axis=-1), float)


def _gains(paths: _Array, rates: Rates) -> _Array:
    """Expected information about what starts it from one more look at each roller, bits."""
    count = paths.shape[1] - 1
    creased = np.cumsum(paths, axis=1)[:, :count]
    whole = paths.sum(axis=1, keepdims=True)
    starts = np.array([*range(count), 0, count])[:, None]
    there = np.arange(count)[None, :] >= starts
    truth = np.stack([np.where(there, 0, whole), np.where(there, whole - creased, 0), np.where(there, creased, 0)], -1)
    joint = np.maximum(truth @ look_chances(rates), 0)  # what starts it, roller, look
    chances = joint.sum(axis=0)
    after = _entropy(np.moveaxis(joint, 0, -1))
    return np.asarray(_entropy(whole[:, 0]) - (chances * after).sum(axis=1), float)


def line_walk(
    positions: Sequence[str],
    looks: Sequence[Look],
    rates: Rates = DEFAULT_RATES,
    prior: Sequence[float] | None = None,
) -> Walk:
    """What a walk along a line says about where the wrinkle starts.

    Parameters
    ----------
    positions
        Rollers in path order, unwind first.
    looks
        In any order; rollers without a look count as not looked at.
    rates
        Of error and growth.
    prior
        A weight above 0 for each roller, for example of :func:`weights_from_margins`; left out, all are alike.

    Returns
    -------
    Walk
        The likeliest is named; between equals the one further upstream.

    Raises
    ------
    CaseError
        No path, a roller twice or not in the path, an unknown look, a rate or weight that cannot be.

    Examples
    --------
    >>> path = ["A03", "A04", "A05", "A06", "A07"]
    >>> seen = ["clean", "clean", "trough", "crease", "crease"]
    >>> found = line_walk(path, [Look(*pair) for pair in zip(path, seen)])
    >>> found.named, found.enters_from, found.contradictions
    ('A05', 'A04', ())
    """
    _checked(positions, looks, rates, prior)
    weights = np.ones(len(positions)) if prior is None else np.array(prior, float)
    rollers = weights / weights.sum() * (1 - rates.parent - rates.none)
    paths = _paths(positions, looks, rates, np.append(rollers, [rates.parent, rates.none]))
    chances = paths.sum(axis=1)
    best = int(np.argmax(chances >= chances.max() * (1 - 1e-9)))
    kind = {len(positions): PARENT, len(positions) + 1: NONE}.get(best, ROLLER)
    gains = _gains(paths, rates)
    order = sorted(range(len(positions)), key=lambda at: (-round(float(gains[at]), 9), at))
    named = positions[best] if kind == ROLLER else None
    before = positions[best - 1] if kind == ROLLER and best else None
    sureness = float(chances[best])
    return Walk(
        positions=tuple(positions),
        chances=tuple(float(chance) for chance in chances[: len(positions)]),
        parent=float(chances[-2]),
        none=float(chances[-1]),
        kind=kind,
        named=named,
        enters_from=before,
        sureness=sureness,
        contradictions=_contradictions(positions, looks),
        next_looks=tuple(NextLook(positions[at], max(0.0, float(gains[at]))) for at in order),
        hints=_hints(looks),
        sentence=_sentence(kind, named, before, sureness),
    )


def _sentence(kind: str, named: str | None, before: str | None, sureness: float) -> str:
    sure = f"{math.floor(sureness * 100)} % sure"
    if kind == PARENT:
        return f"It comes with the parent roll: {sure}. No roller of the path starts it."
    if kind == NONE:
        return f"No roller of the path shows a wrinkle: {sure}."
    span = f"the span from {before} to {named}" if before else f"the span into {named}, the first roller of the path"
    return f"{named} starts it, with {span}: {sure}."


def _contradictions(positions: Sequence[str], looks: Sequence[Look]) -> tuple[str, ...]:
    """What cannot all be true at once, in path order, each with the roller to walk again."""
    by_roller: dict[str, list[str]] = {}
    for look in looks:
        if look.seen != NOT_LOOKED:
            by_roller.setdefault(look.position, []).append(look.seen)
    said = []
    earlier: tuple[str, str] | None = None
    for name in positions:
        if name not in by_roller:
            continue
        seen = by_roller[name]
        if len(set(seen)) > 1:
            said.append(f"{name} was seen {' and '.join(dict.fromkeys(seen))}: walk it again.")
        last = seen[-1]
        if earlier and SEEN.index(last) < SEEN.index(earlier[1]):
            said.append(f"{last.capitalize()} at {name} after {earlier[1]} at {earlier[0]}: walk both again.")
        earlier = name, last
    answers = {look.moves_with_parent for look in looks if look.moves_with_parent is not None}
    if len(answers) > 1:
        said.append("It moves with the parent roll at one roller and not at another: answer this once more.")
    first = next((name for name in positions if name in by_roller), None)
    if answers == {True} and first is not None and by_roller[first][-1] == CLEAN:
        said.append(f"It is said to move with the parent roll, but {first} is clean: walk {first} again.")
    return tuple(said)


def _hints(looks: Sequence[Look]) -> tuple[str, ...]:
    """What the other answers point to; they tell of causes and do not move the roller."""
    said = []
    if any(look.changes_with_speed for look in looks):
        said.append("It changes with speed: check the air film and traction first.")
    if any(look.changes_with_tension for look in looks):
        said.append("It changes with tension: check tension, its swing and the sag of rollers first.")
    return tuple(said)


def weights_from_margins(margins: Sequence[float | None], steepness: float = 2.0) -> tuple[float, ...]:
    """Prior weights from how near each roller is to wrinkling.

    Parameters
    ----------
    margins
        Per roller in path order: what it takes to wrinkle over what is there (critical over measured misalignment, or
        the least of several such ratios): 1 is at the edge, larger is safer, None is not known.
    steepness
        How fast the weight falls; our default, no source.

    Returns
    -------
    tuple of float
        1/(1 + margin^steepness), never below 0.02, so that no roller is ruled out by a calculation; an unknown margin
        takes the middle of the known ones.
    """
    known = [1 / (1 + max(0.0, margin) ** steepness) for margin in margins if margin is not None]
    middle = float(np.median(known)) if known else 1.0
    weights = [middle if m is None else 1 / (1 + max(0.0, m) ** steepness) for m in margins]
    return tuple(max(0.02, weight) for weight in weights)


def beside_ranking(walk: Walk, ranking: Sequence[str]) -> str:
    """Whether the walk and a ranking by mechanics (nearest to wrinkling first) say the same, as a sentence."""
    if walk.kind == PARENT:
        return "The walk says it comes with the parent roll; the mechanics rank rollers only and cannot speak to that."
    if walk.kind == NONE:
        return "The walk found no wrinkle; the mechanics name what would wrinkle first" + (
            f": {ranking[0]}." if ranking else ", but no roller could be ranked."
        )
    if walk.named not in ranking:
        return f"The mechanics could not rank {walk.named}: its margin is not known."
    place = ranking.index(walk.named) + 1
    if place == 1:
        return f"Walk and mechanics agree: {walk.named} is first in both."
    near = "close to the walk" if place <= 3 else "they disagree"
    return (
        f"The walk names {walk.named}; the mechanics put it in place {place} of {len(ranking)} and {ranking[0]} first: "
        f"{near}. Walk {ranking[0]} and {walk.named} again before anything is taped."
    )
