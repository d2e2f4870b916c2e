"""Indicator at the entry: does the web arrive flat, lane by lane, with the tape and without it?

In each lane (between band edges) the stresses are averaged over half a trough wavelength across and over the
last half wavelength before the roller, at least half a wavelength from any band edge: a band edge and the
corners of the span are singular, so a least value at a point would mean nothing. The least averages stand
against 0 (flat) and against the compression at which a web on a roller wrinkles. An indicator, not a verdict.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from calcs.span import Span, SpanResult
from calcs.span_legendre import Reals
from calcs.span_solution import Stresses
from calcs.wrinkle import roller_wrinkle_stress, trough_stress

_MOST_WINDOWS = 25
_KPA = 1e3


@dataclass(frozen=True, slots=True)
class LaneStress:
    """Least averaged stresses in one lane, Pa (total MD stress included), taped load and misalignment alone.

    `lower` and `upper` bound the lane (m from the web centre); `raised` says whether it lies on tape.
    """

    lower: float
    upper: float
    raised: bool
    cd_least: float
    cd_least_bare: float
    cd_mean: float
    minor_least: float
    minor_least_bare: float


@dataclass(frozen=True, slots=True)
class EntryIndicator:
    """How flat the web arrives.

    Attributes
    ----------
    lanes : tuple of LaneStress
        From the operator end; lanes narrower than a wavelength are left out and named in `remarks`.
    cd_centre, cd_centre_bare : float
        CD stress in the middle of the web, averaged over the same window, Pa.
    cd_edge_operator, cd_edge_drive : float
        The same for the window beside each web edge, Pa.
    cd_least, cd_least_bare, minor_least, minor_least_bare : float
        Least over all lanes, Pa.
    flat_limit, roller_limit : float
        0, and minus the wrinkling stress on the roller, Pa.
    trough_limit : float
        Compression at which the span alone troughs, Pa (positive).
    sentence : str
        What the numbers say.
    """

    lanes: tuple[LaneStress, ...]
    cd_centre: float
    cd_centre_bare: float
    cd_edge_operator: float
    cd_edge_drive: float
    cd_least: float
    cd_least_bare: float
    minor_least: float
    minor_least_bare: float
    flat_limit: float
    roller_limit: float
    trough_limit: float
    remarks: tuple[str, ...]
    sentence: str


def stress_limits(span: Span, radius: float) -> tuple[float, float]:
    """Trough limit of the span and wrinkle limit on the roller, Pa, both positive.

    The orthotropic web enters the isotropic formulas with E_CD (trough) and sqrt(E_MD E_CD) (roller), and with
    nu12 nu21 for nu squared: derived, approximate.
    """
    web = span.web
    mixed = (web.poisson_md**2 * web.modulus_cd / web.modulus_md) ** 0.5
    trough = trough_stress(web.modulus_cd, web.thickness, mixed, span.length, span.tension / web.thickness)
    both = (web.modulus_md * web.modulus_cd) ** 0.5
    return trough, roller_wrinkle_stress(both, web.thickness, mixed, radius)


def minor_principal(stress: Stresses) -> Reals:
    """Least principal stress of each state."""
    middle, half = 0.5 * (stress.md + stress.cd), 0.5 * (stress.md - stress.cd)
    least: Reals = middle - np.sqrt(half * half + stress.shear * stress.shear)
    return least


def entry_indicator(taped: SpanResult, bare: SpanResult) -> EntryIndicator:
    """Compare the entry with tape and with the misalignment alone.

    Parameters
    ----------
    taped, bare : SpanResult
        The same span; `bare` has the same misalignment and a plain cylinder.

    Returns
    -------
    EntryIndicator
    """
    span, half = taped.span, taped.span.web.width / 2.0
    window = taped.half_wave
    edges = list(taped.solved.pieces.edges * half)
    bounds = [-half, *edges, half]
    remarks, spots, owner = [], [], []
    lanes = list(pairwise(bounds))
    for index, (lower, upper) in enumerate(lanes):
        centres = _centres(lower, upper, window, half)
        if centres.size == 0:
            remarks.append(
                f"Not evaluated: the lane from {1e3 * lower:.0f} to {1e3 * upper:.0f} mm is narrower than a trough "
                f"wavelength ({2e3 * window:.0f} mm)."
            )
        spots.append(centres)
        owner += [index] * centres.size
    special = np.array([0.0, -half + window / 2.0, half - window / 2.0])
    centres = np.concatenate([*spots, special])
    with_tape, alone = _averages(taped, centres, window), _averages(bare, centres, window)
    rows = []
    for index, (lower, upper) in enumerate(lanes):
        chosen = np.array([at for at, lane in enumerate(owner) if lane == index], dtype=np.int64)
        if chosen.size:
            rows.append(_lane(taped, (lower, upper), chosen, with_tape, alone))
    trough, wrinkle = stress_limits(span, taped.load.profile.radius)
    tail = slice(len(owner), None)
    cd, cd_bare = with_tape.cd[tail], alone.cd[tail]
    return EntryIndicator(
        lanes=tuple(rows),
        cd_centre=float(cd[0]),
        cd_centre_bare=float(cd_bare[0]),
        cd_edge_operator=float(cd[1]),
        cd_edge_drive=float(cd[2]),
        cd_least=_least(row.cd_least for row in rows),
        cd_least_bare=_least(row.cd_least_bare for row in rows),
        minor_least=_least(row.minor_least for row in rows),
        minor_least_bare=_least(row.minor_least_bare for row in rows),
        flat_limit=0.0,
        roller_limit=-wrinkle,
        trough_limit=trough,
        remarks=tuple(remarks),
        sentence=_sentence(rows, wrinkle, taped),
    )


def _least(values: Iterable[float]) -> float:
    return float(min(values, default=float("nan")))


def _centres(lower: float, upper: float, window: float, half: float) -> Reals:
    """Middles of the windows: half a wavelength from band edges, wholly inside the web."""
    first = lower + (window / 2.0 if lower <= -half else window)
    last = upper - (window / 2.0 if upper >= half else window)
    if last < first:
        return np.zeros(0)
    count = int(min(_MOST_WINDOWS, max(2, np.ceil((last - first) / (window / 2.0)) + 1)))
    return np.linspace(first, last, count)


def _averages(result: SpanResult, centres: Reals, window: float) -> Stresses:
    """Total stresses in Pa, averaged over each window."""
    web = result.span.web
    half = web.width / 2.0
    mean = result.solved.windows((centres - window / 2.0) / half, (centres + window / 2.0) / half, window / half)
    level = result.span.tension / web.thickness
    return Stresses(mean.md * web.modulus_md + level, mean.cd * web.modulus_md, mean.shear * web.modulus_md)


def _lane(
    taped: SpanResult,
    bounds: tuple[float, float],
    chosen: np.ndarray,
    with_tape: Stresses,
    alone: Stresses,
) -> LaneStress:
    lower, upper = bounds
    middle = np.array([lower + upper]) / taped.span.web.width
    level = taped.solved.pieces.values(middle)[0] > 0.5 * _highest(taped)
    return LaneStress(
        lower,
        upper,
        bool(level),
        float(with_tape.cd[chosen].min()),
        float(alone.cd[chosen].min()),
        float(with_tape.cd[chosen].mean()),
        float(minor_principal(with_tape)[chosen].min()),
        float(minor_principal(alone)[chosen].min()),
    )


def _highest(taped: SpanResult) -> float:
    eta = np.linspace(-0.999, 0.999, 401)
    return max(float(taped.solved.pieces.values(eta).max()), 1e-12)


def _sentence(rows: Sequence[LaneStress], wrinkle: float, taped: SpanResult) -> str:
    open_lanes = [row for row in rows if not row.raised] or list(rows)
    if not open_lanes:
        return "No lane is as wide as a trough wavelength; the entry is not evaluated."
    lane = min(open_lanes, key=lambda row: row.minor_least)
    slope = 1e3 * taped.load.misalignment
    if not taped.solved.pieces.edges.size and not taped.load.profile.knots:
        first = f"{slope:.3g} mm/m alone leaves {lane.minor_least / _KPA:+.3g} kPa across the web at the entry."
    else:
        first = (
            f"The profile leaves at least {lane.minor_least / _KPA:+.3g} kPa across the bare lane at the entry, where "
            f"{slope:.3g} mm/m alone leaves {lane.minor_least_bare / _KPA:+.3g} kPa."
        )
    minor = min(row.minor_least for row in rows)
    if minor >= 0.0:
        second = "No lane is in compression: the web arrives flat."
    elif minor > -wrinkle:
        second = (
            f"The most compressed lane stands at {minor / _KPA:.3g} kPa: not flat, but less than the "
            f"{-wrinkle / _KPA:.3g} kPa at which a web on this roller wrinkles."
        )
    else:
        second = (
            f"The most compressed lane stands at {minor / _KPA:.3g} kPa, beyond the {-wrinkle / _KPA:.3g} kPa at which "
            "a web on this roller wrinkles."
        )
    return f"{first} {second}"
