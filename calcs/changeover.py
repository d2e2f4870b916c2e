"""Order of the coming runs of a line that needs least re-taping, idle and late minutes; and the change sheets for it.

What counts is what is on each roller, not the last product: a product tolerates one or several tape states at a
roller, and where it says nothing any state will do. At a stop every roller may be re-taped to any state that the next
run tolerates, also to spare a later stop; a roller takes the states that it has now or that any run tolerates.

The objective is one number of minutes: re-taping with lockout, plus idle waiting for a release, plus minutes late times
a weight. Durations, releases and due times are fixed. A change of tape counts as taking all of the old off and all of
the new on. Work at a stop is one after another, or all rollers at once (then the longest counts).

These are minutes of settings, good for comparing plans. The sheet of a stop says what to do, not how: the lockout of
the plant comes first, at every stop.
"""

from __future__ import annotations

import math
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, field

import numpy as np

from calcs.case import CaseError
from calcs.changeover_search import MOST_RUNS, Found, Search, Task

KEEP, REMOVE, APPLY, RESIZE = "keep", "remove", "apply", "resize"
EXACT_WIDTH = 60_000
"""Labels kept in a layer up to :data:`EXACT_RUNS` runs; rarely reached there, and if it is, the answer says so."""
EXACT_RUNS = 14
WIDTH = 1_500
"""Labels kept in a layer for more runs; fewer, the more there are."""
REACH = 6
FIRST_WIDTHS = (30, 300)
_SAME = 1e-6


@dataclass(frozen=True, slots=True, order=True)
class TapeState:
    """What is on one roller: stock, lanes over both ends, wraps, and a word for the place; bare without a stock."""

    stock: str = ""
    lanes: int = 0
    wraps: int = 0
    place: str = ""

    @property
    def bare(self) -> bool:
        """Whether there is no tape."""
        return not self.stock


BARE = TapeState()


@dataclass(frozen=True, slots=True)
class Minutes:
    """Settings of a plant: minutes per lane and stock, and of lockout per stop."""

    apply_per_lane: Mapping[str, float]
    remove_per_lane: Mapping[str, float]
    lockout: float
    parallel: bool = False

    def between(self, now: TapeState, then: TapeState) -> float:
        """Minutes of work at one roller, without lockout."""
        if now == then:
            return 0.0
        off = 0.0 if now.bare else self.remove_per_lane[now.stock] * now.lanes
        return off + (0.0 if then.bare else self.apply_per_lane[then.stock] * then.lanes)


@dataclass(frozen=True, slots=True)
class Run:
    """One run; minutes from now for release and due time.

    ``tolerates`` names, per position, the tape states that will do; a position that is not named may be as it is.
    """

    name: str
    minutes: float
    tolerates: Mapping[str, Collection[TapeState]] = field(default_factory=dict)
    release: float = 0.0
    due: float | None = None


@dataclass(frozen=True, slots=True)
class Action:
    """What to do at one roller before a run."""

    position: str
    what: str
    now: TapeState
    then: TapeState
    minutes: float


@dataclass(frozen=True, slots=True)
class Step:
    """One run in its place: the stop before it, and when it starts and ends. ``retape`` has the lockout in it."""

    run: Run
    actions: tuple[Action, ...]
    retape: float
    idle: float
    start: float
    end: float
    late: float


@dataclass(frozen=True, slots=True)
class Plan:
    """An order of runs with its change sheets.

    ``objective`` = retape + idle + late_weight x late. No plan is below ``bound``; ``proven``: this one is best.
    """

    steps: tuple[Step, ...]
    retape: float
    idle: float
    late: float
    late_weight: float
    objective: float
    bound: float
    proven: bool

    @property
    def order(self) -> tuple[str, ...]:
        """Names of the runs in order."""
        return tuple(step.run.name for step in self.steps)

    @property
    def gap(self) -> float:
        """Minutes by which a better plan could beat this one at most."""
        return self.objective - self.bound

    @property
    def sentence(self) -> str:
        """The plan in one sentence, with how good it is."""
        parts = f"{self.retape:.0f} min re-taping, {self.idle:.0f} min idle, {self.late:.0f} min late"
        said = f"{parts}: {self.objective:.0f} min with late minutes weighted {self.late_weight:g}"
        if self.proven:
            return f"{said}; no plan does better."
        return f"{said}; no plan does better than {self.bound:.0f} min, so at most {self.gap:.0f} min could be gained."


def best_order(
    runs: Sequence[Run],
    now: Mapping[str, TapeState],
    minutes: Minutes,
    late_weight: float = 1.0,
    width: int | None = None,
) -> Plan:
    """Order of runs with the least objective.

    Parameters
    ----------
    runs
        Coming runs of one line, 1 to 60.
    now
        Tape on each position; positions not named are bare.
    minutes
        Settings.
    late_weight
        Weight of a late minute, 0 or more.
    width
        How many labels the search keeps; left out, enough for 14 runs to be exact in practice, 1,500 beyond.

    Returns
    -------
    Plan
        The same for the same input, and the order as given unless another is better. Best where ``proven``; else good,
        with its proven lower bound.

    Raises
    ------
    CaseError
        No run or too many, two of one name, a stock without minutes, a time that cannot be.

    Examples
    --------
    >>> tape = TapeState("T5", lanes=4, wraps=1)
    >>> settings = Minutes({"T5": 4}, {"T5": 2}, lockout=10)
    >>> need = {"film": tape, "paper": BARE, "film again": tape}
    >>> plan = best_order([Run(name, 60, {"B09": [state]}) for name, state in need.items()], {"B09": tape}, settings)
    >>> plan.order, plan.retape
    (('film', 'film again', 'paper'), 18.0)
    """
    return _planned(runs, now, minutes, late_weight, width, fixed=False)


def given_order(
    runs: Sequence[Run],
    now: Mapping[str, TapeState],
    minutes: Minutes,
    late_weight: float = 1.0,
    width: int | None = None,
) -> Plan:
    """Tape choices that need least for runs in the order given: common wraps, where runs share a state.

    Parameters, returns and refusals as :func:`best_order`.
    """
    return _planned(runs, now, minutes, late_weight, width, fixed=True)


def _planned(
    runs: Sequence[Run],
    now: Mapping[str, TapeState],
    minutes: Minutes,
    late_weight: float,
    width: int | None,
    fixed: bool,
) -> Plan:
    _checked(runs, now, minutes, late_weight)
    positions = sorted({*now, *(position for run in runs for position in run.tolerates)})
    asked = [position for position in positions if not _always_fine(position, now.get(position, BARE), runs)]
    states = {position: _states(position, now.get(position, BARE), runs) for position in asked}
    search = Search(_task(runs, now, minutes, late_weight, asked, states))
    found = _searched(search, len(runs), width, fixed)
    return _told(runs, now, minutes, late_weight, asked, states, positions, found)


def _searched(search: Search, count: int, width: int | None, fixed: bool) -> Found:
    """Narrow passes first: their plans cut the wide one short. The order as given is the plan to beat."""
    given = range(count)
    if fixed:
        return _kept(search.run(width or EXACT_WIDTH, order=given))
    full = width or (EXACT_WIDTH if count <= EXACT_RUNS else max(150, int(WIDTH * (EXACT_RUNS / count) ** 2)))
    found = _kept(search.run(min(full, FIRST_WIDTHS[-1]), order=given))
    bound = -math.inf  # that of the order as given says nothing about others
    for wide in (*(wide for wide in FIRST_WIDTHS if wide < full), full):
        found = _kept(search.run(wide, found))
        bound = max(bound, found.bound)
        if found.objective - bound <= _SAME:
            break
    while found.objective - bound > _SAME:  # runs change places with near ones, as long as that gains
        nearer = _kept(search.run(min(full, FIRST_WIDTHS[-1]), found, order=found.order, reach=REACH))
        if nearer.objective >= found.objective - _SAME:
            break
        found = nearer
    return Found(found.order, found.tapes, found.objective, min(bound, found.objective))


def _kept(found: Found | None) -> Found:
    if found is None:  # no label is ever dropped without a plan in its place
        raise RuntimeError("The search ended without a plan.")
    return found


def _always_fine(position: str, state: TapeState, runs: Sequence[Run]) -> bool:
    return all(position not in run.tolerates or state in run.tolerates[position] for run in runs)


def _states(position: str, state: TapeState, runs: Sequence[Run]) -> list[TapeState]:
    """What a roller may carry: now, and whatever any run tolerates."""
    return sorted({state, *(each for run in runs for each in run.tolerates.get(position, ()))})


def _task(
    runs: Sequence[Run],
    now: Mapping[str, TapeState],
    minutes: Minutes,
    late_weight: float,
    asked: Sequence[str],
    states: Mapping[str, list[TapeState]],
) -> Task:
    cost = []
    for position in asked:
        # off and on again: never dearer than over a third state, which the search rests on
        cost.append(np.array([[minutes.between(a, b) for b in states[position]] for a in states[position]]))
    allowed = tuple(
        tuple(
            tuple(states[position].index(each) for each in sorted(set(run.tolerates[position])))
            if position in run.tolerates
            else None
            for position in asked
        )
        for run in runs
    )
    return Task(
        durations=np.array([run.minutes for run in runs], float),
        releases=np.array([run.release for run in runs], float),
        dues=np.array([math.inf if run.due is None else run.due for run in runs], float),
        allowed=allowed,
        start=tuple(states[position].index(now.get(position, BARE)) for position in asked),
        cost=tuple(cost),
        lockout=minutes.lockout,
        parallel=minutes.parallel,
        late_weight=late_weight,
    )


def _told(
    runs: Sequence[Run],
    now: Mapping[str, TapeState],
    minutes: Minutes,
    late_weight: float,
    asked: Sequence[str],
    states: Mapping[str, list[TapeState]],
    positions: Sequence[str],
    found: Found,
) -> Plan:
    """The plan in the words of the plant, its minutes counted anew from the actions."""
    tape = {position: now.get(position, BARE) for position in positions}
    steps, clock = [], 0.0
    for number, chosen in zip(found.order, found.tapes, strict=True):
        run = runs[number]
        then = tape | {position: states[position][at] for position, at in zip(asked, chosen, strict=True)}
        actions = tuple(_action(position, tape[position], then[position], minutes) for position in positions)
        work = [action.minutes for action in actions]
        stop = minutes.lockout if any(action.what != KEEP for action in actions) else 0.0
        retape = stop + (max(work, default=0.0) if minutes.parallel else sum(work))
        ready = clock + retape
        start = max(ready, run.release)
        end = start + run.minutes
        late = 0.0 if run.due is None else max(0.0, end - run.due)
        steps.append(Step(run, actions, retape, start - ready, start, end, late))
        tape, clock = then, end
    retape, idle, late = (math.fsum(getattr(step, name) for step in steps) for name in ("retape", "idle", "late"))
    objective = retape + idle + late_weight * late
    bound = min(found.bound, objective)
    proven = objective - bound <= _SAME
    return Plan(tuple(steps), retape, idle, late, late_weight, objective, objective if proven else bound, proven)


def _action(position: str, now: TapeState, then: TapeState, minutes: Minutes) -> Action:
    what = KEEP if now == then else APPLY if now.bare else REMOVE if then.bare else RESIZE
    return Action(position, what, now, then, minutes.between(now, then))


def _checked(runs: Sequence[Run], now: Mapping[str, TapeState], minutes: Minutes, late_weight: float) -> None:
    if not 1 <= len(runs) <= MOST_RUNS:
        raise CaseError("runs", f"runs holds {len(runs)} runs; plan 1 to {MOST_RUNS} at a time.")
    names = [run.name for run in runs]
    if len(set(names)) != len(names):
        twice = next(name for name in names if names.count(name) > 1)
        raise CaseError("runs", f"runs names {twice} twice; give each run a name of its own.")
    if not (math.isfinite(late_weight) and late_weight >= 0):
        raise CaseError("late_weight", f"late_weight is {late_weight}; give a number, 0 or more.")
    if not (math.isfinite(minutes.lockout) and minutes.lockout >= 0):
        raise CaseError("lockout", f"lockout is {minutes.lockout}; give minutes, 0 or more.")
    for run in runs:
        times = (run.minutes, run.release, run.due if run.due is not None else 0.0)
        if not all(math.isfinite(time) for time in times) or run.minutes < 0 or run.release < 0:
            raise CaseError(
                "runs", f"runs: {run.name} has a time that cannot be; give minutes, and a release of 0 or more."
            )
        for position, states in run.tolerates.items():
            if not states:
                raise CaseError(
                    "runs", f"runs: {run.name} tolerates nothing at {position}; name a state, or leave it out."
                )
    used = {*now.values(), *(state for run in runs for states in run.tolerates.values() for state in states)}
    for state in sorted(used):
        if state.bare:
            continue
        for name, table in (("apply_per_lane", minutes.apply_per_lane), ("remove_per_lane", minutes.remove_per_lane)):
            if state.stock not in table or not (math.isfinite(table[state.stock]) and table[state.stock] >= 0):
                raise CaseError(name, f"{name} has no minutes for stock {state.stock}; enter them in the settings.")
