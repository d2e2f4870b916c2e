"""Invented walks with the truth planted, and the same question answered by plain enumeration."""

from __future__ import annotations

import random
from collections.abc import Iterator
from dataclasses import dataclass

from calcs.walk import CLEAN, CREASE, NONE, NOT_LOOKED, PARENT, TROUGH, Look, Rates, line_walk

FORMS = (CLEAN, TROUGH, CREASE)


@dataclass(frozen=True)
class Planted:
    """A walk whose answer is known: ``truth`` is a position, the parent roll, or none."""

    positions: list[str]
    looks: list[Look]
    rates: Rates
    prior: list[float] | None
    truth: str


def _seen(true: str, rates: Rates, draw: random.Random) -> str:
    """One look, wrong as often as the rates say."""
    if true == CLEAN:
        if draw.random() >= rates.false_alarm:
            return CLEAN
        return CREASE if draw.random() < rates.confusion else TROUGH
    if draw.random() < (rates.miss_trough if true == TROUGH else rates.miss_crease):
        return CLEAN
    other = CREASE if true == TROUGH else TROUGH
    return other if draw.random() < rates.confusion else true


def _rates(draw: random.Random) -> Rates:
    return Rates(
        false_alarm=draw.uniform(0.01, 0.25),
        miss_trough=draw.uniform(0.05, 0.4),
        miss_crease=draw.uniform(0.01, 0.25),
        confusion=draw.uniform(0.02, 0.4),
        answer_error=draw.uniform(0.05, 0.4),
        begins_as_crease=draw.uniform(0.1, 0.9),
        turns=draw.uniform(0.1, 0.8),
        parent=draw.uniform(0.02, 0.25),
        none=draw.uniform(0.01, 0.2),
    )


def _truth(positions: list[str], rates: Rates, prior: list[float] | None, draw: random.Random) -> tuple[str, list[str]]:
    """What starts it, and what each roller truly shows."""
    rest = 1 - rates.parent - rates.none
    weights = prior or [1.0] * len(positions)
    shares = [rest * weight / sum(weights) for weight in weights]
    truth = draw.choices([*positions, PARENT, NONE], [*shares, rates.parent, rates.none])[0]
    if truth == NONE:
        return truth, [CLEAN] * len(positions)
    first = 0 if truth == PARENT else positions.index(truth)
    forms = [CLEAN] * first
    form = CREASE if draw.random() < rates.begins_as_crease else TROUGH
    for _ in range(first, len(positions)):
        forms.append(form)
        if form == TROUGH and draw.random() < rates.turns:
            form = CREASE
    return truth, forms


def plant(draw: random.Random) -> Planted:
    """A line of 4 to 24 rollers, walked well or badly, some rollers twice, some not at all."""
    positions = [f"R{number:02}" for number in range(1, draw.randint(4, 24) + 1)]
    rates = _rates(draw)
    prior = [draw.uniform(0.05, 1) for _ in positions] if draw.random() < 0.5 else None
    truth, forms = _truth(positions, rates, prior, draw)
    looked = draw.choice((0.15, 0.4, 0.7, 1.0))
    looks = []
    for name, form in zip(positions, forms, strict=True):
        times = 0 if draw.random() >= looked else 2 if draw.random() < 0.15 else 1
        looks += [Look(name, _seen(form, rates, draw)) for _ in range(times)] or [Look(name, NOT_LOOKED)]
    if draw.random() < 0.6:
        chance = {PARENT: 1 - rates.answer_error, NONE: 0.5}.get(truth, rates.answer_error)
        looks[0] = Look(looks[0].position, looks[0].seen, moves_with_parent=draw.random() < chance)
    return Planted(positions, looks, rates, prior, truth)


def planted(seed: int, count: int) -> Iterator[Planted]:
    """As many walks as asked, the same for the same seed."""
    draw = random.Random(seed)
    for _ in range(count):
        yield plant(draw)


def _chance_of_look(true: str, seen: str, rates: Rates) -> float:
    if true == CLEAN:
        found = {
            CLEAN: 1 - rates.false_alarm,
            TROUGH: rates.false_alarm * (1 - rates.confusion),
            CREASE: rates.false_alarm * rates.confusion,
        }
        return found[seen]
    miss = rates.miss_trough if true == TROUGH else rates.miss_crease
    if seen == CLEAN:
        return miss
    return (1 - miss) * (1 - rates.confusion if seen == true else rates.confusion)


def enumerated(walk: Planted) -> dict[str, float]:
    """Chance of every answer: all truths one by one, as products of plain numbers. Shares nothing with calcs.walk."""
    found = weighed(walk)
    total = sum(found.values())
    return {name: chance / total for name, chance in found.items()}


def weighed(walk: Planted) -> dict[str, float]:
    """Chance of every answer together with all that was seen."""
    rates, count = walk.rates, len(walk.positions)
    weights = walk.prior or [1.0] * count
    answer = next((look.moves_with_parent for look in walk.looks if look.moves_with_parent is not None), None)
    found = dict.fromkeys([*walk.positions, PARENT, NONE], 0.0)
    for name in found:
        if name == NONE:
            prior, ways = rates.none, [(1.0, [CLEAN] * count)]
        else:
            start = 0 if name == PARENT else walk.positions.index(name)
            prior = rates.parent
            if name != PARENT:
                prior = (1 - rates.parent - rates.none) * weights[start] / sum(weights)
            ways = list(_growths(start, count, rates))
        agrees = {PARENT: 1 - rates.answer_error, NONE: 0.5}.get(name, rates.answer_error)
        said = 1.0 if answer is None else agrees if answer else 1 - agrees
        for chance, forms in ways:
            truth = dict(zip(walk.positions, forms, strict=True))
            for look in walk.looks:
                if look.seen != NOT_LOOKED:
                    chance *= _chance_of_look(truth[look.position], look.seen, rates)
            found[name] += prior * said * chance
    return found


def _growths(start: int, count: int, rates: Rates) -> Iterator[tuple[float, list[str]]]:
    """Every way a wrinkle can grow from a roller on, with its chance."""
    yield rates.begins_as_crease, [CLEAN] * start + [CREASE] * (count - start)
    chance = 1 - rates.begins_as_crease
    for turn in range(start + 1, count):
        yield chance * rates.turns, [CLEAN] * start + [TROUGH] * (turn - start) + [CREASE] * (count - turn)
        chance *= 1 - rates.turns
    yield chance, [CLEAN] * start + [TROUGH] * (count - start)


@dataclass
class Bin:
    """Walks whose stated sureness lies in one tenth."""

    count: int = 0
    stated: float = 0.0
    right: int = 0

    @property
    def mean_stated(self) -> float:
        return self.stated / self.count if self.count else 0.0

    @property
    def share_right(self) -> float:
        return self.right / self.count if self.count else 0.0


@dataclass
class Tally:
    """How often the named roller, and that of the enumeration, are the planted one."""

    walks: int
    named_right: int
    enumerated_right: int
    farthest: float
    bins: list[Bin]


def tally(seed: int, count: int) -> Tally:
    """Walk and compare: the farthest apart of any two chances is kept too."""
    found = Tally(count, 0, 0, 0.0, [Bin() for _ in range(10)])
    for walk in planted(seed, count):
        answer = line_walk(walk.positions, walk.looks, walk.rates, walk.prior)
        ours = dict(zip(walk.positions, answer.chances, strict=True)) | {PARENT: answer.parent, NONE: answer.none}
        theirs = enumerated(walk)
        right = (answer.named or answer.kind) == walk.truth
        found.named_right += right
        found.enumerated_right += max(theirs, key=lambda name: theirs[name]) == walk.truth
        found.farthest = max(found.farthest, max(abs(ours[name] - theirs[name]) for name in theirs))
        into = found.bins[min(9, int(answer.sureness * 10))]
        into.count, into.stated, into.right = into.count + 1, into.stated + answer.sureness, into.right + right
    return found
