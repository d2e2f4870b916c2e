"""The search behind :mod:`calcs.changeover`: labels over sets of runs done, exact until the width is reached.

A label is a set of runs done, what is on each roller, the time, and the minutes late so far. Layer k holds labels with
k runs done. Of labels with the same set and the same tape, one that is neither earlier nor less late is dropped; so is
one that another label, somewhat earlier, could be turned into by re-taping. Every label has a lower bound of the whole
plan; labels that cannot beat a plan already found are dropped, and where a layer is too wide the worst bounds are cut.
The least bound ever cut, or the plan found if that is less, is a proven lower bound: every plan runs through a kept
label, a cut one, or one that is no better than either.

The bound relaxes the rollers from one another. At one roller, the runs left need a set of tape states that serves them
all; the cheapest way through such a set, in any order, costs no more than what any plan spends there. The number of
stops is at least that of the roller with most changes. Lateness: runs left, shortest first, against due times in order,
and each run by itself from its release.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

_Floats = NDArray[np.float64]
_Ints = NDArray[np.int64]
MOST_RUNS = 60
_MOST_STATES = 7
"""Roller states up to which every set of states is tried in the bound."""
MOST_TARGETS = 512
"""Ways to tape for one run, over all rollers, up to which all are tried."""
_TABLE_RUNS = 14
_CHUNK = 2_000_000
_NEAR = 1e-9


@dataclass(frozen=True)
class Task:
    """A plan as numbers: runs, rollers and their states by index, minutes.

    ``allowed[run][roller]`` lists state numbers, or is None where the run does not mind. ``cost[roller]`` has minutes
    from state to state, never more than over a third state; ``lockout`` is added once to every stop; ``parallel`` takes
    the longest roller of a stop instead of their sum.
    """

    durations: _Floats
    releases: _Floats
    dues: _Floats
    allowed: tuple[tuple[tuple[int, ...] | None, ...], ...]
    start: tuple[int, ...]
    cost: tuple[_Floats, ...]
    lockout: float
    parallel: bool
    late_weight: float

    @property
    def runs(self) -> int:
        return len(self.durations)

    @property
    def rollers(self) -> int:
        return len(self.start)


@dataclass
class _Layer:
    done: _Ints
    tape: _Ints  # label x roller
    time: _Floats
    late: _Floats
    parent: _Ints
    run: _Ints
    bound: _Floats

    def take(self, which: NDArray[np.bool_] | _Ints) -> _Layer:
        return _Layer(
            self.done[which],
            self.tape[which],
            self.time[which],
            self.late[which],
            self.parent[which],
            self.run[which],
            self.bound[which],
        )

    def __len__(self) -> int:
        return len(self.done)


@dataclass(frozen=True)
class Found:
    """Best plan of a search: order of runs, tape after each, objective, and a proven lower bound."""

    order: tuple[int, ...]
    tapes: tuple[tuple[int, ...], ...]
    objective: float
    bound: float


class Search:
    """One plan to search: tables made once, then as many passes as wanted."""

    def __init__(self, task: Task) -> None:
        self.task = task
        self.all = (1 << task.runs) - 1
        self.serves = [
            np.array([self._runs_served(roller, state) for state in range(len(task.cost[roller]))], np.int64)
            for roller in range(task.rollers)
        ]
        self.covers = [self._covers(roller) for roller in range(task.rollers)]
        self.targets = []
        self.complete = True
        for run in range(task.runs):
            self.targets.append(self._targets(run))
        self.bits = np.int64(1) << np.arange(task.runs, dtype=np.int64)
        self.short = np.argsort(task.durations, kind="stable")
        self.early = np.argsort(task.dues, kind="stable")
        self.any_due = bool(np.isfinite(task.dues).any()) and task.late_weight > 0
        self.any_release = bool((task.releases > 0).any())
        self.total = float(task.durations.sum())
        self.tables: list[tuple[_Floats, _Floats]] = []
        if task.runs <= _TABLE_RUNS:  # every set of runs left, once
            sets = np.arange(1 << task.runs, dtype=np.int64)
            self.tables = [self._left_at(roller, sets) for roller in range(task.rollers)]

    def _runs_served(self, roller: int, state: int) -> int:
        served = 0
        for run, allowed in enumerate(self.task.allowed):
            states = allowed[roller]
            if states is None or state in states:
                served |= 1 << run
        return served

    def _targets(self, run: int) -> _Ints:
        """Every way to tape the line for one run; where that is too many, rollers the run does not mind are left."""
        task = self.task
        choices: list[Sequence[int]] = []
        for roller, states in enumerate(task.allowed[run]):
            choices.append(range(len(task.cost[roller])) if states is None else states)
        if math.prod(len(choice) for choice in choices) > MOST_TARGETS:
            self.complete = False
            choices = [
                (-1,) if states is None else choice for states, choice in zip(task.allowed[run], choices, strict=True)
            ]
        return np.array(list(itertools.islice(itertools.product(*choices), 8 * MOST_TARGETS)), np.int64)

    def _covers(self, roller: int) -> list[list[tuple[int, float, int]]]:
        """Per state: sets of further states as (runs served, least minutes, changes), cheapest first, none useless."""
        cost, serves = self.task.cost[roller], self.serves[roller]
        count = len(cost)
        found = []
        for state in range(count):
            others = [other for other in range(count) if other != state]
            entries = [(int(serves[state]), 0.0, 0)]
            if count > _MOST_STATES:
                entries.append((self.all, min(float(cost[state, other]) for other in others), 1))
            else:
                entries += self._walks(state, others, cost, serves)
            useful: list[tuple[int, float, int]] = []
            for served, least, changes in sorted(entries, key=lambda entry: (entry[1], entry[2], -entry[0])):
                if not any(served & ~more == 0 and fewer <= changes for more, _, fewer in useful):
                    useful.append((served, least, changes))
            found.append(useful)
        return found

    def _walks(self, state: int, others: list[int], cost: _Floats, serves: _Ints) -> list[tuple[int, float, int]]:
        """Cheapest walk from a state through each set of other states (over subsets, end by end)."""
        best: dict[tuple[int, int], float] = {}
        for at, other in enumerate(others):
            best[1 << at, at] = float(cost[state, other])
        for members in range(1, 1 << len(others)):
            for at in range(len(others)):
                if (members, at) not in best:
                    continue
                for onward in range(len(others)):
                    if members >> onward & 1:
                        continue
                    key = members | 1 << onward, onward
                    reached = best[members, at] + float(cost[others[at], others[onward]])
                    best[key] = min(best.get(key, math.inf), reached)
        entries = []
        for members in range(1, 1 << len(others)):
            served = int(serves[state])
            for at, other in enumerate(others):
                if members >> at & 1:
                    served |= int(serves[other])
            least = min(best[members, at] for at in range(len(others)) if members >> at & 1)
            entries.append((served, least, members.bit_count()))
        return entries

    # The lower bound

    def _left_at(self, roller: int, left: _Ints) -> tuple[_Floats, _Floats]:
        """Least minutes and changes at one roller for the runs left, from each of its states (labels x states)."""
        covers = self.covers[roller]
        least = np.full((len(left), len(covers)), math.inf)
        changes = np.full(least.shape, math.inf)
        for state, entries in enumerate(covers):
            for served, cost, count in entries:
                serves = (left & ~np.int64(served)) == 0
                np.minimum(least[:, state], cost, out=least[:, state], where=serves)
                np.minimum(changes[:, state], count, out=changes[:, state], where=serves)
        return least, changes

    def _retape(self, left: _Ints, tapes: _Ints) -> _Floats:
        """Least re-taping for the runs left (label) from each tape (label x choice x roller); -1 costs nothing."""
        minutes = np.zeros(tapes.shape[:2])
        stops = np.zeros(tapes.shape[:2])
        if self.tables:
            which = left
        else:
            sets, which = np.unique(left, return_inverse=True)
        for roller in range(self.task.rollers):
            least, changes = self.tables[roller] if self.tables else self._left_at(roller, sets)
            state = tapes[:, :, roller]
            more = np.where(state < 0, 0.0, least[which[:, None], state])
            minutes = np.maximum(minutes, more) if self.task.parallel else minutes + more
            stops = np.maximum(stops, np.where(state < 0, 0.0, changes[which[:, None], state]))
        return minutes + self.task.lockout * stops

    def _bounds(self, layer: _Layer) -> _Floats:
        """Lower bound of the objective of every plan that goes on from each label."""
        task = self.task
        left = self.all & ~layer.done
        has = (left[:, None] & self.bits) != 0
        end = layer.time + has @ task.durations + self._retape(left, layer.tape[:, None, :])[:, 0]
        late = layer.late
        if self.any_release:
            later = task.durations[None, :] * (task.releases[None, :] >= task.releases[:, None])
            from_release = np.where(has, task.releases + has @ later.T, -math.inf)
            end = np.maximum(end, from_release.max(axis=1, initial=-math.inf))
        if self.any_due:
            begin = np.maximum(layer.time[:, None], task.releases)
            alone = np.where(has, np.maximum(0, begin + task.durations - task.dues), 0).sum(axis=1)
            late = late + np.maximum(alone, self._in_order(layer.time, has))
        return np.asarray(end - self.total + task.late_weight * late, float)

    def _in_order(self, time: _Floats, has: NDArray[np.bool_]) -> _Floats:
        """Lateness of the runs left if they ended shortest first and had the due times in order."""
        task = self.task
        count = has.sum(axis=1)
        lengths = np.where(has[:, self.short], task.durations[self.short], math.inf)
        ends = time[:, None] + np.cumsum(np.sort(lengths, axis=1), axis=1)
        dues = np.sort(np.where(has[:, self.early], task.dues[self.early], math.inf), axis=1)
        there = np.arange(has.shape[1]) < count[:, None]
        over = np.subtract(ends, dues, out=np.full_like(ends, -math.inf), where=there & np.isfinite(dues))
        return np.asarray(np.maximum(0, over).sum(axis=1), float)

    # One layer to the next

    def _grown(self, layer: _Layer, best: float, order: Sequence[int], reach: int) -> _Layer:
        """All labels with one run more, which is one of the first few left in an order.

        Of equal plans that which keeps the runs as they are numbered comes first.
        """
        parts: list[_Layer] = []
        for run in range(self.task.runs - 1, -1, -1):
            before = sum(1 << other for other in order[: order.index(run)])
            waiting = np.bitwise_count(~layer.done & np.int64(before))
            rows = np.flatnonzero(((layer.done & self.bits[run]) == 0) & (waiting < reach))
            step = max(1, _CHUNK // len(self.targets[run]))
            for at in range(0, rows.size, step):
                parts.append(self._grown_by(layer, rows[at : at + step], run, best))
        return _joined(parts)

    def _grown_by(self, layer: _Layer, rows: _Ints, run: int, best: float) -> _Layer:
        task, targets = self.task, self.targets[run]
        tape = np.where(targets[None] < 0, layer.tape[rows][:, None, :], targets[None])
        work, changed = self._work(layer.tape[rows], tape)
        ready = layer.time[rows][:, None] + work + task.lockout * changed
        end = np.maximum(ready, task.releases[run]) + task.durations[run]
        late = layer.late[rows][:, None] + np.maximum(0, end - task.dues[run])
        after = self.all & ~layer.done[rows] & ~self.bits[run]
        rest = ((after[:, None] & self.bits) != 0) @ task.durations - self.total
        hope = end + rest[:, None] + self._retape(after, tape) + task.late_weight * late
        row, column = np.nonzero((hope < best - _NEAR) & ~self._idle_hands(layer, rows, tape, run, ready))
        return _Layer(
            layer.done[rows[row]] | self.bits[run],
            tape[row, column],
            end[row, column],
            late[row, column],
            rows[row],
            np.full(row.size, run, np.int64),
            np.zeros(row.size),
        )

    def _work(self, now: _Ints, tape: _Ints) -> tuple[_Floats, NDArray[np.bool_]]:
        """Minutes without lockout, and whether anything changes, from tapes (label) to tapes (label x choice)."""
        work = np.zeros(tape.shape[:2])
        for roller in range(self.task.rollers):
            cost = self.task.cost[roller][now[:, roller][:, None], tape[:, :, roller]]
            work = np.maximum(work, cost) if self.task.parallel else work + cost
        return work, (now[:, None, :] != tape).any(axis=2)

    def _idle_hands(self, layer: _Layer, rows: _Ints, tape: _Ints, run: int, ready: _Floats) -> NDArray[np.bool_]:
        """Choices that change a roller which need not be changed now, to no use.

        Tape that serves all runs left is never changed. And work that the next run does not need can as well wait for
        the next stop, unless a run before that stop needs it, or it falls into time that is idle anyway, or it is
        hidden behind longer work at another roller.
        """
        task = self.task
        after = (self.all & ~layer.done[rows] & ~self.bits[run])[:, None]
        onward = np.broadcast_to(after, tape.shape[:2])  # runs that could follow without a stop
        for roller in range(task.rollers):
            onward = onward & self.serves[roller][tape[:, :, roller]]
        useless = np.zeros(tape.shape[:2], bool)
        for roller in range(task.rollers):
            now = layer.tape[rows, roller][:, None]
            serves = self.serves[roller][now]
            spare = (now != tape[:, :, roller]) & ((serves & self.bits[run]) != 0)
            never = (after & ~serves) == 0
            if task.parallel:
                useless |= spare & never
                continue
            busy = ready - task.cost[roller][now, tape[:, :, roller]] >= task.releases[run] - _NEAR
            useless |= spare & (never | (((onward & ~serves) == 0) & busy))
        return useless

    def _thinned(self, layer: _Layer) -> _Layer:
        """Without labels that another of the same set and tape, or near to it, makes useless."""
        if not len(layer):
            return layer
        code = np.zeros(len(layer), np.int64)
        for roller in range(self.task.rollers):
            code = code * len(self.task.cost[roller]) + layer.tape[:, roller]
        order = np.lexsort((layer.late, layer.time, code, layer.done))
        layer, code = layer.take(order), code[order]
        fresh = np.r_[True, (layer.done[1:] != layer.done[:-1]) | (code[1:] != code[:-1])]
        group = np.cumsum(fresh) - 1
        far = float(layer.late.max()) + 1
        lowest = np.minimum.accumulate(layer.late - far * group)
        keep = np.r_[True, (layer.late - far * group)[1:] < lowest[:-1] - _NEAR]
        return self._without_near(layer.take(keep))

    def _without_near(self, layer: _Layer) -> _Layer:
        """Drop labels that one of the earliest few of the same set, re-taped, would equal or beat."""
        order = np.lexsort((layer.late, layer.time, layer.done))
        layer = layer.take(order)
        first = np.flatnonzero(np.r_[True, layer.done[1:] != layer.done[:-1]])
        sizes = np.diff(np.r_[first, len(layer)])
        own = np.repeat(first, sizes)
        place = np.arange(len(layer)) - own
        useless = np.zeros(len(layer), bool)
        for ahead in range(6):
            rows = np.flatnonzero((place > ahead) & ~useless)
            if not rows.size:
                break
            other = own[rows] + ahead
            work, changed = self._work(layer.tape[other], layer.tape[rows][:, None, :])
            minutes = (work + self.task.lockout * changed)[:, 0]
            useless[rows] = (layer.time[other] + minutes <= layer.time[rows] + _NEAR) & (
                layer.late[other] <= layer.late[rows] + _NEAR
            )
        return layer.take(~useless)

    def run(
        self, width: int, known: Found | None = None, order: Sequence[int] | None = None, reach: int = 1
    ) -> Found | None:
        """One pass.

        Parameters
        ----------
        width
            Labels kept in a layer.
        known
            A plan already there; only better ones are looked for.
        order, reach
            Only plans whose next run is always among the first ``reach`` left of this order are looked at, and the
            bound is that of such plans; 1 keeps the order, so that tape is all there is to choose. Without an order,
            all plans.

        Returns
        -------
        Found or None
            The best plan there is or was, with its bound.
        """
        task = self.task
        best = known.objective if known else math.inf
        if order is None:
            order, reach = range(task.runs), task.runs
        start = _Layer(
            np.zeros(1, np.int64),
            np.array([task.start], np.int64).reshape(1, task.rollers),
            np.zeros(1),
            np.zeros(1),
            np.full(1, -1, np.int64),
            np.full(1, -1, np.int64),
            np.zeros(1),
        )
        root = float(self._bounds(start)[0])
        layers, cut = [start], math.inf
        for _ in range(task.runs):
            grown = self._thinned(self._grown(layers[-1], best, order, reach))
            if not len(grown):
                break
            grown.bound = self._bounds(grown)
            grown = grown.take(grown.bound < best - _NEAR)
            if len(grown) > width:
                ranked = np.argsort(grown.bound, kind="stable")
                cut = min(cut, float(grown.bound[ranked[width]]))
                grown = grown.take(np.sort(ranked[:width]))
            if not len(grown):
                break
            layers.append(grown)
        found = self._traced(layers) if len(layers) == task.runs + 1 else known
        if found is None:
            return None
        # ways to tape that were not tried are in no label: then only the bound of the whole plan is proven
        bound = max(root, min(found.objective, cut)) if self.complete else min(root, found.objective)
        return Found(found.order, found.tapes, found.objective, bound)

    def _traced(self, layers: list[_Layer]) -> Found:
        last = layers[-1]
        value = last.time - self.total + self.task.late_weight * last.late
        at = int(np.argmin(value))
        objective = float(value[at])
        order: list[int] = []
        tapes: list[tuple[int, ...]] = []
        for layer in reversed(layers[1:]):
            order.append(int(layer.run[at]))
            tapes.append(tuple(int(state) for state in layer.tape[at]))
            at = int(layer.parent[at])
        return Found(tuple(reversed(order)), tuple(reversed(tapes)), objective, objective)


def _joined(parts: Sequence[_Layer]) -> _Layer:
    return _Layer(
        np.concatenate([part.done for part in parts]),
        np.concatenate([part.tape for part in parts]),
        np.concatenate([part.time for part in parts]),
        np.concatenate([part.late for part in parts]),
        np.concatenate([part.parent for part in parts]),
        np.concatenate([part.run for part in parts]),
        np.concatenate([part.bound for part in parts]),
    )
