"""The bands as a profile along the roller, and where the web edges can come to lie on it.

Lengths in m from the roller centre; positive is the drive end. Everything here is geometry.
"""

from __future__ import annotations

import itertools
from dataclasses import dataclass
from functools import lru_cache

from calcs.case import Band, Case

LANE_GAP = 1.0e-3
"""Lanes of one band may leave gaps up to this; for edge rules they count as joined (trade practice)."""
_NUDGE = 1e-9
_TINY = 1e-12
_JUST_PAST = 1e-6
"""The inner end of the forbidden range is itself forbidden: a micrometre past it, so that it shows."""
_REMEMBERED = 4096
"""A plant has few band layouts and asks about each for many products."""


@dataclass(frozen=True, slots=True)
class Cell:
    """A stretch of one height: ``low`` to ``high`` along the roller, ``wraps`` layers."""

    low: float
    high: float
    wraps: int


@dataclass(frozen=True, slots=True)
class Step:
    """An edge of tape at ``place`` from the centre; positive ``rise`` means higher outward."""

    end: str
    place: float
    rise: int


@lru_cache(maxsize=_REMEMBERED)
def end_cells(bands: tuple[Band, ...], end: str) -> tuple[Cell, ...]:
    """Cells of one end, outward, as distances from the centre; overlapping bands add."""
    mine = [band for band in bands if band.end == end and band.wraps > 0]
    if len(mine) == 1:
        return (Cell(mine[0].inner, mine[0].outer, mine[0].wraps),)
    edges = sorted({edge for band in mine for edge in (band.inner, band.outer)})
    cells: list[Cell] = []
    for low, high in itertools.pairwise(edges):
        wraps = sum(band.wraps for band in mine if band.inner <= low and band.outer >= high)
        if wraps and cells and cells[-1].high == low and cells[-1].wraps == wraps:
            cells[-1] = Cell(cells[-1].low, high, wraps)
        elif wraps:
            cells.append(Cell(low, high, wraps))
    return tuple(cells)


@lru_cache(maxsize=_REMEMBERED)
def signed_cells(bands: tuple[Band, ...]) -> tuple[Cell, ...]:
    """Cells of both ends on one axis, highest first (the order that slack needs)."""
    operator = [Cell(-cell.high, -cell.low, cell.wraps) for cell in end_cells(bands, "operator")]
    return tuple(sorted([*operator, *end_cells(bands, "drive")], key=lambda cell: -cell.wraps))


@lru_cache(maxsize=_REMEMBERED)
def end_groups(bands: tuple[Band, ...], end: str) -> tuple[tuple[Cell, ...], ...]:
    """Cells of one end in groups that touch (gaps up to ``LANE_GAP`` count as touching), outward."""
    groups: list[list[Cell]] = []
    for cell in end_cells(bands, end):
        if groups and cell.low - groups[-1][-1].high <= LANE_GAP + _NUDGE:
            groups[-1].append(cell)
        else:
            groups.append([cell])
    return tuple(tuple(group) for group in groups)


@lru_cache(maxsize=_REMEMBERED)
def rising_steps(bands: tuple[Band, ...]) -> tuple[Step, ...]:
    """All steps up, seen from the centre outward: the edges that a web edge must not ride."""
    steps = []
    for end in ("operator", "drive"):
        for group in end_groups(bands, end):
            below = 0
            for cell in group:
                if cell.wraps > below:
                    steps.append(Step(end, cell.low, cell.wraps - below))
                below = cell.wraps
    return tuple(steps)


def asymmetry(bands: tuple[Band, ...]) -> float | None:
    """Largest difference in place between the two ends, m; infinite when the layers differ; None for one end."""
    operator, drive = end_cells(bands, "operator"), end_cells(bands, "drive")
    if not operator or not drive:
        return None
    if [cell.wraps for cell in operator] != [cell.wraps for cell in drive]:
        return float("inf")
    pairs = zip(operator, drive, strict=True)
    return max(max(abs(a.low - b.low), abs(a.high - b.high)) for a, b in pairs)


def step_margin(low: float, high: float, wander: float, engaged: float, clear: float) -> float:
    """Margin of *web edge rides the step* over an interval of engaged widths, m.

    Parameters
    ----------
    low, high
        Engaged width at the narrowest and widest web, web centred on the roller; negative when the edge
        stays inside the step.
    wander, engaged, clear
        Web wander; smallest engaged width that passes; room that an untouched step needs beyond the wander.

    Returns
    -------
    float
        Positive: clear of the forbidden range -(wander + clear) <= engaged width < ``engaged``, by that
        much. The wander is in these figures, so the edge is tested where it nominally lies.
    """
    if low >= engaged - _TINY:
        return low - engaged
    untouched = -(wander + clear)
    if high < untouched - _TINY:
        return untouched - high
    return -max(min(engaged - low, high - untouched), _JUST_PAST)


def overhang(bands: tuple[Band, ...], end: str, low: float, high: float) -> float | None:
    """Smallest distance that tape reaches past the web edge, for edges between ``low`` and ``high``, m.

    Only the outermost group that the edge touches counts. None where the edge touches no tape.
    """
    groups = end_groups(bands, end)
    found = []
    for number, group in enumerate(groups):
        beyond = groups[number + 1][0].low if number + 1 < len(groups) else float("inf")
        first, last = max(low, group[0].low), min(high, beyond)
        if first <= last and last > group[0].low:
            found.append(group[-1].high - last)
    return min(found, default=None)


def web_places(case: Case) -> list[tuple[float, float]]:
    """Web widths and offsets that have to be tried, nominal first.

    Returns
    -------
    list of tuple
        (width, offset of the web centre toward the drive end), m.

    Notes
    -----
    Widths and wander span a rectangle. Within the parts of it where the web edges stay on the same cells,
    share, mean height and so every first-order result is a ratio of linear functions of width and offset,
    largest at a corner of the part. So the corners of the rectangle are tried and, where a web edge can
    cross an edge of tape, both sides of the crossing. Lateral hold is quadratic in the offset with its
    crest where the mean rise lies at the middle of the half web: that line is tried as well.
    """
    width, wander = case.web.width, case.web.wander.high
    widths = (width.low,) if width.is_point else (width.low, width.high)
    offsets = (0.0,) if wander == 0 else (-wander, wander)
    corners = [(w, u) for w in widths for u in offsets]
    places = [(width.nominal, 0.0), *corners]
    lines = [line for line in crossing_lines(case.bands) if _crosses(line, corners)]
    box = [(1.0, 0.0, w) for w in widths] + [(0.0, 1.0, u) for u in offsets]
    for number, line in enumerate(lines):
        for other in lines[number + 1 :] + box:
            meeting = _meeting(line, other)
            if meeting is not None:
                places.extend(_around(meeting, (width.low, width.high), wander))
    return list(dict.fromkeys(places))


@lru_cache(maxsize=_REMEMBERED)
def crossing_lines(bands: tuple[Band, ...]) -> tuple[tuple[float, float, float], ...]:
    """Lines a w + b u = c along which a web edge meets an edge of tape, or lateral hold has its crest."""
    lines = []
    for end, sign in (("operator", -1.0), ("drive", 1.0)):
        total, weighted, below, reached = 0, 0.0, 0, -1.0
        for cell in end_cells(bands, end):
            if cell.low > reached and below:
                lines.append((0.5, sign, reached))
                total, weighted, below = total - below, weighted - below * reached, 0
            lines.append((0.5, sign, cell.low))
            total, weighted = total + cell.wraps - below, weighted + (cell.wraps - below) * cell.low
            if total:
                lines.append((0.25, sign, weighted / total))
            below, reached = cell.wraps, cell.high
        if below:
            lines.append((0.5, sign, reached))
    return tuple(lines)


def _crosses(line: tuple[float, float, float], corners: list[tuple[float, float]]) -> bool:
    a, b, c = line
    sides = [a * w + b * u - c for w, u in corners]
    return min(sides) <= _NUDGE and max(sides) >= -_NUDGE


def _meeting(first: tuple[float, float, float], second: tuple[float, float, float]) -> tuple[float, float] | None:
    (a, b, c), (d, e, f) = first, second
    determinant = a * e - b * d
    if abs(determinant) < _TINY:
        return None
    return (c * e - b * f) / determinant, (a * f - c * d) / determinant


def _around(place: tuple[float, float], widths: tuple[float, float], wander: float) -> list[tuple[float, float]]:
    """The place and its near neighbours, as far as they lie in the rectangle."""
    w, u = place
    near = [(w + dw, u + du) for dw in (-2 * _NUDGE, 0, 2 * _NUDGE) for du in (-_NUDGE, 0, _NUDGE)]
    (low, high), slack = widths, _TINY
    return [
        (min(max(x, low), high), min(max(y, -wander), wander))
        for x, y in near
        if low - slack <= x <= high + slack and -wander - slack <= y <= wander + slack
    ]
