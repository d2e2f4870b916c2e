"""The span in two dimensions: what a roller's profile and misalignment really do to the web.

A linear orthotropic plane-stress sheet from the exit of the upstream roller (x = 0, clamped) to the entry of
the roller in question (x = L), free edges at y = -w/2 (operator) and +w/2 (drive). At the entry the roller
sets the MD strain, u,x = (R(y) - R-bar)/R, with R-bar such that the net MD force does not change (an idler),
and the direction, v,x = theta (the web enters parallel to the roller's surface). Fields are deviations from
uniform tension; results add the tension back where they say so.

The lengthwise part is exact, the crosswise part spectral, steps are kept sharp but for the length over which
the web bridges them. See README.md in this folder for the derivation, what it was compared with and how close.

Steady, in full traction, small strain, elastic, flat and uniform across: a start value; the trial decides.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np

from calcs.materials import shear_modulus, stable
from calcs.span_legendre import Reals
from calcs.span_modes import kept_modes
from calcs.span_profile import RollerProfile, UnderWeb, relative_pieces
from calcs.span_solution import EntryLine, Solved, solve_loads
from calcs.wrinkle import plate_stiffness, trough_wavelength

DEGREE = 48
"""Highest power across the web."""
COMPANION_DEGREE = 32
"""The same question at this degree gives the error estimate."""
VERIFIED = {"span over width": (0.1, 20.0), "CD over MD modulus": (0.1, 10.0)}
"""Ranges in which the solver was compared with itself at a much higher degree (tests/calcs/validation)."""
CALCULABLE = {"span over width": (0.01, 200.0), "CD over MD modulus": (0.01, 100.0)}
"""Beyond these no number is given."""
METHOD = (
    "orthotropic plane stress; strip modes exact along the span, Legendre polynomials across it; "
    "steps by a half-plane remainder; float64"
)
_LINE_AT = np.linspace(-1.0, 1.0, 201)
_CHECK = slice(5, 200, 15)


class SpanRefused(ValueError):
    """No number can be given; the message says why and what to do."""


@dataclass(frozen=True, slots=True)
class SpanWeb:
    """The web: width m, thickness m, moduli Pa, nu12; shear modulus Pa (None: St-Venant's estimate)."""

    width: float
    thickness: float
    modulus_md: float
    modulus_cd: float
    poisson_md: float = 0.3
    shear: float | None = None

    def shear_or_estimate(self) -> float:
        """In-plane shear modulus, Pa."""
        if self.shear is not None:
            return self.shear
        return shear_modulus(self.modulus_md, self.modulus_cd, self.poisson_md)


@dataclass(frozen=True, slots=True)
class Span:
    """A web in the entering span of a roller: length m, tension per width N/m."""

    web: SpanWeb
    length: float
    tension: float


@dataclass(frozen=True, slots=True)
class SpanLoad:
    """What the roller does: its profile, and its misalignment in rad.

    A positive misalignment moves the web to the drive end (the drive end of the axis lies upstream).
    With ``bridged`` false, steps stay perfectly sharp: shear at a band edge then has no limit.
    """

    profile: RollerProfile
    misalignment: float = 0.0
    bridged: bool = True


@dataclass(frozen=True, slots=True)
class SpanSizes:
    """How big the calculation was."""

    degree: int
    companion_degree: int
    unknowns: int
    modes: int


@dataclass(frozen=True, slots=True)
class EdgeShear:
    """Shear stress in the web over a band edge: place from the web centre m, stress Pa, bridging length m."""

    at: float
    shear: float
    bridging: float


@dataclass(frozen=True, slots=True)
class SpanLine:
    """Fields along the entry line, each shape (m,): place m, shift m, total MD strain, stresses Pa."""

    y: Reals
    shift: Reals
    md_strain: Reals
    md_stress: Reals
    cd_stress: Reals
    shear_stress: Reals


@dataclass(frozen=True, slots=True)
class SpanField:
    """Map of the span: x (k,), y (m,) in m; shifts m and total stresses Pa of shape (k, m)."""

    x: Reals
    y: Reals
    u: Reals
    v: Reals
    md_stress: Reals
    cd_stress: Reals
    shear_stress: Reals


@dataclass(frozen=True, slots=True)
class SpanResult:
    """What the web does under one load.

    Attributes
    ----------
    centre_shift, mean_shift : float
        Lateral displacement at the entry, m, positive to the drive end; `mean_shift` is the steering.
    edge_shift_operator, edge_shift_drive : float
        Outward displacement of the edges at the entry, m.
    cd_stress_centre, cd_stress_least, cd_stress_least_at : float
        CD stress on the entry line, Pa: at the centre, least, and where (m). At the very edge it is 0.
    md_strain_centre, md_strain_edge_operator, md_strain_edge_drive : float
        Total MD strain at the entry (share, not percent).
    md_stress_centre, md_stress_edge_operator, md_stress_edge_drive, md_stress_least : float
        Total MD stress at the entry, Pa.
    edge_ratio, centre_loss : float
        MD stress at the more loaded edge over mean; share of the mean that the centre has lost.
    entry_shear_operator, entry_shear_drive : float
        Shear force carried into the roller by each half, N, as it acts on the web to the drive end.
    centre_slack : bool
        MD stress below zero away from band edges: the linear field is invalid there.
    band_edges : tuple of EdgeShear
        Shear in the web at the band edges, a marking risk; kept apart from everything else.
    half_wave : float
        Half a trough wavelength, m: the size over which the indicators average.
    residual, error_estimate : float
        Equilibrium and boundary residual; largest change against the companion degree, each relative to the
        largest value of its kind.
    method : str
    sizes : SpanSizes
    remarks : tuple of str
        What a reader must know: range, bridging, slack.
    line : SpanLine
    """

    span: Span
    load: SpanLoad
    centre_shift: float
    mean_shift: float
    edge_shift_operator: float
    edge_shift_drive: float
    cd_stress_centre: float
    cd_stress_least: float
    cd_stress_least_at: float
    md_strain_centre: float
    md_strain_edge_operator: float
    md_strain_edge_drive: float
    md_stress_centre: float
    md_stress_edge_operator: float
    md_stress_edge_drive: float
    md_stress_least: float
    edge_ratio: float
    centre_loss: float
    entry_shear_operator: float
    entry_shear_drive: float
    centre_slack: bool
    band_edges: tuple[EdgeShear, ...]
    half_wave: float
    residual: float
    error_estimate: float
    method: str
    sizes: SpanSizes
    remarks: tuple[str, ...]
    line: SpanLine
    solved: Solved = field(repr=False, compare=False)


def _refuse_nonsense(span: Span) -> None:
    web = span.web
    named = {
        "width": web.width,
        "thickness": web.thickness,
        "MD modulus": web.modulus_md,
        "CD modulus": web.modulus_cd,
        "shear modulus": web.shear_or_estimate() if web.modulus_md + web.modulus_cd > 0 else math.nan,
        "span length": span.length,
        "tension": span.tension,
    }
    for name, value in named.items():
        if not (math.isfinite(value) and value > 0.0):
            raise SpanRefused(f"The {name} must be a positive number, not {value:g}; measure it and enter it again.")
    if not (math.isfinite(web.poisson_md) and web.poisson_md >= 0.0):
        raise SpanRefused("The Poisson ratio must be zero or more; measure it or leave it at 0.3.")
    if not stable(web.modulus_md, web.modulus_cd, web.poisson_md):
        raise SpanRefused(
            "No web can have this Poisson ratio with these two moduli: its square must stay below E_MD / E_CD; "
            "check which direction is MD."
        )


def _ratios(span: Span) -> dict[str, float]:
    return {
        "span over width": span.length / span.web.width,
        "CD over MD modulus": span.web.modulus_cd / span.web.modulus_md,
    }


def range_remarks(span: Span) -> tuple[str, ...]:
    """Sentences where the span lies outside the verified range; refusal where no number can be given.

    Raises
    ------
    SpanRefused
        Outside `CALCULABLE`, or input that no web can have.
    """
    _refuse_nonsense(span)
    remarks = []
    for name, value in _ratios(span).items():
        low, high = CALCULABLE[name]
        if not low <= value <= high:
            raise SpanRefused(
                f"The {name} is {value:.3g}; the two-dimensional span is worked out from {low:g} to {high:g}. "
                "Check the entry, or judge this position by the first-order numbers and a trial."
            )
        low, high = VERIFIED[name]
        if not low <= value <= high:
            remarks.append(
                f"Outside the verified range: {name} is {value:.3g}, verified from {low:g} to {high:g}; "
                "take the two-dimensional numbers as an indication."
            )
    return tuple(remarks)


def bridging_length(span: Span, radius: float, height: float) -> float:
    """Length over which the web bridges a ridge, (72 D_b height R / T)^(1/4), m.

    Derived: plate strip of stiffness D_b = E_CD h^3 / [12 (1 - nu12 nu21)] pressed on by T / R; membrane force
    ignored.
    """
    return float((72.0 * _cd_stiffness(span.web) * abs(height) * radius / span.tension) ** 0.25)


def half_wavelength(span: Span) -> float:
    """Half a trough wavelength, sqrt(pi L) (D_b / T)^(1/4), at most a quarter of the width or half the span, m."""
    full = trough_wavelength(_cd_stiffness(span.web), span.length, span.tension)
    return min(0.5 * full, 0.25 * span.web.width, 0.5 * span.length)


def _cd_stiffness(web: SpanWeb) -> float:
    minor = web.poisson_md * web.modulus_cd / web.modulus_md
    return plate_stiffness(web.modulus_cd, web.thickness, web.poisson_md, minor)


def _bridgings(span: Span, load: SpanLoad) -> list[float]:
    if not load.bridged:
        return [0.0] * len(load.profile.steps)
    return [bridging_length(span, load.profile.radius, step.rise) for step in load.profile.steps]


def solve(span: Span, loads: Sequence[SpanLoad], degree: int = DEGREE) -> tuple[SpanResult, ...]:
    """Work out a span for any number of profiles and misalignments, with one factorisation.

    Parameters
    ----------
    span : Span
        Web, length and tension (SI).
    loads : sequence of SpanLoad
        Profile and misalignment of each case; the answers add up like the loads do.
    degree : int
        Highest power across the web; the usual value suits every verified span.

    Returns
    -------
    tuple of SpanResult
        In the order of the loads.

    Raises
    ------
    SpanRefused
        Where no number can be given; the message says why.

    Notes
    -----
    Strain deviations are taken relative to the bare radius, (R(y) - R-bar)/R, so that loads superpose;
    against (R(y) - R-bar)/R-bar this differs by the share that tape adds to the radius.

    Examples
    --------
    >>> web = SpanWeb(width=1.0, thickness=25e-6, modulus_md=4.5e9, modulus_cd=4.5e9)
    >>> span = Span(web, length=1.0, tension=129.3)
    >>> cylinder = RollerProfile(radius=0.05)
    >>> tilted, = solve(span, [SpanLoad(cylinder, misalignment=1e-3)])
    >>> round(tilted.mean_shift * 1e3, 3)   # mm; a beam without shear would give 0.667
    0.776
    """
    remarks = range_remarks(span)
    web = span.web
    key = (web.modulus_cd / web.modulus_md, web.poisson_md, web.shear_or_estimate() / web.modulus_md)
    ell = 2.0 * span.length / web.width
    bridgings = [_bridgings(span, load) for load in loads]
    for load in loads:
        if not math.isfinite(load.misalignment):
            raise SpanRefused("The misalignment must be a finite number; measure it and enter it again.")
    if not loads:
        return ()
    wanted = [UnderWeb(load.profile, web.width, ramps) for load, ramps in zip(loads, bridgings, strict=True)]
    pieces = [
        (piece, load.misalignment) for piece, load in zip(relative_pieces(wanted, degree + 1), loads, strict=True)
    ]
    companion = COMPANION_DEGREE if degree >= DEGREE else max(8, 2 * degree // 3)
    fine = solve_loads(kept_modes(*key, degree), ell, pieces)
    coarse = solve_loads(kept_modes(*key, companion), ell, pieces)
    return tuple(
        _result(span, load, lengths, solved, other, remarks)
        for load, lengths, solved, other in zip(loads, bridgings, fine, coarse, strict=True)
    )


def _error(fine: EntryLine, coarse: Solved) -> float:
    """Largest change between two degrees, relative to the largest value of its kind."""
    other = coarse.entry(_LINE_AT[_CHECK])
    scale = float(np.abs(fine.md_strain).max() + np.abs(fine.v).max())
    worst = 0.0
    for one, two in (
        (fine.v, other.v),
        (fine.stress.md, other.stress.md),
        (fine.stress.cd, other.stress.cd),
        (fine.stress.shear, other.stress.shear),
    ):
        checked = one[_CHECK]
        largest = float(np.abs(checked).max())
        if largest > 1e-9 * scale:
            worst = max(worst, float(np.abs(checked - two).max()) / largest)
    return worst


def _result(
    span: Span, load: SpanLoad, lengths: Sequence[float], solved: Solved, coarse: Solved, remarks: tuple[str, ...]
) -> SpanResult:
    web = span.web
    half, modulus = web.width / 2.0, web.modulus_md
    level = span.tension / web.thickness
    edges = solved.pieces.edges
    eta = np.concatenate([_LINE_AT, edges])
    entry = solved.entry(eta)
    count = _LINE_AT.size
    line = SpanLine(
        _LINE_AT * half,
        entry.v[:count] * half,
        entry.md_strain[:count] + level / modulus,
        entry.stress.md[:count] * modulus + level,
        entry.stress.cd[:count] * modulus,
        entry.stress.shear[:count] * modulus,
    )
    mean_shift = float(np.trapezoid(line.shift, line.y)) / web.width
    least = int(np.argmin(line.cd_stress))
    middle = count // 2
    turns = np.diff(entry.u[[0, middle, count - 1]]) + load.misalignment
    shears = turns * solved.modes.stiffness.g * modulus * half * web.thickness
    slack = bool(line.md_stress.min() < 0.0)
    more = list(remarks)
    if any(lengths):
        more.append(
            f"Each step of radius is taken as a straight ramp over its bridging length "
            f"({1e3 * min(lengths):.2g} to {1e3 * max(lengths):.2g} mm), centred on the band edge; "
            "nothing else is smoothed."
        )
    if slack:
        more.append("Linear field invalid, centre slack: the MD stress falls below zero at the entry.")
    return SpanResult(
        span=span,
        load=load,
        centre_shift=float(line.shift[middle]),
        mean_shift=mean_shift,
        edge_shift_operator=-float(line.shift[0]),
        edge_shift_drive=float(line.shift[-1]),
        cd_stress_centre=float(line.cd_stress[middle]),
        cd_stress_least=float(line.cd_stress[least]),
        cd_stress_least_at=float(line.y[least]),
        md_strain_centre=float(line.md_strain[middle]),
        md_strain_edge_operator=float(line.md_strain[0]),
        md_strain_edge_drive=float(line.md_strain[-1]),
        md_stress_centre=float(line.md_stress[middle]),
        md_stress_edge_operator=float(line.md_stress[0]),
        md_stress_edge_drive=float(line.md_stress[-1]),
        md_stress_least=float(line.md_stress.min()),
        edge_ratio=float(max(line.md_stress[0], line.md_stress[-1]) / level),
        centre_loss=float(1.0 - line.md_stress[middle] / level),
        entry_shear_operator=float(shears[0]),
        entry_shear_drive=float(shears[1]),
        centre_slack=slack,
        band_edges=_edge_shears(load, lengths, half, entry.stress.shear[count:] * modulus, edges),
        half_wave=half_wavelength(span),
        residual=solved.residual(),
        error_estimate=_error(entry, coarse),
        method=METHOD,
        sizes=SpanSizes(
            solved.modes.degree,
            coarse.modes.degree,
            2 * sum(part.start_inverse.shape[0] for part in solved.modes.halves),
            sum(part.exponent.size for part in solved.modes.halves),
        ),
        remarks=tuple(more),
        line=line,
        solved=solved,
    )


def _edge_shears(
    load: SpanLoad, lengths: Sequence[float], half: float, shear: Reals, edges: Reals
) -> tuple[EdgeShear, ...]:
    by_place: dict[float, float] = {}
    for step, length in zip(load.profile.steps, lengths, strict=True):
        by_place[step.at / half] = max(length, by_place.get(step.at / half, 0.0))
    return tuple(
        EdgeShear(float(at) * half, float(stress), by_place[float(at)])
        for at, stress in zip(edges, shear, strict=True)
        if by_place[float(at)] > 0.0
    )


def field_map(result: SpanResult, x_count: int = 61, y_count: int = 81) -> SpanField:
    """Map of displacements and total stresses over the whole span, finer toward both ends.

    Parameters
    ----------
    result : SpanResult
    x_count, y_count : int
        Grid lines along and across.

    Returns
    -------
    SpanField
        Total stresses (tension included); displacements are deviations.
    """
    span, solved = result.span, result.solved
    half, modulus = span.web.width / 2.0, span.web.modulus_md
    x = 0.5 * solved.ell * (1.0 - np.cos(np.linspace(0.0, np.pi, x_count)))
    eta = np.linspace(-1.0, 1.0, y_count)
    u, v, stress = solved.field(x, eta)
    return SpanField(
        x * half,
        eta * half,
        u * half,
        v * half,
        stress.md * modulus + span.tension / span.web.thickness,
        stress.cd * modulus,
        stress.shear * modulus,
    )
