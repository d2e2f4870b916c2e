"""Judging: the numbers of every check of many cases, turned into verdict words.

Operating ranges are visited, so a failure at some operating point with nominal properties is *refused*.
Properties are uncertain, so a failure only when they move inside their range is *cannot tell*.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np

from calcs import checks, corners, placing
from calcs.case import Case
from calcs.checks import Spec
from calcs.corners import Field
from calcs.limits import Limit, Limits
from calcs.placing import Measure

FITS, CAUTION, CANNOT_TELL, REFUSED = "fits", "caution", "cannot tell", "refused"
NOT_EVALUATED = "not evaluated"
ORDER = (FITS, CAUTION, CANNOT_TELL, REFUSED)
"""Verdict words from best to worst; *not evaluated* does not count."""


class Reading(NamedTuple):
    """One check of one case: its numbers, its word and the corner (row, place) of its worst value."""

    spec: Spec
    limit: Limit
    measure: Measure
    word: str
    corner: tuple[int, int] | None = None


def worst_word(words: Iterable[str]) -> str:
    """The worst of the words that count; *fits* when none does."""
    counted = [ORDER.index(word) for word in words if word != NOT_EVALUATED]
    return ORDER[max(counted, default=0)]


def word_for(limit: Limit, measure: Measure) -> str:
    """Verdict word of one measure against one limit."""
    if limit.breaks(measure.operating, limit.refuse) or limit.breaks(measure.nominal, limit.refuse):
        return REFUSED
    if limit.breaks(measure.worst, limit.refuse):
        return CANNOT_TELL
    past = limit.breaks(measure.worst, limit.caution) or limit.breaks(measure.operating, limit.caution)
    return CAUTION if past else FITS


class _Column(NamedTuple):
    """One field check against one limit, for all cases."""

    name: str
    limit: Limit
    nominal: list[float]
    operating: list[float]
    worst: list[float]
    corner: list[tuple[int, int]]
    words: list[str]

    def reading(self, spec: Spec, number: int) -> Reading:
        measure = Measure(self.nominal[number], self.operating[number], self.worst[number])
        return Reading(spec, self.limit, measure, self.words[number], self.corner[number])


def _column(field: Field, spec: Spec, name: str, limit: Limit) -> _Column:
    if spec.field is None:
        raise ValueError(f"{spec.id} reads no field")
    values = spec.field(field)
    pick = np.argmax if limit.sense == "max" else np.argmin
    operating = values[:, list(spec.operating)].reshape(len(values), -1)
    rows = list(dict.fromkeys((*spec.operating, *spec.uncertain)))
    everything = values[:, rows].reshape(len(values), -1)
    each, places = np.arange(len(values)), values.shape[2]
    at = pick(everything, axis=1)
    nominal = values[:, corners.NOMINAL, 0]
    visited = operating[each, pick(operating, axis=1)]
    worst = everything[each, at]
    corner = [(rows[index // places], index % places) for index in at.tolist()]
    return _Column(
        name, limit, nominal.tolist(), visited.tolist(), worst.tolist(), corner, _words(limit, visited, worst)
    )


def _words(limit: Limit, operating: np.ndarray, worst: np.ndarray) -> list[str]:
    """:func:`word_for` of a whole column; the operating points include the nominal one."""
    refused, uncertain = limit.breaks(operating, limit.refuse), limit.breaks(worst, limit.refuse)
    steps = np.where(refused, 3, np.where(uncertain, 2, np.where(limit.breaks(worst, limit.caution), 1, 0)))
    return [ORDER[step] for step in np.broadcast_to(steps, worst.shape).tolist()]


def _limit_names(spec: Spec, ends: int) -> tuple[str, ...]:
    if spec.id == "engaged_share" and ends == 1:
        return ("share_one_low", "share_one_high")
    return spec.limits


def _why_not(spec: Spec, case: Case, ends: int) -> str | None:
    """Why a check is not evaluated, or None."""
    if spec.tape_only and not ends:
        return placing.NO_TAPE
    if spec.id == "peak_strain" and case.web.yield_strain is None:
        return "web.yield_strain_pct"
    return None


@dataclass(frozen=True)
class Judgement:
    """Many cases judged together.

    Attributes
    ----------
    field : Field
        All numbers.
    ends : list of int
        Number of ends with tape under the web at its nominal place, per case.
    overall : list of str
        Overall word per case.
    """

    cases: Sequence[Case]
    limits: Limits
    field: Field
    ends: list[int]
    columns: dict[str, list[_Column]]
    placed: list[dict[str, Reading]]
    overall: list[str]

    def readings(self, number: int) -> tuple[Reading, ...]:
        """Every check of case ``number``, in the order of ``checks.SPECS``."""
        placed = self.placed[number]
        return tuple(
            placed[spec.id] if spec.geometry is not None else self._from_field(spec, number) for spec in checks.SPECS
        )

    def _from_field(self, spec: Spec, number: int) -> Reading:
        ends = self.ends[number]
        missing = _why_not(spec, self.cases[number], ends)
        names = _limit_names(spec, ends)
        if missing is not None:
            return Reading(spec, self.limits[names[0]], Measure(missing=missing), NOT_EVALUATED)
        found = [column.reading(spec, number) for column in self.columns[spec.id] if column.name in names]
        return max(found, key=lambda reading: ORDER.index(reading.word))


_PLACED = tuple(spec for spec in checks.SPECS if spec.geometry is not None)
_FROM_FIELD = tuple(spec for spec in checks.SPECS if spec.field is not None)


def _placed(case: Case, ends: int, limits: Limits) -> dict[str, Reading]:
    found = {}
    for spec in _PLACED:
        missing = _why_not(spec, case, ends)
        measure = Measure(missing=missing) if missing or spec.geometry is None else spec.geometry(case, limits)
        limit = limits.values[spec.limits[0]]
        word = word_for(limit, measure) if measure.missing is None else NOT_EVALUATED
        found[spec.id] = Reading(spec, limit, measure, word)
    return found


def judge(cases: Sequence[Case], limits: Limits) -> Judgement:
    """Evaluate and judge many cases at once.

    Parameters
    ----------
    cases
        At least one.
    limits
        The plant's limits.

    Returns
    -------
    Judgement
        Same order as the cases.
    """
    field = corners.evaluate(cases, limits.refuse("drag_share"))
    ends: list[int] = (field.lanes.covered_halves[:, 0] > 0).sum(axis=-1).tolist()
    columns = {
        spec.id: [
            _column(field, spec, name, limits[name])
            for name in dict.fromkeys((*_limit_names(spec, 2), *_limit_names(spec, 1)))
        ]
        for spec in _FROM_FIELD
    }
    placed = [_placed(case, number, limits) for case, number in zip(cases, ends, strict=True)]
    judgement = Judgement(cases, limits, field, ends, columns, placed, [])
    judgement.overall.extend(_overall(judgement, number) for number in range(len(cases)))
    return judgement


def _overall(judgement: Judgement, number: int) -> str:
    """Worst word of one case, without making its readings."""
    words = {reading.word for reading in judgement.placed[number].values()}
    ends = judgement.ends[number]
    for spec in _FROM_FIELD:
        if _why_not(spec, judgement.cases[number], ends) is None:
            names = _limit_names(spec, ends)
            words.update(column.words[number] for column in judgement.columns[spec.id] if column.name in names)
    return worst_word(words)
