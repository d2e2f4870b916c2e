"""Indicator for the span itself: the least misalignment at which the tensioned plate troughs.

Rayleigh-Ritz: deflection = sum of sin(m pi x / L) times cubic splines across the web, edges free, orthotropic
bending, membrane stresses from the span solver. Tension and tape are there from the start; the misalignment
is the load factor. Energy of Kirchhoff's plate with initial stresses (any text on plate buckling, for example
Timoshenko and Gere). An indicator, not a verdict: absolute levels in plants also depend on how flat the web is.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from scipy.interpolate import BSpline
from scipy.linalg import LinAlgError, cho_solve_banded, cholesky_banded

from calcs.span import Span, SpanLoad, SpanResult, half_wavelength, solve
from calcs.span_legendre import Reals
from calcs.span_profile import RollerProfile
from calcs.wrinkle import misalignment_for, shear_for, trough_stress

_PER_WAVE = 7
"""Spline intervals per trough wavelength, first try."""
_FIRST_TERMS = 8
_TOLERANCE = 0.01
_MOST_INTERVALS = 800
_MOST_TERMS = 20
_GAUSS = 4
_STATIONS_PER_TERM = 4
_DOUBLINGS = 16
_BRACKET = 0.004
_LOWEST = 1e-4
_INVERSE_STEPS = 6


@dataclass(frozen=True, slots=True)
class SpanBuckling:
    """Least misalignment at which the span troughs.

    Attributes
    ----------
    critical : float
        Least magnitude over both directions, rad; 0 when the profile alone troughs the span, infinite when no
        misalignment of either direction does.
    critical_drive, critical_operator : float
        The same for a positive and for a negative misalignment (web driven to the drive or operator end), rad.
    profile_margin : float
        Share of the profile that the span bears flat when aligned; below 1 the profile alone troughs the span,
        infinite when it does not (how far it could grow is not worked out).
    before_roller, across : float
        Where the profile alone troughs the span most, m before the roller and m from the centre; NaN if it does not.
    terms, splines : int
        Size of the converged series along and across.
    change : float
        Relative change of `critical` in the last refinement; more than 0.01 means not converged. Longer series only
        lower it, so a critical value of 0 needs no refinement, and `profile_margin` is then an upper bound.
    """

    critical: float
    critical_drive: float
    critical_operator: float
    profile_margin: float
    before_roller: float
    across: float
    terms: int
    splines: int
    change: float


@dataclass(frozen=True, slots=True)
class _Found:
    """Critical values at one size of the series."""

    drive: float
    operator: float
    margin: float
    before_roller: float = math.nan
    across: float = math.nan

    @property
    def least(self) -> float:
        """Least of both directions."""
        return min(self.drive, self.operator)


def span_buckling(result: SpanResult) -> SpanBuckling:
    """Least misalignment at which the span of `result` troughs, its profile acting in full.

    Parameters
    ----------
    result : SpanResult
        Span and profile; its own misalignment is not used.

    Returns
    -------
    SpanBuckling
        Converged to 1 % in the number of terms along and of splines across, or saying how far it got.
    """
    span = result.span
    profile_load = SpanLoad(result.load.profile, 0.0, result.load.bridged)
    tilt = SpanLoad(RollerProfile(result.load.profile.radius), 1.0)
    shaped, tilted = solve(span, [profile_load, tilt])
    wave = 2.0 * half_wavelength(span)
    intervals = int(min(_MOST_INTERVALS, max(32, _PER_WAVE * span.web.width / wave)))
    terms = _FIRST_TERMS
    found, change = _critical(shaped, tilted, terms, intervals, _guess(span)), math.inf
    while found.margin > 1.0 and terms < _MOST_TERMS and change > _TOLERANCE:
        terms, intervals = terms + 4, min(_MOST_INTERVALS, int(1.25 * intervals))
        near = 0.9 * found.drive if 0.0 < found.drive < math.inf else _guess(span)
        finer = _critical(shaped, tilted, terms, intervals, near)
        old, new = found.least, finer.least
        both = math.isfinite(old) and math.isfinite(new) and new > 0.0
        change = abs(new - old) / new if both else (0.0 if old == new else math.inf)
        found = finer
    if found.margin <= 1.0:
        change = 0.0
    return SpanBuckling(
        found.least,
        found.drive,
        found.operator,
        found.margin,
        found.before_roller,
        found.across,
        terms,
        intervals + 3,
        float(change),
    )


def _guess(span: Span) -> float:
    """Misalignment at which a slender isolated span would trough, rad; a place to start the search."""
    web, level = span.web, span.tension / span.web.thickness
    mixed = math.sqrt(web.poisson_md**2 * web.modulus_cd / web.modulus_md)
    shear = shear_for(trough_stress(web.modulus_cd, web.thickness, mixed, span.length, level), level)
    return 0.5 * misalignment_for(shear, span.length, web.modulus_md, web.width)


@dataclass(frozen=True, slots=True)
class _Grid:
    """Gauss points: splines across, shape (intervals, points, 4) at `eta`; sines along, (stations, terms)."""

    eta: Reals
    across: Reals
    value: Reals
    first: Reals
    second: Reals
    x: Reals
    along: Reals
    sine: Reals
    cosine: Reals
    number: Reals


def _grid(span: Span, terms: int, intervals: int) -> _Grid:
    half = span.web.width / 2.0
    breaks = np.linspace(-half, half, intervals + 1)
    knots = np.concatenate([[-half] * 3, breaks, [half] * 3])
    nodes, weights = np.polynomial.legendre.leggauss(_GAUSS)
    step = breaks[1] - breaks[0]
    y = (breaks[:-1, None] + 0.5 * step * (1.0 + nodes)).ravel()
    spline = BSpline(knots, np.eye(intervals + 3), 3)
    near = np.arange(intervals)[:, None, None] + np.arange(4)
    where = np.arange(intervals * _GAUSS).reshape(intervals, _GAUSS, 1)
    tables = [spline.derivative(order)(y) if order else spline(y) for order in (0, 1, 2)]
    value, first, second = (table[where, near] for table in tables)
    lengthwise, length_weights = np.polynomial.legendre.leggauss(_STATIONS_PER_TERM * terms)
    x = 0.5 * span.length * (1.0 + lengthwise)
    number = np.arange(1, terms + 1) * np.pi / span.length
    return _Grid(
        y / half,
        np.tile(0.5 * step * weights, intervals),
        value,
        first,
        second,
        x,
        0.5 * span.length * length_weights,
        np.sin(np.outer(x, number)),
        np.cos(np.outer(x, number)) * number,
        number.astype(np.float64),
    )


def _block(weights: Reals, left: Reals, right: Reals) -> Reals:
    """Interval matrices (pairs, intervals, 4, 4) of `left` times `right` under `weights` (pairs, points)."""
    pairs = weights.shape[0]
    weighted = weights.reshape(pairs, *left.shape[:2], 1) * right
    product: Reals = np.matmul(np.swapaxes(left, 1, 2), weighted)
    return product


def _bending_and_tension(span: Span, grid: _Grid) -> Reals:
    """Interval matrices of the plate's bending and of the uniform tension; the sines are orthogonal."""
    web = span.web
    minor = web.poisson_md * web.modulus_cd / web.modulus_md
    cube = web.thickness**3 / 12.0
    common = 1.0 - web.poisson_md * minor
    d11, d22 = web.modulus_md * cube / common, web.modulus_cd * cube / common
    d12, d66 = minor * d11, web.shear_or_estimate() * cube
    weights = grid.across[None, :]
    n0, n1 = _block(weights, grid.value, grid.value)[0], _block(weights, grid.first, grid.first)[0]
    n2, mixed = _block(weights, grid.second, grid.second)[0], _block(weights, grid.value, grid.second)[0]
    mixed = mixed + np.swapaxes(mixed, -1, -2)
    k2 = grid.number[:, None, None, None] ** 2
    diagonal = (d11 * k2 * k2 + span.tension * k2) * n0 + d22 * n2 - d12 * k2 * mixed + 4.0 * d66 * k2 * n1
    terms = grid.number.size
    out = np.zeros((terms, terms, *n0.shape))
    out[np.arange(terms), np.arange(terms)] = 0.5 * span.length * diagonal
    return out


def _membrane(result: SpanResult, grid: _Grid) -> Reals:
    """Interval matrices of the work of the membrane stresses (deviations from uniform tension)."""
    span, terms = result.span, grid.number.size
    _, _, stress = result.solved.field(grid.x * 2.0 / span.web.width, grid.eta)
    force = span.web.modulus_md * span.web.thickness * grid.along[:, None] * grid.across
    stations = grid.x.size

    def summed(one: Reals, two: Reals, part: Reals) -> Reals:
        pairs = (one[:, :, None] * two[:, None, :]).reshape(stations, terms * terms)
        total: Reals = pairs.T @ (part * force)
        return total

    value, first = grid.value, grid.first
    out = _block(summed(grid.cosine, grid.cosine, stress.md), value, value)
    out += _block(summed(grid.sine, grid.sine, stress.cd), first, first)
    out += _block(summed(grid.cosine, grid.sine, stress.shear), value, first)
    out += _block(summed(grid.sine, grid.cosine, stress.shear), first, value)
    return out.reshape(terms, terms, *out.shape[1:])


def _banded(blocks: Reals) -> Reals:
    """Lower band storage; the unknowns of one spline stand side by side."""
    terms, intervals = blocks.shape[0], blocks.shape[2]
    size = (intervals + 3) * terms
    joined = np.zeros((intervals + 3, 4, terms, terms))
    for a in range(4):
        for b in range(a + 1):
            joined[b : b + intervals, a - b] += np.moveaxis(blocks[:, :, :, a, b], 2, 0)
    band = np.zeros((4 * terms, size))
    m, n = np.meshgrid(np.arange(terms), np.arange(terms), indexing="ij")
    for offset in range(4):
        distance = offset * terms + m - n
        kept = distance >= 0
        splines = np.arange(intervals + 3 - offset)
        columns = splines[:, None] * terms + n[kept]
        band[distance[kept], columns] = joined[: splines.size, offset][:, kept]
    return band


def _stands(band: Reals) -> bool:
    """Whether the plate is stable (its matrix positive definite)."""
    try:
        cholesky_banded(band, lower=True, check_finite=False)
    except LinAlgError:
        return False
    return True


def _edge_of_stability(standing: Reals, load: Reals, guess: float) -> float:
    """Least positive factor of `load` at which `standing` plus the load is no longer stable.

    Stability is asked by trial factorisation, so that clusters of nearly equal troughs do no harm.
    """
    low, high = 0.0, guess
    for _ in range(_DOUBLINGS):
        if not _stands(standing + high * load):
            break
        low, high = high, 2.0 * high
    else:
        return math.inf
    while low == 0.0 or high / low > 1.0 + _BRACKET:
        middle = math.sqrt(low * high) if low > 0.0 else 0.5 * high
        if low == 0.0 and middle < guess * _LOWEST:
            return 0.0
        if _stands(standing + middle * load):
            low = middle
        else:
            high = middle
    return math.sqrt(low * high)


def _critical(shaped: SpanResult, tilted: SpanResult, terms: int, intervals: int, guess: float) -> _Found:
    """Critical misalignments and the margin of the profile at one size of the series."""
    span = shaped.span
    grid = _grid(span, terms, intervals)
    standing = _banded(_bending_and_tension(span, grid))
    even = True
    if np.ptp(shaped.line.md_strain) > 0.0:
        pressed = _banded(_membrane(shaped, grid))
        if not _stands(standing + pressed):
            margin = _edge_of_stability(standing, pressed, 1.0)
            return _Found(0.0, 0.0, margin, *_where(span, grid, standing + 0.995 * margin * pressed))
        standing += pressed
        strain = shaped.line.md_strain
        even = bool(np.abs(strain - strain[::-1]).max() < 1e-9 * np.ptp(strain))
    turning = _banded(_membrane(tilted, grid))
    drive = _edge_of_stability(standing, turning, guess)
    operator = drive if even else _edge_of_stability(standing, -turning, guess)
    return _Found(drive, operator, math.inf)


def _where(span: Span, grid: _Grid, band: Reals) -> tuple[float, float]:
    """Place of the largest deflection just before the plate troughs: m before the roller, m from the centre."""
    factor = cholesky_banded(band, lower=True)
    shape: Reals = np.random.default_rng(7).standard_normal(size=(band.shape[1],))
    for _ in range(_INVERSE_STEPS):
        shape = cho_solve_banded((factor, True), shape)
        shape /= np.abs(shape).max()
    amounts = shape.reshape(-1, grid.number.size)
    deflection = np.abs(amounts @ grid.sine.T)
    spline, station = np.unravel_index(int(deflection.argmax()), deflection.shape)
    across = (spline - 1.0) / (amounts.shape[0] - 3.0) - 0.5
    return float(span.length - grid.x[station]), float(across * span.web.width)
