"""Judging: the numbers of every check of many cases, turned into verdict words.

Operating ranges are visited, so a failure at some operating point with nominal properties is *refused*.
Properties are uncertain, so a failure only when they move inside their range is *cannot tell*.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import numpy as np

from calcs import checks, corners
from calcs.case import Case
from calcs.checks import Measure, Spec
from calcs.corners import Field
from calcs.limits import Limit, Limits

FITS, CAUTION, CANNOT_TELL, REFUSED = "fits", "caution", "cannot tell", "refused"
NOT_EVALUATED = "not evaluated"
ORDER = (FITS, CAUTION, CANNOT_TELL, REFUSED)
"""Verdict words from best to worst; *not evaluated* does not count."""


@dataclass(frozen=True, slots=True)
class Reading:
    """One check of one case: its numbers, its word and the corner (row, place) of its worst value."""

    spec: Spec
    limit: Limit
    measure: Measure
    word: str
    corner: tuple[int, int] | None = None


@dataclass(frozen=True, slots=True)
class Judged:
    """All readings of one case and the overall word."""

    readings: tuple[Reading, ...]
    overall: str


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


@dataclass(frozen=True, slots=True)
class _Column:
    """One field check for all cases: nominal, worst operating and worst values and the worst corner."""

    nominal: list[float]
    operating: list[float]
    worst: list[float]
    corner: list[tuple[int, int]]


def _column(field: Field, spec: Spec, sense: str) -> _Column:
    assert spec.field is not None  # noqa: S101 - only called for field checks
    values = spec.field(field)
    pick = np.argmax if sense == "max" else np.argmin
    operating = values[:, list(spec.operating)].reshape(len(values), -1)
    rows = list(dict.fromkeys((*spec.operating, *spec.uncertain)))
    everything = values[:, rows].reshape(len(values), -1)
    each, places = np.arange(len(values)), values.shape[2]
    at = pick(everything, axis=1)
    return _Column(
        nominal=values[:, corners.NOMINAL, 0].tolist(),
        operating=operating[each, pick(operating, axis=1)].tolist(),
        worst=everything[each, at].tolist(),
        corner=[(rows[index // places], index % places) for index in at.tolist()],
    )


def _columns(field: Field, limits: Limits) -> dict[tuple[str, str], _Column]:
    found = {}
    for spec in checks.SPECS:
        if spec.field is not None:
            for sense in dict.fromkeys(limits[name].sense for name in spec.limits):
                found[spec.id, sense] = _column(field, spec, sense)
    return found


def _why_not(spec: Spec, case: Case, touched: bool) -> str | None:
    """Why a check is not evaluated, or None."""
    if spec.tape_only and not touched:
        return checks.NO_TAPE
    if spec.id == "peak_strain" and case.web.yield_strain is None:
        return "web.yield_strain_pct"
    return None


def _limit_names(spec: Spec, ends: int) -> tuple[str, ...]:
    if spec.id == "engaged_share" and ends == 1:
        return ("share_one_low", "share_one_high")
    return spec.limits


def _reading(
    spec: Spec, case: Case, limits: Limits, columns: dict[tuple[str, str], _Column], number: int, ends: int
) -> Reading:
    names = _limit_names(spec, ends)
    missing = _why_not(spec, case, ends > 0)
    if missing is None and spec.geometry is not None:
        measure = spec.geometry(case, limits)
        missing = measure.missing
        if missing is None:
            limit = limits[names[0]]
            return Reading(spec, limit, measure, word_for(limit, measure))
    if missing is not None:
        return Reading(spec, limits[names[0]], Measure(missing=missing), NOT_EVALUATED)
    found = []
    for name in names:
        limit = limits[name]
        column = columns[spec.id, limit.sense]
        measure = Measure(column.nominal[number], column.operating[number], column.worst[number])
        found.append(Reading(spec, limit, measure, word_for(limit, measure), column.corner[number]))
    return max(found, key=lambda reading: ORDER.index(reading.word))


def taped_ends(field: Field) -> list[int]:
    """Number of ends with tape under the web at its nominal place, for each case."""
    found: list[int] = (field.lanes.covered_halves[:, 0] > 0).sum(axis=-1).tolist()
    return found


def judge(cases: Sequence[Case], limits: Limits) -> tuple[Field, list[Judged]]:
    """Evaluate and judge many cases at once.

    Parameters
    ----------
    cases
        At least one.
    limits
        The plant's limits.

    Returns
    -------
    tuple
        The field of numbers and one Judged per case, in order.
    """
    field = corners.evaluate(cases, limits.refuse("drag_share"))
    columns = _columns(field, limits)
    ends = taped_ends(field)
    judged = []
    for number, case in enumerate(cases):
        readings = tuple(_reading(spec, case, limits, columns, number, ends[number]) for spec in checks.SPECS)
        judged.append(Judged(readings, worst_word(reading.word for reading in readings)))
    return field, judged
