"""Invented runs of a line, and their best order by trying everything."""

from __future__ import annotations

import itertools
import math
import random
from collections.abc import Mapping, Sequence

from calcs.changeover import BARE, Minutes, Run, TapeState


def invented(
    seed: int,
    runs: int,
    rollers: int = 3,
    states: int = 3,
    parallel: bool = False,
    lockout: float | None = None,
    calendar: bool = True,
) -> tuple[list[Run], dict[str, TapeState], Minutes]:
    """Runs of products that tolerate one or several tape states, or do not mind; some with release and due time."""
    draw = random.Random(seed)
    stocks = ["T1", "T3", "T5"]
    carried = {
        f"P{number}": [BARE, *(TapeState(draw.choice(stocks), 2 * draw.randint(1, 4), n) for n in range(1, states))]
        for number in range(rollers)
    }
    minutes = Minutes(
        {stock: draw.randint(2, 7) for stock in stocks},
        {stock: draw.randint(1, 5) for stock in stocks},
        draw.choice([0, 8, 15, 25]) if lockout is None else lockout,
        parallel,
    )
    made = []
    for number in range(runs):
        tolerates = {
            position: draw.sample(all_, draw.randint(1, max(1, states - 1)))
            for position, all_ in carried.items()
            if draw.random() < 0.75
        }
        release = draw.choice([0, 0, draw.randint(0, 60 * runs)]) if calendar else 0
        due = draw.randint(100, 170 * runs) if calendar and draw.random() < 0.7 else None
        made.append(Run(f"run {number}", draw.randint(30, 240), tolerates, release, due))
    return made, {position: draw.choice(all_) for position, all_ in carried.items()}, minutes


def by_trying(
    runs: Sequence[Run],
    now: Mapping[str, TapeState],
    minutes: Minutes,
    late_weight: float,
    fixed: bool = False,
    known: float = math.inf,
) -> float:
    """Least objective over every order and every way to tape, run by run.

    Beginnings that already cost as much as the best plan so far are left out; with ``known``, those that cost more than
    that, which finds the known one again or a better one, and infinity if the known one cannot be had.
    """
    positions = sorted({*now, *(position for run in runs for position in run.tolerates)})
    states = {
        position: sorted({now.get(position, BARE), *(s for run in runs for s in run.tolerates.get(position, ()))})
        for position in positions
    }
    best = known + 1e-6
    seen = False

    def go(left: tuple[int, ...], tape: tuple[TapeState, ...], time: float, spent: float) -> None:
        nonlocal best, seen
        if spent >= best - 1e-9:
            return
        if not left:
            best, seen = spent, True
            return
        for number in left[:1] if fixed else left:
            run = runs[number]
            choices = [run.tolerates.get(position, states[position]) for position in positions]
            for wanted in itertools.product(*choices):
                work = [
                    0.0
                    if old == new
                    else (minutes.remove_per_lane[old.stock] * old.lanes if old.stock else 0.0)
                    + (minutes.apply_per_lane[new.stock] * new.lanes if new.stock else 0.0)
                    for old, new in zip(tape, wanted, strict=True)
                ]
                stop = (minutes.lockout if wanted != tape else 0.0) + (max(work) if minutes.parallel else sum(work))
                begin = max(time + stop, run.release)
                end = begin + run.minutes
                late = max(0.0, end - run.due) if run.due is not None else 0.0
                rest = tuple(other for other in left if other != number)
                go(rest, wanted, end, spent + (begin - time) + late_weight * late)

    go(tuple(range(len(runs))), tuple(now.get(position, BARE) for position in positions), 0.0, 0.0)
    return best if seen else math.inf
