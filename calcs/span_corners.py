"""The two-dimensional span over the ranges of a case: nominal, least and largest of each number.

The span answers linearly to the height of the tape and to the misalignment, and moduli and tension only scale
it, so those ranges cost nothing: every corner of them is looked at by arithmetic. Only another web width, web
offset or ratio of moduli is solved anew (length over width and the place of the bands change). Between the ends of
those ranges the numbers are smooth and all but straight, except where a web edge crosses a band edge, which the
first-order geometry check refuses; a test looks for inner points that are worse.
"""

from __future__ import annotations

import itertools
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from calcs.case import Band, Case, CaseError, Interval
from calcs.profile import signed_cells
from calcs.span import COMPANION_DEGREE, DEGREE, Span, SpanRefused, SpanWeb, bridging_length, range_remarks
from calcs.span_ends import at_points, gradients, join_stack
from calcs.span_legendre import Reals, basis_values
from calcs.span_local import HalfPlane, Remainder, corrections_across
from calcs.span_modes import kept_modes
from calcs.span_profile import Pieces, RollerProfile, TapedStrip, UnderWeb, relative_pieces

_TOGETHER = 48
"""Spans solved at once; the shortest of them sets how many modes are carried from end to end."""
_AT = np.array([-1.0, 0.0, 1.0])
_MIRROR = np.array([2, 1, 0, 3, 6, 5, 4])
_MIRROR_SIGN = np.array([1.0, 1.0, 1.0, 1.0, -1.0, -1.0, -1.0])
"""How the seven numbers of `_responses` change when the roller is mirrored."""
END_NAMES = ("operator", "drive")


@dataclass(frozen=True, slots=True)
class Spread:
    """Nominal value and the least and largest over all corners, SI."""

    nominal: float
    low: float
    high: float


@dataclass(frozen=True, slots=True)
class SpanRanges:
    """Numbers of the span over the ranges of a case.

    Attributes
    ----------
    edge_ratio, centre_loss : Spread
        MD stress at the more loaded web edge over the mean; share of the mean lost in the centre.
    cd_stress_centre : Spread
        CD stress in the middle of the entry, Pa.
    centre_shift, edge_shift_operator, edge_shift_drive : Spread
        Shift to the drive end in the middle; outward shift of the edges, m.
    corners : int
        Combinations looked at.
    solved : int
        Loads solved for them.
    error_estimate : float
        Nominal case against the companion degree, relative to the largest of its kind.
    remarks : tuple of str
        Where the case lies outside the verified range.
    """

    edge_ratio: Spread
    centre_loss: Spread
    cd_stress_centre: Spread
    centre_shift: Spread
    edge_shift_operator: Spread
    edge_shift_drive: Spread
    corners: int
    solved: int
    error_estimate: float
    remarks: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class _Place:
    """One geometry: web width, its offset on the roller and E2/E1; all that has to be solved anew."""

    width: float
    offset: float
    ratio: float


def _places(case: Case) -> list[_Place]:
    """Geometries that matter: the nominal one first, then every corner of width, offset and ratio."""
    web = case.web
    nominal = _Place(web.width.nominal, 0.0, web.modulus_cd.nominal / web.modulus_md.nominal)
    ratios = [nominal.ratio]
    if web.modulus_cd != web.modulus_md and not (web.modulus_cd.is_point and web.modulus_md.is_point):
        ratios = [web.modulus_cd.low / web.modulus_md.high, web.modulus_cd.high / web.modulus_md.low]
    widths = sorted({web.width.low, web.width.high})
    offsets = sorted({-web.wander.high, web.wander.high})
    corners = [_Place(*three) for three in itertools.product(widths, offsets, ratios)]
    return list(dict.fromkeys([nominal, *corners]))


def _mirrored(bands: tuple[Band, ...]) -> bool:
    """Whether both ends carry the same tape, so that one offset is the mirror of the other."""
    ends = [[(band.inner, band.outer, band.wraps) for band in bands if band.end == end] for end in END_NAMES]
    return sorted(ends[0]) == sorted(ends[1])


def _span_at(case: Case, place: _Place) -> Span:
    web = case.web
    modulus = web.modulus_md.nominal
    shear = None if web.shear is None else web.shear.nominal
    sheet = SpanWeb(place.width, web.thickness.nominal, modulus, place.ratio * modulus, web.poisson_md.nominal, shear)
    return Span(sheet, case.roller.entry_span.nominal, case.state.tension.nominal)


def _under_web(case: Case, span: Span, offset: float) -> UnderWeb:
    """Profile at nominal height; the web lies `offset` toward the drive end."""
    layer = 0.0 if case.tape is None else case.tape.thickness.nominal
    radius = case.roller.diameter.nominal / 2.0
    strips = [
        TapedStrip(cell.low - offset, cell.high - offset, cell.wraps * layer) for cell in signed_cells(case.bands)
    ]
    profile = RollerProfile.banded(radius, strips)
    return UnderWeb(profile, span.web.width, [bridging_length(span, radius, step.rise) for step in profile.steps])


def _responses(spans: Sequence[Span], pieces: Sequence[Sequence[Pieces]], degree: int) -> Reals:
    """Answers of one material: per span a unit tilt, then each of its profiles; shape (spans, loads, 7).

    Columns: MD deviation at operator edge, centre and drive edge, CD in the centre (units of the MD modulus);
    shift at operator edge, centre and drive edge (half widths).
    """
    web = spans[0].web
    key = (web.modulus_cd / web.modulus_md, web.poisson_md, web.shear_or_estimate() / web.modulus_md)
    modes = kept_modes(*key, degree)
    loads = 1 + max(len(mine) for mine in pieces)
    profiles, slopes = np.zeros((len(spans), degree + 1, loads)), np.zeros((len(spans), loads))
    slopes[:, 0] = 1.0
    strains, rough = np.zeros((len(spans), loads, 3)), []
    for row, mine in enumerate(pieces):
        for number, piece in enumerate(mine, start=1):
            profiles[row, :, number] = piece.carried(degree + 1)
            strains[row, number] = piece.values(_AT)
            remainder = Remainder.of(piece, degree + 1)
            if remainder is not None:
                rough.append((row * loads + number, remainder))
    ells = np.array([2.0 * span.length / span.web.width for span in spans])
    joined = join_stack(modes, ells, profiles, slopes)
    fields = gradients(modes, joined, at_points(modes, joined.ell, np.asarray(joined.ell)))
    table = basis_values(_AT, degree + 1)
    v, v_y = fields.v.T @ table, fields.v_y.T @ table
    if rough:
        rows = [number for number, _ in rough]
        near = corrections_across(HalfPlane.of(modes.stiffness), [remainder for _, remainder in rough], _AT)
        v[rows] += near[0]
        v_y[rows] += near[1]
    strain = strains.reshape(-1, 3) - joined.relief[:, None]
    stiffness = modes.stiffness
    md = stiffness.c11 * strain[:, 1] + stiffness.c12 * v_y[:, 1]
    cd = stiffness.c12 * strain[:, 1] + stiffness.c22 * v_y[:, 1]
    out: Reals = np.column_stack([strain[:, 0], md, strain[:, 2], cd, v]).reshape(len(spans), loads, 7)
    return out


@dataclass(slots=True)
class _Question:
    """One case on its way: its geometries, what has to be solved, and the answers (profile, unit tilt) so far."""

    case: Case
    places: list[_Place]
    asked: list[_Place]
    spans: dict[_Place, Span]
    remarks: tuple[str, ...]
    pieces: dict[_Place, Pieces]
    rows: dict[_Place, tuple[Reals, Reals]]
    coarse: Reals

    @property
    def nominal(self) -> _Place:
        """The nominal geometry."""
        return self.places[0]


@dataclass(frozen=True, slots=True)
class _Task:
    """Places of one question that share a span: one length, one material."""

    question: _Question
    span: Span
    places: tuple[_Place, ...]
    degree: int

    @property
    def key(self) -> tuple[float, float, float, int]:
        """Material and degree."""
        web = self.span.web
        return (
            web.modulus_cd / web.modulus_md,
            web.poisson_md,
            web.shear_or_estimate() / web.modulus_md,
            self.degree,
        )

    def take(self, answers: Reals) -> None:
        """Keep the answers, shifts in m."""
        found = answers.copy()
        found[:, 4:] *= self.span.web.width / 2
        if self.degree == COMPANION_DEGREE:
            self.question.coarse = found
            return
        shapes = iter(found[1:])
        for place in self.places:
            shape = next(shapes) if place in self.question.pieces else np.zeros(7)
            self.question.rows[place] = (shape, found[0])


def _question(case: Case) -> _Question:
    """Lay a case out.

    Raises
    ------
    CaseError
        Where no number can be given.
    """
    places = _places(case)
    spans = {place: _span_at(case, place) for place in places}
    try:
        remarks = tuple(dict.fromkeys(said for place in places for said in range_remarks(spans[place])))
    except SpanRefused as refusal:
        raise CaseError("roller.entry_span_mm", str(refusal)) from None
    asked = [place for place in places if place.offset >= 0.0] if _mirrored(case.bands) else places
    return _Question(case, places, asked, spans, remarks, {}, {}, np.zeros((1, 7)))


def _cut_profiles(questions: Sequence[_Question]) -> None:
    """The profiles of all questions under their webs, in one go."""
    wanted = [
        (question, place)
        for question in questions
        if question.case.tape is not None and question.case.bands
        for place in question.asked
    ]
    under = [_under_web(question.case, question.spans[place], place.offset) for question, place in wanted]
    for (question, place), piece in zip(wanted, relative_pieces(under, DEGREE + 1), strict=True):
        question.pieces[place] = piece


def _tasks(question: _Question) -> list[_Task]:
    groups: dict[tuple[float, float], list[_Place]] = {}
    for place in question.asked:
        groups.setdefault((place.width, place.ratio), []).append(place)
    tasks = [_Task(question, question.spans[places[0]], tuple(places), DEGREE) for places in groups.values()]
    nominal = question.nominal
    return [*tasks, _Task(question, question.spans[nominal], (nominal,), COMPANION_DEGREE)]


def _answer(tasks: Sequence[_Task]) -> None:
    """Solve tasks material by material, those of like length over width together."""
    by_material: dict[tuple[float, float, float, int], list[_Task]] = {}
    for task in tasks:
        by_material.setdefault(task.key, []).append(task)
    for key, mine in by_material.items():
        mine.sort(key=lambda task: task.span.length / task.span.web.width)
        for at in range(0, len(mine), _TOGETHER):
            some = mine[at : at + _TOGETHER]
            pieces = [
                [task.question.pieces[place] for place in task.places if place in task.question.pieces] for task in some
            ]
            found = _responses([task.span for task in some], pieces, key[3])
            for task, answers in zip(some, found, strict=True):
                task.take(answers)


def _ranges(question: _Question) -> SpanRanges:
    rows = question.rows
    for place in question.places:
        if place not in rows:
            shape, tilt = rows[_Place(place.width, -place.offset, place.ratio)]
            rows[place] = (shape[_MIRROR] * _MIRROR_SIGN, tilt)
    shapes = np.array([rows[place][0] for place in question.places])
    tilts = np.array([rows[place][1] for place in question.places])
    fine = np.array(rows[question.nominal][::-1])[: question.coarse.shape[0]]
    solved = len(question.pieces) + len({(place.width, place.ratio) for place in question.asked})
    error = _relative(fine, question.coarse)
    return _combined(question.case, shapes, tilts, solved, error, question.remarks)


def span_ranges_many(cases: Sequence[Case]) -> list[SpanRanges | CaseError]:
    """Numbers of the span for many cases, each at nominal values and over every corner of its ranges.

    Parameters
    ----------
    cases : sequence of Case
        Ranges of tension, thickness, moduli, tape thickness, diameter, misalignment, width and wander are used;
        the entry span and nu12 are taken at their nominal values. Cases of one material are solved together, so
        hand a whole line or plant over at once (some hundreds of cases at a time keep memory small).

    Returns
    -------
    list of SpanRanges or CaseError
        In the order of the cases; a refusal stands in the place of the case that no number can be given for.
    """
    laid: list[_Question | CaseError] = []
    for case in cases:
        try:
            laid.append(_question(case))
        except CaseError as refusal:
            laid.append(refusal)
    questions = [entry for entry in laid if isinstance(entry, _Question)]
    _cut_profiles(questions)
    _answer([task for question in questions for task in _tasks(question)])
    return [_ranges(entry) if isinstance(entry, _Question) else entry for entry in laid]


def span_ranges(case: Case) -> SpanRanges:
    """As `span_ranges_many` for one case.

    Raises
    ------
    CaseError
        Where no number can be given; the sentence says why.
    """
    found = span_ranges_many([case])[0]
    if isinstance(found, CaseError):
        raise found
    return found


def _relative(fine: Reals, coarse: Reals) -> float:
    """Largest change, relative to the largest of its kind (MD, CD, shift) in the same load."""
    worst = 0.0
    for one, two in zip(fine, coarse, strict=True):
        size = float(np.abs(one).max())
        for kind in (slice(0, 3), slice(3, 4), slice(4, 7)):
            largest = float(np.abs(one[kind]).max())
            if largest > 1e-9 * size:
                worst = max(worst, float(np.abs(one[kind] - two[kind]).max()) / largest)
    return worst


def _factors(case: Case) -> Reals:
    """Nominal first, then every corner: (E h / T, E, height over nominal height, misalignment), shape (k, 4)."""
    web, roller, tape = case.web, case.roller, case.tape
    height = Interval.point(1.0)
    if tape is not None:
        nominal = tape.thickness.nominal / roller.diameter.nominal
        height = Interval(
            tape.thickness.low / roller.diameter.high / nominal,
            1.0,
            tape.thickness.high / roller.diameter.low / nominal,
        )
    axes = (web.modulus_md, web.thickness, case.state.tension, height, roller.misalignment)
    rows = []
    for modulus, thickness, tension, rise, tilt in [
        tuple(axis.nominal for axis in axes),
        *itertools.product(*((axis.low, axis.high) if not axis.is_point else (axis.nominal,) for axis in axes)),
    ]:
        rows.append((modulus * thickness / tension, modulus, rise, tilt))
    return np.array(rows)


def _combined(
    case: Case, shapes: Reals, tilts: Reals, solved: int, error: float, remarks: tuple[str, ...]
) -> SpanRanges:
    """Every geometry with every corner; the first row and the first column are nominal."""
    slack, modulus, rise, tilt = _factors(case).T[:, None, :, None]
    total = rise * shapes[:, None, :] + tilt * tilts[:, None, :]
    ratio = 1.0 + slack * total

    def spread(values: Reals) -> Spread:
        return Spread(float(values[0, 0]), float(values.min()), float(values.max()))

    return SpanRanges(
        edge_ratio=spread(np.maximum(ratio[..., 0], ratio[..., 2])),
        centre_loss=spread(1.0 - ratio[..., 1]),
        cd_stress_centre=spread((modulus * total)[..., 3]),
        centre_shift=spread(total[..., 5]),
        edge_shift_operator=spread(-total[..., 4]),
        edge_shift_drive=spread(total[..., 6]),
        corners=int(total.shape[0] * total.shape[1]),
        solved=solved,
        error_estimate=error,
        remarks=remarks,
    )
