"""A sample of a case: many drawn points, each judged by the same checks and limits as a case of its own.

Columns have one entry per drawn point; nothing is looped over points. A drawn point has single values where the
case has ranges, and wanders over the roller as the case says, so its word is that of its worst place.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, fields

import numpy as np
from scipy.special import ndtr, ndtri

from calcs import checks, corners, placing, profile, units
from calcs.case import Case, Interval
from calcs.corners import Array, Lanes
from calcs.limits import Limit, Limits

Columns = Mapping[str, Array]

CUT = 3.0
"""A normal spread is cut at this many standard deviations."""
_NUDGE = 1e-9
_ROOM = 1e-12
_JUST_PAST = 1e-6
_ZERO_LIMIT = {"mm": 10.0}
"""What a margin to a limit of zero is measured in; shares as they are (default, no source)."""
FIXED = ("kind", "symmetry", "wraps")
"""Checks of the recipe itself: no range moves them, so they have no part in the least margin."""


def inputs_of(case: Case) -> dict[str, Interval]:
    """Every input that a check reads, by its name in the case form, with its range (SI)."""
    found = dict(zip(corners.VARIABLES, corners.ranges_of(case), strict=True))
    found["roller.misalignment_mm_per_m"] = case.roller.misalignment
    found["web.width_mm"] = case.web.width
    found["web.wander_mm"] = case.web.wander
    found["roller.face_mm"] = case.roller.face
    found["roller.surface_temp_c"] = case.roller.surface_temp or Interval.point(0.0)
    found["tape.max_temp_c"] = case.tape.max_temp if case.tape and case.tape.max_temp else Interval.point(0.0)
    return found


def _tied(case: Case) -> dict[str, str]:
    """Inputs that are not given and therefore follow another one."""
    ties = {}
    if case.tape is None:
        ties["tape.roughness_um"] = "roller.roughness_um"
    if case.tape is None or case.tape.friction is None:
        ties["tape.friction"] = "roller.friction"
    return ties


def ranged_inputs(case: Case) -> dict[str, Interval]:
    """The inputs of a case that have a range, by name."""
    ties = _tied(case)
    return {name: found for name, found in inputs_of(case).items() if not found.is_point and name not in ties}


def draw(case: Case, count: int, seed: int) -> dict[str, Array]:
    """Draw points of a case.

    Parameters
    ----------
    case
        ``[low, high]`` is drawn uniformly, mean and sd normally and cut at 3 sd, independently of each other.
    count, seed
        Number of points; the same seed gives the same points.

    Returns
    -------
    dict
        A column of shape (count,) for every input, SI. Each input has its own stream of random numbers, so that
        another range elsewhere does not move it.
    """
    inputs = inputs_of(case)
    chance = np.random.default_rng(seed).random((len(inputs), count))
    columns = {name: _spread(found, row) for (name, found), row in zip(inputs.items(), chance, strict=True)}
    return columns | {name: columns[source] for name, source in _tied(case).items()}


def _spread(found: Interval, chance: Array) -> Array:
    if found.is_point:
        return np.full(chance.shape, found.nominal)
    if found.sd is None:
        return found.low + (found.high - found.low) * chance
    low, high = ndtr(-CUT), ndtr(CUT)
    normal: Array = found.nominal + found.sd * ndtri(low + (high - low) * chance)
    return normal


def nominal_point(case: Case) -> dict[str, Array]:
    """Columns of one row with every input at its nominal value."""
    return {name: np.array([found.nominal]) for name, found in inputs_of(case).items()}


def one_at_a_time(case: Case, names: Sequence[str], points: int) -> dict[str, Array]:
    """Columns in which each named input in turn runs evenly over its range, all others nominal.

    Returns
    -------
    dict
        Shape (len(names) * points,) each, name after name.
    """
    inputs = inputs_of(case)
    columns = {name: np.full(len(names) * points, found.nominal) for name, found in inputs.items()}
    for number, name in enumerate(names):
        rows = slice(number * points, (number + 1) * points)
        columns[name][rows] = np.linspace(inputs[name].low, inputs[name].high, points)
    return columns | {name: columns[source] for name, source in _tied(case).items()}


@dataclass(frozen=True)
class Column:
    """One check over all points, arrays of shape (n,).

    ``margin`` is the distance to the refuse limit as a share of that limit (negative: past it; infinite where
    there is no such limit). Where ``evaluated`` is false the check does not count.
    """

    id: str
    title: str
    evaluated: Array
    past_caution: Array
    past_refuse: Array
    margin: Array


@dataclass(frozen=True)
class Sample:
    """All points judged: one column per check, and the edge ratio with the web in its nominal place, (n,)."""

    columns: tuple[Column, ...]
    ratio: Array

    @property
    def all_fit(self) -> Array:
        """Points at which every check that counts fits, shape (n,)."""
        past = [column.evaluated & (column.past_refuse | column.past_caution) for column in self.columns]
        found: Array = ~np.logical_or.reduce(past)
        return found

    @property
    def none_refused(self) -> Array:
        """Points at which no check that counts refuses, shape (n,)."""
        found: Array = ~np.logical_or.reduce([column.evaluated & column.past_refuse for column in self.columns])
        return found

    @property
    def least_margin(self) -> Array:
        """Least relative margin over all checks that a range can move, shape (n,)."""
        found: Array = np.min(
            [np.where(column.evaluated, column.margin, np.inf) for column in self.columns if column.id not in FIXED],
            axis=0,
        )
        return found

    def tightest(self, row: int) -> str:
        """Id of the check with the least margin at one point."""
        moving = [column for column in self.columns if column.id not in FIXED]
        margins = [column.margin[row] if column.evaluated[row] else np.inf for column in moving]
        return moving[int(np.argmin(margins))].id


def judge_columns(case: Case, columns: Columns, limits: Limits, layers: int = 1, lanes: Lanes | None = None) -> Sample:
    """Judge many drawn points of one case.

    Parameters
    ----------
    case
        Gives the bands, the roller kind, what is porous and what was left out.
    columns
        From :func:`draw` or :func:`one_at_a_time`, shape (n,).
    limits
        The plant's limits.
    layers
        The layers of every band are multiplied by this.
    lanes
        :func:`drawn_lanes` of the same case and columns, when they are there already.

    Returns
    -------
    Sample
        Words of each point are those of :func:`calcs.verdict.check` for a case with these single values.
    """
    values = np.stack([columns[name] for name in corners.VARIABLES], axis=-1)[:, None, :]
    values[..., corners.VARIABLES.index("tape.thickness_mm")] *= layers
    skew = corners.VARIABLES.index("roller.misalignment_mm_per_m")
    values[..., skew] = np.abs(values[..., skew])
    lanes = drawn_lanes(case, columns) if lanes is None else lanes
    field = corners.field_of(values, lanes, np.full((1, 1, 1), case.web.porous), limits.refuse("drag_share"))
    ends = (lanes.covered_halves[:, 0] > 0).sum(axis=-1)
    always = np.ones(ends.shape, bool)
    placed = _placed(case, columns, limits, layers)
    judged = []
    for spec in checks.SPECS:
        counts = ends > 0 if spec.tape_only else always
        if spec.field is not None:
            judged.append(_from_field(spec, case, spec.field(field)[:, 0], limits, counts, ends))
        elif spec.id in placed:
            value, exists = placed[spec.id]
            limit = limits[spec.limits[0]]
            judged.append(_column(spec.id, limit.title, [(limit, value, counts & exists)]))
    return Sample(tuple(judged), field.ratio[:, 0, 0])


def _from_field(spec: checks.Spec, case: Case, values: Array, limits: Limits, counts: Array, ends: Array) -> Column:
    """A check that reads arrays; ``values`` (n, g) over the places of the web."""
    if spec.id == "peak_strain" and case.web.yield_strain is None:
        counts = np.zeros_like(counts)
    if spec.id == "engaged_share":
        names = {"share_two_low": ends != 1, "share_two_high": ends != 1, "share_one_low": ends == 1}
        names["share_one_high"] = ends == 1
    else:
        names = {spec.limits[0]: np.ones_like(counts)}
    parts = [(limits[name], _worst(limits[name], values), counts & mine) for name, mine in names.items()]
    return _column(spec.id, parts[0][0].title.removesuffix(", two ends"), parts)


def _worst(limit: Limit, values: Array) -> Array:
    over_places = np.ascontiguousarray(np.moveaxis(values, -1, 0))  # few places, many points: much faster this way
    found: Array = over_places.max(axis=0) if limit.sense == "max" else over_places.min(axis=0)
    return found


def _column(id_: str, title: str, parts: Sequence[tuple[Limit, Array, Array]]) -> Column:
    """One check from its limits: (limit, value, where it counts)."""
    shape = parts[0][2].shape
    evaluated, caution, refuse = (np.zeros(shape, bool) for _ in range(3))
    margin = np.full(shape, np.inf)
    for limit, value, counts in parts:
        evaluated |= counts
        caution |= counts & limit.breaks(value, limit.caution)
        refuse |= counts & limit.breaks(value, limit.refuse)
        if limit.refuse is not None:
            room = limit.refuse - value if limit.sense == "max" else value - limit.refuse
            scale = abs(limit.refuse) or _ZERO_LIMIT.get(limit.unit, 1.0)
            margin = np.where(counts, np.minimum(margin, room / scale), margin)
    return Column(id_, title, evaluated, caution, refuse, margin)


def chosen(lanes: Lanes, kept: Array) -> Lanes:
    """The lanes of some of the points; ``kept`` is boolean, shape (n,)."""
    return Lanes(*(getattr(lanes, part.name)[kept] for part in fields(lanes)))


def drawn_lanes(case: Case, columns: Columns) -> Lanes:
    """Every point's web at the middle, at both ends of its wander and wherever an edge of tape is crossed."""
    width, wander = columns["web.width_mm"], columns["web.wander_mm"]
    offsets = [np.zeros_like(width)]
    if wander.any() and case.bands:
        offsets += [-wander, wander]
    for a, b, c in profile.crossing_lines(case.bands):
        meeting = (c - a * width) / b
        inside = np.abs(meeting) <= wander + _NUDGE
        if wander.any() and inside.any():
            offsets += [
                np.where(inside, np.clip(meeting + nudge, -wander, wander), 0.0) for nudge in (-_NUDGE, 0.0, _NUDGE)
            ]
    cells = profile.signed_cells(case.bands) or (profile.Cell(0.0, 0.0, 0),)
    rows = np.array([(cell.low, cell.high, cell.wraps) for cell in cells], float).T
    low, high, wraps = rows[:, None, None, :]
    places = np.stack(offsets, axis=-1)
    return corners.lanes_at(np.broadcast_to(width[:, None], places.shape), places, low, high, wraps)


def _placed(case: Case, columns: Columns, limits: Limits, layers: int) -> dict[str, tuple[Array, Array]]:
    """Geometry checks: value in the unit of the limit, and whether it exists; shape (n,)."""
    width, wander, face = (columns[name] for name in ("web.width_mm", "web.wander_mm", "roller.face_mm"))
    always = np.ones(width.shape, bool)
    found = {
        "web_on_face": (((face - width) / 2 - wander) / units.MM, always),
        "wrap_angle": (columns["roller.wrap_deg"] / units.DEG, always),
        "entry_span": (columns["roller.entry_span_mm"] / width, always),
    }
    for name, measure in (("kind", placing.kind(case, limits)), ("symmetry", placing.symmetry(case, limits))):
        found[name] = (np.full(width.shape, measure.nominal), always & (measure.missing is None))
    cells = profile.signed_cells(case.bands)
    if not cells or case.tape is None:
        return found
    reach = max(max(abs(cell.low), abs(cell.high)) for cell in cells)
    most = max(cell.wraps for cell in cells) * layers
    found["wraps"] = (np.full(width.shape, float(most)), always)
    found["build"] = (most * columns["tape.thickness_mm"] / units.MM, always)
    found["band_on_face"] = ((face / 2 - reach) / units.MM, always)
    found["rides_step"] = (_rides_step(case, width, wander, limits), always)
    found["overhang"] = _overhang(case, width, wander)
    if case.roller.surface_temp is not None and case.tape.max_temp is not None:
        found["temperature"] = (columns["tape.max_temp_c"] - columns["roller.surface_temp_c"], always)
    return found


def _rides_step(case: Case, width: Array, wander: Array, limits: Limits) -> Array:
    """As :func:`calcs.placing.rides_step` for columns of single widths."""
    engaged = limits.refuse("engaged") * units.MM
    untouched = -(wander + limits.refuse("clear_of_step") * units.MM)
    least = np.full(width.shape, np.inf)
    for step in profile.rising_steps(case.bands):
        on_tape = width / 2 - step.place
        inside = -np.maximum(np.minimum(engaged - on_tape, on_tape - untouched), _JUST_PAST)
        margin = np.where(on_tape < untouched - _ROOM, untouched - on_tape, inside)
        least = np.minimum(least, np.where(on_tape >= engaged - _ROOM, on_tape - engaged, margin))
    found: Array = (engaged + least) / units.MM
    return found


def _overhang(case: Case, width: Array, wander: Array) -> tuple[Array, Array]:
    """As :func:`calcs.placing.overhang` for columns of single widths, and where an edge touches tape."""
    edge = width / 2
    least = np.full(width.shape, np.inf)
    for end in ("operator", "drive"):
        groups = profile.end_groups(case.bands, end)
        for number, group in enumerate(groups):
            beyond = groups[number + 1][0].low if number + 1 < len(groups) else np.inf
            touched = (edge > group[0].low) & (edge <= beyond)
            least = np.where(touched, np.minimum(least, group[-1].high - edge), least)
    return (least - wander) / units.MM, np.isfinite(least)
