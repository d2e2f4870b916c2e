"""The strip modes of an orthotropic web: the part of the span that depends on the material only.

Across the web the displacements are polynomials (Galerkin, free edges natural); along the web each mode is an
exact exponential, so nothing is ever discretised along the span. Symmetric and antisymmetric fields are
apart. For an isotropic web the exponents are those of Papkovich and Fadle: roots of sin 2z + 2z = 0 and
sin 2z - 2z = 0 (any text on plane elasticity), which a test compares.

Everything here is dimensionless: lengths in half widths, stresses in the MD modulus.
"""

from __future__ import annotations

import threading
from collections import OrderedDict
from dataclasses import dataclass

import numpy as np
from scipy.linalg import eig

from calcs.span_legendre import Complexes, Reals, derivative_matrix, powers_to_basis

_SHIFT = -300.0
"""Between the small and the large squared exponents, so that both keep their digits (none is negative)."""
_WORST_CONDITION = 1e10
"""Above this two modes have all but merged; a material a millionth away from it is used instead."""
_KEPT = 48
"""Materials kept in memory; one takes about half a megabyte at the usual degree."""


@dataclass(frozen=True, slots=True)
class Stiffness:
    """Plane-stress constants in units of the MD modulus.

    Attributes
    ----------
    c11, c12, c22, g : float
        sigma_x = c11 u,x + c12 v,y; sigma_y = c12 u,x + c22 v,y; tau = g (u,y + v,x).
    nu12 : float
        CD contraction over MD stretch under MD tension.
    """

    c11: float
    c12: float
    c22: float
    g: float
    nu12: float

    @classmethod
    def from_ratios(cls, cd_ratio: float, nu12: float, shear_ratio: float) -> Stiffness:
        """Constants from E2/E1, nu12 and G/E1."""
        common = 1.0 - nu12 * nu12 * cd_ratio
        return cls(1.0 / common, nu12 * cd_ratio / common, cd_ratio / common, shear_ratio, nu12)

    def stress(self, u_x: Reals, u_y: Reals, v_x: Reals, v_y: Reals) -> tuple[Reals, Reals, Reals]:
        """MD, CD and shear stress from the displacement gradients, in units of the MD modulus."""
        return self.c11 * u_x + self.c12 * v_y, self.c12 * u_x + self.c22 * v_y, self.g * (u_y + v_x)


@dataclass(frozen=True, slots=True)
class HalfModes:
    """Modes of one symmetry; `n` unknowns, `m` modes with Im >= 0 (a complex one stands for its pair).

    Attributes
    ----------
    symmetric : bool
        True: u even and v odd across the web; False: the reverse.
    rows_u, rows_v : ndarray of int
        Places of the coefficients of u and v among all polynomials.
    exponent : ndarray, shape (m,)
        Decay per half width, positive real part, ascending.
    real_columns, imaginary_columns : ndarray of int, shape (m,)
        Places of the real and imaginary part of a mode's amplitude; -1 where a real mode has no second.
    growing, fading : ndarray, shape (n, m)
        Displacement of the mode exp(+exponent s) and exp(-exponent x).
    start_inverse, entry_inverse : ndarray, shape (n, n)
        Inverse of the clamped end's and of the entry's matrix for an endless web.
    start_from_growing, entry_from_fading : ndarray, shape (n, m)
        What one end's modes do at the other end, before the fading along the span.
    """

    symmetric: bool
    rows_u: np.ndarray
    rows_v: np.ndarray
    exponent: Complexes
    real_columns: np.ndarray
    imaginary_columns: np.ndarray
    growing: Complexes
    fading: Complexes
    start_inverse: Reals
    entry_inverse: Reals
    start_from_growing: Complexes
    entry_from_fading: Complexes

    @property
    def rigid_count(self) -> int:
        """Polynomial fields carried at either end: 1 (symmetric) or 2."""
        return 1 if self.symmetric else 2


@dataclass(frozen=True, slots=True)
class StripModes:
    """Both symmetries of one material at one degree."""

    degree: int
    stiffness: Stiffness
    halves: tuple[HalfModes, HalfModes]


def real_form(modes: Complexes, half_real: np.ndarray, half_imaginary: np.ndarray, lead: Reals) -> Reals:
    """Real matrix acting on (polynomial amplitudes, real and imaginary parts of the mode amplitudes)."""
    paired = half_imaginary >= 0
    out = np.empty((modes.shape[0], lead.shape[1] + modes.shape[1] + int(paired.sum())))
    out[:, : lead.shape[1]] = lead
    out[:, half_real] = modes.real
    out[:, half_imaginary[paired]] = -modes.imag[:, paired]
    return out


def _eigenmodes(stiffness: Stiffness, d_u: Reals, d_v: Reals, rigid: int) -> tuple[Complexes, Complexes]:
    """Exponents and mode shapes (u, exponent x v), polynomial fields left out."""
    c11, c12, c22, g = stiffness.c11, stiffness.c12, stiffness.c22, stiffness.g
    count_u, count_v = d_u.shape[1], d_v.shape[1]
    top = np.hstack([g * d_u.T @ d_u, g * d_u.T - c12 * d_v])
    bottom = np.hstack([np.zeros((count_v, count_u)), c22 * d_v.T @ d_v])
    left = np.vstack([top, bottom])
    right = np.vstack(
        [
            np.hstack([c11 * np.eye(count_u), np.zeros((count_u, count_v))]),
            np.hstack([g * d_u - c12 * d_v.T, g * np.eye(count_v)]),
        ]
    )
    inverse, shapes = eig(np.linalg.solve(left - _SHIFT * right, right))
    squared = 1.0 / inverse + _SHIFT
    chosen = np.argsort(np.abs(squared))[rigid:]
    chosen = chosen[squared[chosen].imag >= 0.0]
    exponent = np.sqrt(squared[chosen].astype(np.complex128))
    order = np.argsort(exponent.real)
    return exponent[order], shapes[:, chosen[order]]


def entry_polynomials(stiffness: Stiffness, half_size: tuple[int, int]) -> Reals:
    """x-derivatives at the entry of the pure bending and the shear field (columns), antisymmetric half."""
    count_u, count_v = half_size
    powers = powers_to_basis()
    out = np.zeros((count_u + count_v, 2))
    out[0, 0] = -powers[1, 1]
    slope = 0.5 * stiffness.nu12 * powers[:, 2] - 0.5 / stiffness.g * powers[:, 0]
    out[count_u : count_u + 2, 1] = slope[[0, 2]]
    return out


def _half(stiffness: Stiffness, degree: int, symmetric: bool) -> tuple[HalfModes, float]:
    derivative = derivative_matrix(degree + 1)
    even, odd = np.arange(0, degree + 1, 2), np.arange(1, degree + 1, 2)
    rows_u, rows_v = (even, odd) if symmetric else (odd, even)
    d_u, d_v = derivative[np.ix_(rows_v, rows_u)], derivative[np.ix_(rows_u, rows_v)]
    count_u, count_v = rows_u.size, rows_v.size
    rigid = 1 if symmetric else 2
    exponent, shapes = _eigenmodes(stiffness, d_u, d_v, rigid)
    shapes = shapes / np.abs(shapes * np.where(np.arange(count_u + count_v)[:, None] < count_u, exponent, 1.0)).max(0)
    u, v = shapes[:count_u], shapes[count_u:] / exponent
    growing, fading = np.vstack([u, v]), np.vstack([u, -v])
    paired = exponent.imag > 0.0
    widths = np.where(paired, 2, 1)
    real_columns = rigid + np.concatenate([[0], np.cumsum(widths)[:-1]])
    imaginary_columns = np.where(paired, real_columns + 1, -1)
    constant = powers_to_basis()[0, 0]
    lead_start = np.zeros((count_u + count_v, rigid))
    if symmetric:
        lead_start[0, 0] = constant
        lead_entry = lead_start
    else:
        lead_start[count_u, 0] = constant
        lead_start[0, 1] = -powers_to_basis()[1, 1]
        lead_entry = entry_polynomials(stiffness, (count_u, count_v))
    start = real_form(fading, real_columns, imaginary_columns, lead_start)
    entry = real_form(growing * exponent, real_columns, imaginary_columns, lead_entry)
    start_inverse: Reals = np.linalg.inv(start).astype(np.float64)
    entry_inverse: Reals = np.linalg.inv(entry).astype(np.float64)
    condition = max(
        float(np.linalg.norm(matrix, 1) * np.linalg.norm(inverse, 1))
        for matrix, inverse in ((start, start_inverse), (entry, entry_inverse))
    )
    half = HalfModes(
        symmetric,
        rows_u,
        rows_v,
        exponent,
        real_columns,
        imaginary_columns,
        growing,
        fading,
        start_inverse,
        entry_inverse,
        start_inverse @ growing,
        entry_inverse @ (fading * -exponent),
    )
    return half, condition


def strip_modes(stiffness: Stiffness, degree: int) -> StripModes:
    """Modes of both symmetries, worked out anew (see `kept_modes` for the cached door)."""
    for nudge in (0.0, 1e-6, 3e-6):
        g = stiffness.g * (1.0 + nudge)
        nearby = Stiffness(stiffness.c11, stiffness.c12, stiffness.c22, g, stiffness.nu12)
        pairs = [_half(nearby, degree, symmetric) for symmetric in (True, False)]
        if all(condition < _WORST_CONDITION for _, condition in pairs):
            break
    return StripModes(degree, nearby, (pairs[0][0], pairs[1][0]))


class _Kept:
    """The last materials used. Safe with threads: a lock guards the shelf, the work is done outside it."""

    def __init__(self, size: int) -> None:
        self._size = size
        self._lock = threading.Lock()
        self._shelf: OrderedDict[tuple[float, float, float, int], StripModes] = OrderedDict()

    def get(self, cd_ratio: float, nu12: float, shear_ratio: float, degree: int) -> StripModes:
        """Modes of a material, taken from the shelf or worked out and put there."""
        key = (cd_ratio, nu12, shear_ratio, degree)
        with self._lock:
            if key in self._shelf:
                self._shelf.move_to_end(key)
                return self._shelf[key]
        modes = strip_modes(Stiffness.from_ratios(cd_ratio, nu12, shear_ratio), degree)
        with self._lock:
            self._shelf[key] = modes
            while len(self._shelf) > self._size:
                self._shelf.popitem(last=False)
        return modes

    def clear(self) -> None:
        """Forget every material (benchmarks of the cold start)."""
        with self._lock:
            self._shelf.clear()


KEPT_MODES = _Kept(_KEPT)


def kept_modes(cd_ratio: float, nu12: float, shear_ratio: float, degree: int) -> StripModes:
    """Modes of a material by its dimensionless key, rounded to 12 digits.

    Parameters
    ----------
    cd_ratio, nu12, shear_ratio : float
        E2/E1, nu12, G/E1.
    degree : int
        Highest power across the web.

    Returns
    -------
    StripModes
    """
    return KEPT_MODES.get(float(f"{cd_ratio:.12g}"), float(f"{nu12:.12g}"), float(f"{shear_ratio:.12g}"), degree)
