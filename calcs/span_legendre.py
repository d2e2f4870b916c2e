"""Legendre polynomials across the web: values, derivatives, primitives, second kind.

Across the web the coordinate is ``eta = 2 y / w``, from -1 at the operator edge to +1 at the drive edge.
Every field of the span is carried by the orthonormal polynomials ``p_k = sqrt(k + 1/2) P_k``.
The recurrences are those of any handbook of special functions (three-term recurrence; derivative and
primitive as sums of neighbours; the same recurrences for the functions of the second kind).
"""

from __future__ import annotations

from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

Reals = NDArray[np.float64]
Complexes = NDArray[np.complex128]


def legendre_values(eta: Reals, count: int) -> Reals:
    """Plain Legendre polynomials ``P_0 .. P_(count-1)`` at the points `eta`.

    Parameters
    ----------
    eta : ndarray, shape (m,)
        Points; the values are exact to rounding on [-1, 1].
    count : int
        Number of polynomials, at least 2.

    Returns
    -------
    ndarray, shape (count, m)
    """
    table = np.empty((count, eta.size))
    table[0] = 1.0
    table[1] = eta
    for k in range(1, count - 1):
        table[k + 1] = ((2 * k + 1) * eta * table[k] - k * table[k - 1]) / (k + 1)
    return table


@lru_cache(maxsize=32)
def norms(count: int) -> Reals:
    """Factors ``sqrt(k + 1/2)`` that make the polynomials orthonormal on [-1, 1]."""
    factors = np.sqrt(np.arange(count) + 0.5)
    factors.flags.writeable = False
    return factors


@lru_cache(maxsize=64)
def _kept_values(places: bytes, count: int) -> Reals:
    table = legendre_values(np.frombuffer(places), count) * norms(count)[:, None]
    table.flags.writeable = False
    return table


def basis_values(eta: Reals, count: int) -> Reals:
    """Orthonormal polynomials at `eta`, shape (count, m); the tables of grids that come back are kept."""
    return _kept_values(eta.tobytes(), count)


def basis_means(lower: Reals, upper: Reals, count: int) -> Reals:
    """Mean of each orthonormal polynomial over the intervals [`lower`, `upper`], shape (count, m)."""
    high = legendre_values(upper, count + 1)
    low = legendre_values(lower, count + 1)
    difference = high - low
    means = np.empty((count, lower.size))
    means[0] = difference[1]
    order = np.arange(1, count)[:, None]
    means[1:] = (difference[2:] - difference[:-2]) / (2 * order + 1)
    return means * norms(count)[:, None] / (upper - lower)


@lru_cache(maxsize=32)
def derivative_matrix(count: int) -> Reals:
    """Matrix that maps coefficients of a function to those of its derivative, shape (count, count)."""
    matrix = np.zeros((count, count))
    for column in range(count):
        rows = np.arange(column - 1, -1, -2)
        matrix[rows, column] = np.sqrt((2 * column + 1) * (2 * rows + 1))
    matrix.flags.writeable = False
    return matrix


@lru_cache(maxsize=1)
def powers_to_basis() -> Reals:
    """Coefficients of 1, eta, eta**2, eta**3 in the first four orthonormal polynomials (columns)."""
    plain = np.array(
        [
            [1.0, 0.0, 1.0 / 3.0, 0.0],
            [0.0, 1.0, 0.0, 3.0 / 5.0],
            [0.0, 0.0, 2.0 / 3.0, 0.0],
            [0.0, 0.0, 0.0, 2.0 / 5.0],
        ]
    )
    return plain / norms(4)[:, None]


def step_and_kink_coefficients(at: Reals, count: int) -> tuple[Reals, Reals]:
    """Coefficients of the unit steps (1 for eta > `at`) and of the ramps ``max(eta - at, 0)``, each (count, m)."""
    table = legendre_values(at, count + 2)
    order = np.arange(1, count + 1)[:, None]
    once = np.zeros((count + 1, at.size))
    once[1:] = (table[2:] - table[:-2]) / (2 * order + 1)
    step = -once[:count]
    step[0] = 1.0 - at
    kink = np.empty((count, at.size))
    kink[0] = 0.5 * (1.0 - at) ** 2
    kink[1] = (1.0 - at**3) / 3.0 - at * (1.0 - at**2) / 2.0
    kink[2:] = (once[3:] - once[1:-2]) / (2 * order[1:-1] + 1)
    scale = norms(count)[:, None]
    return step * scale, kink * scale


def second_kind(z: Complexes, count: int) -> Complexes:
    """Legendre functions of the second kind ``Q_0 .. Q_(count-1)`` in the upper half plane.

    The forward recurrence loses digits away from the interval [-1, 1]; callers use it only close to it, where the
    loss stays below 1e-9 (see `reach`).
    """
    table = np.empty((count, z.size), dtype=np.complex128)
    table[0] = 0.5 * (np.log(z + 1.0) - np.log(z - 1.0))
    table[1] = z * table[0] - 1.0
    for k in range(1, count - 1):
        table[k + 1] = ((2 * k + 1) * z * table[k] - k * table[k - 1]) / (k + 1)
    return table


def reach(z: Complexes, count: int) -> Reals:
    """How far, in powers of e, polynomials of degree below `count` have faded at the complex point `z`."""
    root = np.sqrt(z * z - 1.0)
    radius = np.maximum(np.abs(z + root), np.abs(z - root))
    faded: Reals = count * np.log(radius)
    return faded
