"""The idler as a machine part: what loads it, how far it bends under the web, what it costs to turn.

Two builds. A *live* shaft turns with the shell, its bearings sit outside the face. A *dead* shaft stands still, the
shell turns on bearings inside its ends: the shaft's own bending then moves the whole shell but does not bow it.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from calcs.roller import tube_inertia

GRAVITY = 9.80665
"""Standard gravity, m/s^2 (3rd CGPM 1901)."""
STEEL_MODULUS = 205e9
STEEL_DENSITY = 7850.0
"""Usual values of steel, Pa and kg/m^3 (from memory, not checked)."""
Pieces = Sequence[tuple[float, float]]


@dataclass(frozen=True, slots=True)
class Pull:
    """Force per width of web on a roller, N/m: horizontal and upward part."""

    across: float
    up: float

    @property
    def size(self) -> float:
        """N/m."""
        return math.hypot(self.across, self.up)


def web_pull(tension_in: float, tension_out: float, toward_in: float, toward_out: float) -> Pull:
    """Vector sum of both spans' tensions.

    Parameters
    ----------
    tension_in, tension_out
        Tension per width before and after the roller, N/m.
    toward_in, toward_out
        Directions in which the two spans lead away from the roller, rad from the horizontal, upward positive.

    Returns
    -------
    Pull
        With equal tensions its size is 2 T sin(beta/2) for the wrap beta = pi minus the angle between the spans.
    """
    return Pull(
        tension_in * math.cos(toward_in) + tension_out * math.cos(toward_out),
        tension_in * math.sin(toward_in) + tension_out * math.sin(toward_out),
    )


@dataclass(frozen=True, slots=True)
class Idler:
    """A tube on a shaft, SI.

    ``bearings`` is the distance of the bearings: outside the face for a live shaft, inside the shell for a dead one;
    ``frames`` the distance of the frames that hold a dead shaft.
    """

    outer: float
    inner: float
    face: float
    shaft: float
    bearings: float
    live: bool
    frames: float = 0.0
    modulus: float = STEEL_MODULUS
    density: float = STEEL_DENSITY
    shaft_modulus: float = STEEL_MODULUS

    def __post_init__(self) -> None:
        if not 0 <= self.inner < self.outer or self.face <= 0 or self.shaft <= 0:
            raise ValueError("An idler needs a face, a shaft and an outer diameter above the inner; measure it again.")
        if self.live and self.bearings < self.face:
            raise ValueError("The bearings of a live shaft stand outside the face; check bearings and face.")
        if not self.live and not 0 < self.bearings <= self.face:
            raise ValueError("The bearings of a dead shaft sit inside the shell; check bearings and face.")
        if not self.live and self.frames < self.bearings:
            raise ValueError("The frames of a dead shaft stand outside its bearings; enter the frame distance.")

    @property
    def weight(self) -> float:
        """Weight of the shell, N."""
        return math.pi / 4 * (self.outer**2 - self.inner**2) * self.face * self.density * GRAVITY

    @property
    def spin_inertia(self) -> float:
        """Moment of inertia of the shell about its axis, m (Ro^2 + Ri^2)/2, kg m^2."""
        return self.weight / GRAVITY * (self.outer**2 + self.inner**2) / 8

    def pieces(self) -> list[tuple[float, float]]:
        """Bending stiffness E I from the centre outward: (reaches to, N m^2)."""
        shell = (self.face / 2, self.modulus * tube_inertia(self.outer, self.inner))
        shaft = (self.bearings / 2, self.shaft_modulus * tube_inertia(self.shaft))
        return [shell, shaft] if self.live and self.bearings > self.face else [shell]


def bow(load: float, width: float, supports: float, reach: float, pieces: Pieces) -> float:
    """How far the centre of a simply supported beam stands off a place ``reach`` beside it.

    Parameters
    ----------
    load, width
        Even load per length, N/m, over a centred width, m; it may overhang the supports.
    supports
        Distance of the supports, m.
    reach
        Distance from the centre, m; half of ``supports`` gives the deflection at mid-span.
    pieces
        E I from the centre outward: (reaches to, N m^2), symmetric.

    Returns
    -------
    float
        m, positive in the direction of the load.

    Notes
    -----
    Integral of (reach - s) M(s)/(E I) from the centre, exact: M(s) = q w/2 (S/2 - s)+ - q/2 (w/2 - s)+^2. Over the
    whole span with one E I this is 5 q S^4/(384 E I).

    References
    ----------
    Beam tables (Roark; Timoshenko), from memory.

    Examples
    --------
    >>> round(bow(350.25, 1.2, 1.2, 0.6, [(0.6, 69e9 * tube_inertia(0.1, 0.08))]) * 1e3, 4)
    0.0473
    """
    breaks = sorted({0.0, reach, *(b for b in (width / 2, supports / 2, *(end for end, _ in pieces)) if b < reach)})
    nodes, weights = np.polynomial.legendre.leggauss(3)
    total = 0.0
    for low, high in pairwise(breaks):
        s = (low + high) / 2 + (high - low) / 2 * nodes
        stiffness = next((value for end, value in pieces if high <= end + 1e-12), pieces[-1][1])
        moment = load * width / 2 * np.maximum(supports / 2 - s, 0) - load / 2 * np.maximum(width / 2 - s, 0) ** 2
        total += float(weights @ ((reach - s) * moment)) * (high - low) / 2 / stiffness
    return total


@dataclass(frozen=True, slots=True)
class Sag:
    """How an idler bends.

    Attributes
    ----------
    bow : float
        Centre of the web against its edges, m: what gathers or spreads.
    slope : float
        Bow over the web width, to be held against the alignment limits (m/m).
    moved : float
        Centre of the shell against the bearings' unloaded line, m.
    across, up : float
        Direction of ``bow``, as a unit vector.
    bearing_load : float
        On each bearing, N.
    """

    bow: float
    slope: float
    moved: float
    across: float
    up: float
    bearing_load: float


def sag(idler: Idler, pull: Pull, width: float) -> Sag:
    """Bending of an idler under a centred web and its own weight, added as vectors.

    Parameters
    ----------
    idler
        Its build decides: see the module.
    pull
        From :func:`web_pull`.
    width
        Web width, m.

    Returns
    -------
    Sag
        Even tension assumed; shear deflection and bearing play left out. A live shaft's own weight is left out.

    Notes
    -----
    A dead shaft carries half the load P at each bearing, a from the frames, and moves there by
    P a^2 (3 S - 4 a)/(12 E I) (beam table, two equal loads; from memory).
    """
    if not 0 < width <= idler.face:
        raise ValueError("The web must lie on the face; check the web width.")
    pieces, weight = idler.pieces(), idler.weight / idler.face

    def parts(reach: float) -> tuple[float, float]:
        web = bow(1.0, width, idler.bearings, reach, pieces)
        own = bow(weight, idler.face, idler.bearings, reach, pieces)
        return pull.across * web, pull.up * web - own

    across, up = parts(width / 2)
    size = math.hypot(across, up)
    total = math.hypot(pull.across * width, pull.up * width - idler.weight)
    moved = math.hypot(*parts(idler.bearings / 2))
    if not idler.live:
        arm = (idler.frames - idler.bearings) / 2
        stiffness = idler.shaft_modulus * tube_inertia(idler.shaft)
        moved += total * arm**2 * (3 * idler.frames - 4 * arm) / (12 * stiffness)
    unit = (across / size, up / size) if size else (0.0, 0.0)
    return Sag(size, size / width, moved, *unit, total / 2)


def acceleration_force(inertia: float, rate: float, radius: float) -> float:
    """Web force that speeds an idler up with the line, J a/R^2, N; rate in m/s^2."""
    return inertia * rate / radius**2


def drag_need(force: float, tension: float, width: float) -> float:
    """Logarithmic tension ratio that a drag force asks of the wrap, ln(1 + F/(T w)).

    Compare with mu_eff beta; the tape's need of :func:`calcs.traction.hold_need` comes on top in the same wrap.
    """
    return math.log1p(force / (tension * width))


def turns(force: float, tension: float, width: float, friction: float, wrap: float) -> bool:
    """Whether the web can turn the idler: drag below T w (exp(mu_eff beta) - 1); friction is what air leaves."""
    return drag_need(force, tension, width) < friction * wrap
