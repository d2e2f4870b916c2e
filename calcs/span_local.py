"""What the polynomials across the web cannot carry: the neighbourhood of a step.

A step of radius is not a polynomial. What is left of it after the polynomials have taken their share swings
quickly about zero and is at right angles to all of them, so the web feels it only close to the step, and
there the span is as good as a half plane. For the half plane the answer is a closed form: with roots m of

    C11 G m^4 - (C11 C22 - C12^2 - 2 C12 G) m^2 + C22 G = 0,   Re m > 0,

each displacement derivative is the real part of a Cauchy integral of the remainder at y + i m X, X being the
distance before the entry (u,x = remainder, v,x = 0 on X = 0). The integrals of steps and straight pieces are
logarithms, those of the polynomials Legendre functions of the second kind. Derived from Fourier integrals;
a test compares it with the modes at a much higher degree. Mirror images in the web edges are left out: they
act on a remainder at right angles to all polynomials, so only the last per mille before a web edge feels it.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache

import numpy as np

from calcs.span_legendre import Complexes, Reals, norms, reach, second_kind
from calcs.span_modes import Stiffness
from calcs.span_profile import Pieces, fade

_APART = 2e-3
"""Least relative distance kept between the two roots: an isotropic web has a double root, and the error made
by moving it is the square of this, in a term that is itself a correction."""
_ON_ENTRY = 1e-13
_FADED = 16.0
"""Beyond exp(-16) the remainder's field is dropped."""


@dataclass(frozen=True, slots=True)
class Steepness:
    """Corrections to the displacement derivatives, shape (m,)."""

    u_x: Reals
    u_y: Reals
    v_x: Reals
    v_y: Reals


@dataclass(frozen=True, slots=True)
class HalfPlane:
    """Roots and weights of the half-plane answer of one material."""

    roots: Complexes
    u_x: Complexes
    u_y: Complexes
    v_x: Complexes
    v_y: Complexes

    @classmethod
    @lru_cache(maxsize=256)
    def of(cls, stiffness: Stiffness) -> HalfPlane:
        """Half plane of a web's material."""
        c11, c12, c22, g = stiffness.c11, stiffness.c12, stiffness.c22, stiffness.g
        middle = (c11 * c22 - c12 * c12 - 2.0 * c12 * g) / (2.0 * c11 * g)
        product = c22 / c11
        spread = middle * middle - product
        least = (_APART * max(abs(middle), 1e-6)) ** 2
        if abs(spread) < least:
            spread = least
        root = np.sqrt(complex(spread))
        roots = np.sqrt(np.array([middle + root, middle - root]))
        roots = np.where(roots.real < 0.0, -roots, roots)
        rho = (c11 * roots**2 - g) / ((c12 + g) * roots)
        share = np.array([rho[1], -rho[0]]) / (rho[1] - rho[0])
        return cls(roots, share, 1j * share / roots, 1j * rho * share, -rho * share / roots)


def _log_primitive(z: Complexes, times: int) -> Complexes:
    """Primitive of log z, taken `times` times."""
    log = np.log(z)
    if times == 0:
        return log
    if times == 1:
        return z * log - z
    if times == 2:
        return z * z * (0.5 * log - 0.75)
    return z**3 * (log / 6.0 - 11.0 / 36.0)


@dataclass(frozen=True, slots=True)
class Remainder:
    """The part of a profile that polynomials of the given degree do not carry.

    Attributes
    ----------
    jump_at, jumps, bend_at, bends : ndarray
        Steps and changes of slope, the web edges included, best straight line taken out.
    coefficients : ndarray, shape (count,)
        What the polynomials carry, the first two left out.
    """

    jump_at: Reals
    jumps: Reals
    bend_at: Reals
    bends: Reals
    coefficients: Reals

    @classmethod
    def of(cls, pieces: Pieces, count: int) -> Remainder | None:
        """Remainder of a profile; None where the polynomials carry it whole."""
        if not pieces.jumps.size and not pieces.bends.size:
            return None
        coefficients = pieces.broken[:count] * fade(count)
        level = coefficients[0] * np.sqrt(0.5)
        lean = coefficients[1] * np.sqrt(1.5)
        start = pieces.first - level + lean
        slope = pieces.slope - lean
        last = start + 2.0 * slope + pieces.jumps.sum() + ((1.0 - pieces.bend_at) * pieces.bends).sum()
        coefficients[:2] = 0.0
        return cls(
            np.concatenate([pieces.jump_at, [-1.0, 1.0]]),
            np.concatenate([pieces.jumps, [start, -last]]),
            np.concatenate([pieces.bend_at, [-1.0, 1.0]]),
            np.concatenate([pieces.bends, [slope, -slope - pieces.bends.sum()]]),
            coefficients,
        )

    def cauchy(self, z: Complexes, times: int = 0) -> Complexes:
        """Cauchy integral of the remainder, or its primitive, at points of the upper half plane.

        Parameters
        ----------
        z : ndarray, shape (m,)
        times : int
            0, 1 or 2: how many times integrated along z (constants such that it fades far away).
        """
        return self._joined(z, times, _second_kind_primitive(z, self.coefficients.size, times))

    def cauchy_on_line(self, eta: Reals, times: int = 0) -> Complexes:
        """The same just above the entry line; the tables of a grid that comes back are kept."""
        z = (eta + 1j * _ON_ENTRY).astype(np.complex128)
        return self._joined(z, times, _line_table(eta.tobytes(), self.coefficients.size, times))

    def _joined(self, z: Complexes, times: int, table: Complexes) -> Complexes:
        sign = (-1.0) ** times
        out = sign * (_log_primitive(self.jump_at - z[:, None], times) @ self.jumps)
        out = out - sign * (_log_primitive(self.bend_at - z[:, None], times + 1) @ self.bends)
        return (0.5j / np.pi) * out - (1j / np.pi) * (self.coefficients[2:] @ table)


def _second_kind_primitive(z: Complexes, count: int, times: int) -> Complexes:
    """Functions of the second kind belonging to the orthonormal polynomials from degree 2 on, integrated."""
    table = second_kind(z, count + times)
    for taken in range(times):
        order = np.arange(1, table.shape[0] - 1)[:, None]
        narrower = np.zeros((table.shape[0] - 1, z.size), dtype=np.complex128)
        narrower[1:] = (table[2:] - table[:-2]) / (2 * order + 1)
        table = narrower
        table[: taken + 1] = 0.0
    return np.ascontiguousarray(table[2:count] * norms(count)[2:, None])


@lru_cache(maxsize=64)
def _line_table(places: bytes, count: int, times: int) -> Complexes:
    eta = np.frombuffer(places)
    table = _second_kind_primitive((eta + 1j * _ON_ENTRY).astype(np.complex128), count, times)
    table.flags.writeable = False
    return table


def correction_at(half_plane: HalfPlane, remainder: Remainder, eta: Reals, before: Reals) -> Steepness:
    """Corrections at points: `eta` across, `before` the distance before the entry, both shape (m,)."""
    totals = [np.zeros(eta.size) for _ in range(4)]
    depth = np.maximum(before, _ON_ENTRY)
    for index, root in enumerate(half_plane.roots):
        z = eta + 1j * root * depth
        near = reach(z, remainder.coefficients.size) < _FADED
        if not near.any():
            continue
        value = remainder.cauchy(z[near])
        for total, weight in zip(totals, _weights(half_plane, index), strict=True):
            total[near] += 2.0 * (weight * value).real
    return Steepness(*totals)


def correction_over(
    half_plane: HalfPlane, remainder: Remainder, lower: Reals, upper: Reals, stretch: float
) -> Steepness:
    """Mean corrections over the windows [`lower`, `upper`] times the last `stretch` before the entry."""
    totals = [np.zeros(lower.size) for _ in range(4)]
    size = lower.size
    for index, root in enumerate(half_plane.roots):
        across = np.concatenate([lower, upper, lower, upper])
        depth = np.repeat([_ON_ENTRY, _ON_ENTRY, stretch, stretch], size)
        z = across + 1j * root * depth
        near = reach(z, remainder.coefficients.size) < _FADED
        corner = np.zeros(z.size, dtype=np.complex128)
        if near.any():
            corner[near] = remainder.cauchy(z[near], 2)
        low0, high0, low1, high1 = corner.reshape(4, size)
        mean = (high1 - low1 - high0 + low0) / (1j * root * stretch * (upper - lower))
        for total, weight in zip(totals, _weights(half_plane, index), strict=True):
            total += 2.0 * (weight * mean).real
    return Steepness(*totals)


def correction_on_entry(half_plane: HalfPlane, remainder: Remainder, eta: Reals) -> tuple[Reals, Reals, Reals, Reals]:
    """Corrections to u, v, u,y and v,y on the entry line, shape (m,); both roots meet there."""
    steep = 2.0 * remainder.cauchy_on_line(eta)
    flat = 2.0 * remainder.cauchy_on_line(eta, 1)
    along, across = complex(half_plane.u_y.sum()), complex(half_plane.v_y.sum())
    return (along * flat).real, (across * flat).real, (along * steep).real, (across * steep).real


def corrections_across(half_plane: HalfPlane, remainders: Sequence[Remainder], eta: Reals) -> tuple[Reals, Reals]:
    """Corrections to v and v,y on the entry line for many remainders at once, shape (remainders, m)."""
    jump_at = np.concatenate([remainder.jump_at for remainder in remainders])
    bend_at = np.concatenate([remainder.bend_at for remainder in remainders])
    jumps = np.concatenate([remainder.jumps for remainder in remainders])
    bends = np.concatenate([remainder.bends for remainder in remainders])
    first_jump = np.cumsum([0, *(remainder.jump_at.size for remainder in remainders[:-1])])
    first_bend = np.cumsum([0, *(remainder.bend_at.size for remainder in remainders[:-1])])
    coefficients = np.array([remainder.coefficients for remainder in remainders])
    z = (eta + 1j * _ON_ENTRY).astype(np.complex128)
    across = complex(half_plane.v_y.sum())
    out = []
    for times in (1, 0):
        sign = (-1.0) ** times
        jumped = jumps[:, None] * _log_primitive(jump_at[:, None] - z, times)
        bent = bends[:, None] * _log_primitive(bend_at[:, None] - z, times + 1)
        logs = np.add.reduceat(jumped, first_jump, axis=0) - np.add.reduceat(bent, first_bend, axis=0)
        table = _line_table(eta.tobytes(), coefficients.shape[1], times)
        whole = (0.5j / np.pi) * sign * logs - (1j / np.pi) * (coefficients[:, 2:] @ table)
        out.append(2.0 * (across * whole).real)
    return out[0], out[1]


def _weights(half_plane: HalfPlane, index: int) -> tuple[complex, complex, complex, complex]:
    return (
        complex(half_plane.u_x[index]),
        complex(half_plane.u_y[index]),
        complex(half_plane.v_x[index]),
        complex(half_plane.v_y[index]),
    )
