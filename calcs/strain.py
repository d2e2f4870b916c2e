"""Strain across the web on a stepped roller: first order, from the transport of mass.

Without slip the strain at entry follows the local radius, and line tension holds its mean:
eps(y) = eps_T + (R(y) - mean R)/R. Where that would be negative the web is slack and the rest carries.
"""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

Numbers = float | npt.NDArray[np.float64]
Array = npt.NDArray[np.float64]


def tension_strain(tension: Numbers, modulus: Numbers, thickness: Numbers) -> Array:
    """Mean MD strain of the running web, T / (E h), from N/m, Pa and m."""
    return np.asarray(tension, float) / (np.asarray(modulus, float) * thickness)


def step(wraps: Numbers, tape: Numbers, radius: Numbers) -> Array:
    """Relative radius step of a band, n t / R (also the relative difference in diameter)."""
    return np.asarray(wraps, float) * tape / radius


def taut_strains(mean: float, stepped: float, share: float) -> tuple[float, float]:
    """Strain on bare centre and on tape for one step height, no slack.

    Parameters
    ----------
    mean
        eps_T.
    stepped
        Step n t / R.
    share
        Share of the web width that lies on tape.

    Returns
    -------
    tuple of float
        eps_T - D f and eps_T + D (1 - f); their share-weighted mean is eps_T exactly. The centre is taut
        while D f < eps_T.
    """
    return mean - stepped * share, mean + stepped * (1 - share)


def slack_level(step_per_wrap: Numbers, width_share: Array, wrap_share: Array) -> Array:
    """Level below which a lane is slack, in units of the mean strain.

    Parameters
    ----------
    step_per_wrap
        x = (t/R)/eps_T, shape broadcastable to (...).
    width_share, wrap_share
        Shapes (..., k): running sums over lanes, highest lane first, of width share and of wraps times
        width share.

    Returns
    -------
    ndarray
        lambda, shape (...): a lane of n wraps carries max(0, n x - lambda) times the mean strain.

    Notes
    -----
    A web carries no compression, so the carried strains are max(0, s - lambda) with a mean of eps_T. The
    level is the largest over k of (sum of s over the k highest lanes - 1)/(their width share): all lanes
    together when the web is taut, only the bands when the centre is slack (edge strain then eps_T w / B).
    """
    x = np.asarray(step_per_wrap, float)[..., None]
    some = width_share > 0
    level = (wrap_share * x - 1) / np.where(some, width_share, 1.0)
    found: Array = np.where(some, level, -np.inf).max(axis=-1)
    return found


def concave_slack(kind: str) -> tuple[float, float]:
    """Mean rise over centre and slack limit of smooth concave profiles.

    Parameters
    ----------
    kind
        ``parabola`` or ``bow-tie`` (linear V).

    Returns
    -------
    tuple of float
        (mean R - centre R)/dR, and dR/R over eps_T at which the centre goes slack; dR is the rise from
        centre to web edge.
    """
    rise = {"parabola": 1 / 3, "bow-tie": 1 / 2}[kind]
    return rise, 1 / rise


def half_web_curvature(stepped: float, band: float, half: float) -> float:
    """Curvature that a band at the outer edge forces on one half of the web, 6 D b (c - b)/c^3, 1/m.

    First moment of the step about the half's own centroid over c^3/12; ``band`` is the engaged width b and
    ``half`` is c = w/2, m. Largest at b = c/2.
    """
    return 6 * stepped * band * (half - band) / half**3


def one_end_curvature(stepped: float, band: float, width: float) -> float:
    """Curvature of the whole web from tape at one end, 6 D b (w - b)/w^3, 1/m."""
    return 6 * stepped * band * (width - band) / width**3


def entry_shift(curvature: Numbers, span: Numbers) -> Array:
    """Lateral shift at the roller from a curvature there, kappa L^2 / 6, m, toward the larger radius.

    Slender limit (no shear, low tension); upper bound for the half of a web slit upstream.
    """
    return np.asarray(curvature) * np.square(span) / 6


def tapered_shift_factor(kl: float) -> float:
    """Shift at a tapered roller over kappa L^2/6 for a tensioned beam, (6/KL^2)[KL coth(KL/2) - 2].

    Derived from y'''' = K^2 y'' (J. J. Shelton, Lateral Dynamics of a Moving Web, 1968, beam equation) with
    y(0) = y'(0) = y'(L) = 0 and y''(L) = kappa.
    """
    return float(6 / kl**2 * (kl / np.tanh(kl / 2) - 2))


def misaligned_shift_factor(kl: float) -> float:
    """Shift at a misaligned roller over L theta: 2/3 for KL to 0, 1 for KL to infinity.

    Same beam, with y(0) = y'(0) = 0, y'(L) = theta, y''(L) = 0. KL of about 0.01 or more (below it, 2/3).
    """
    sinh, cosh = np.sinh(kl), np.cosh(kl)
    return float((kl * cosh - sinh) / (kl * (cosh - 1)))


def bridging_length(stiffness: float, height: float, radius: float, tension: float) -> float:
    """Length over which the web bridges beside a step, (72 D h R / T)^(1/4), m.

    Parameters
    ----------
    stiffness, height
        Bending stiffness per width, N m, and step height, m.
    radius, tension
        m and N/m.

    Notes
    -----
    Plate strip pressed down by T/R, membrane force neglected; derived. It marks the web.
    """
    return float((72 * stiffness * height * radius / tension) ** 0.25)


def wraps_for_ratio(target: float, mean: Numbers, radius: Numbers, share: Numbers, tape: Numbers) -> Array:
    """Number of wraps (not rounded) that gives the target edge ratio while the centre is taut.

    Parameters
    ----------
    target
        Edge ratio, for example 1.3.
    mean, radius, share, tape
        eps_T, bare radius in m, share of the web on tape, thickness of one layer in m.

    Returns
    -------
    ndarray
        n = (target - 1) eps_T R / ((1 - f) t).
    """
    return (target - 1) * np.asarray(mean, float) * radius / ((1 - np.asarray(share, float)) * tape)
