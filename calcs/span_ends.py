"""One span: the two ends of the strip joined for a given length over width.

The clamped exit of the upstream roller and the entry of the roller in question feel each other only through
the modes that have not faded along the span. So the joint system is as small as the number of those modes,
and one material serves every length, every profile and every misalignment.

Dimensionless as in `calcs.span_modes`: x runs from 0 to `ell` = 2 L / w.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from calcs.span_legendre import Reals, derivative_matrix, powers_to_basis
from calcs.span_modes import HalfModes, Stiffness, StripModes

_FADED = 37.0
"""exp(-37) is below the rounding of float64."""


@dataclass(frozen=True, slots=True)
class Along:
    """What is taken along the span for each mode: values at points, or means over stretches.

    With s = x - ell: means of exp(exponent s), exp(-exponent x), s, s**2, s**3.
    """

    growing: tuple[np.ndarray, np.ndarray]
    fading: tuple[np.ndarray, np.ndarray]
    s1: Reals
    s2: Reals
    s3: Reals


def at_points(modes: StripModes, ell: float | Reals, x: Reals) -> Along:
    """Values at the stations `x`, shape (k,); `ell` may go by station."""
    s = x - ell
    growing = tuple(np.exp(half.exponent[:, None] * s) for half in modes.halves)
    fading = tuple(np.exp(-half.exponent[:, None] * x) for half in modes.halves)
    return Along((growing[0], growing[1]), (fading[0], fading[1]), s, s * s, s**3)


def over_last(modes: StripModes, ell: float, stretch: float) -> Along:
    """Means over the last `stretch` before the entry (one station)."""
    growing, fading = [], []
    for half in modes.halves:
        reach = half.exponent * stretch
        growing.append((-np.expm1(-reach) / reach)[:, None])
        late = np.exp(-half.exponent * (ell - stretch))
        fading.append((late * -np.expm1(-reach) / reach)[:, None])
    means = [np.array([(-stretch) ** power / (power + 1)]) for power in (1, 2, 3)]
    return Along((growing[0], growing[1]), (fading[0], fading[1]), *means)


@dataclass(frozen=True, slots=True)
class Gradients:
    """Coefficients across the web of u, v and their derivatives; shape (count, stations)."""

    u: Reals
    v: Reals
    u_x: Reals
    u_y: Reals
    v_x: Reals
    v_y: Reals


@dataclass(frozen=True, slots=True)
class Joined:
    """Amplitudes of one load, or of several in columns: the part born at the start and the part born at the entry.

    ``relief`` is the uniform MD strain that the idler's free speed takes out (R-bar over R, less 1).
    """

    ell: float | Reals
    start: tuple[Reals, Reals]
    entry: tuple[Reals, Reals]
    relief: Reals


def _polynomials_at_start(stiffness: Stiffness, half: HalfModes, ells: Reals) -> Reals:
    """Displacement at x = 0 of pure bending and shear, both centred on the entry; shape (lengths, n, 2)."""
    powers, s = powers_to_basis(), -ells[:, None]
    nu, g = stiffness.nu12, stiffness.g
    bend_u, bend_v = -s * powers[:, 1], 0.5 * s * s * powers[:, 0] + 0.5 * nu * powers[:, 2]
    shear_u = -0.5 * s * s * powers[:, 1] + (1.0 / g - nu) / 6.0 * powers[:, 3]
    shear_v = 0.5 * nu * s * powers[:, 2] + (s**3 / 6.0 - 0.5 * s / g) * powers[:, 0]
    count_u = half.rows_u.size
    out = np.zeros((ells.size, count_u + half.rows_v.size, 2))
    out[:, :2, 0], out[:, :2, 1] = bend_u[:, [1, 3]], shear_u[:, [1, 3]]
    v_rows = slice(count_u, count_u + 2)
    out[:, v_rows, 0], out[:, v_rows, 1] = bend_v[:, [0, 2]], shear_v[:, [0, 2]]
    return out


def _live(half: HalfModes, ell: float) -> tuple[int, int]:
    """Modes (and their real columns) that still reach the other end."""
    count = int(np.searchsorted(half.exponent.real * ell, _FADED))
    last = max(count, 1) - 1
    return last + 1, int(max(half.real_columns[last], half.imaginary_columns[last])) + 1


def _crossing(half: HalfModes, table: np.ndarray, ells: Reals, lead: Reals) -> Reals:
    """Effect at one end of the live amplitudes born at the other, shape (lengths, n, live columns)."""
    count, columns = _live(half, float(ells.min()))
    faded = table[:, :count] * np.exp(-half.exponent[:count] * ells[:, None])[:, None, :]
    out = np.empty((ells.size, table.shape[0], columns))
    out[:, :, : lead.shape[-1]] = lead
    out[:, :, half.real_columns[:count]] = faded.real
    imaginary = half.imaginary_columns[:count]
    out[:, :, imaginary[imaginary >= 0]] = -faded.imag[:, :, imaginary >= 0]
    return out


def _join_half(stiffness: Stiffness, half: HalfModes, ells: Reals, demand: Reals) -> tuple[Reals, Reals]:
    """Amplitudes for the entry derivatives `demand`, shape (lengths, n, loads)."""
    size, rigid = half.start_inverse.shape[0], half.rigid_count
    lead_start = lead_entry = np.zeros((size, rigid))
    if not half.symmetric:
        lead_start = half.start_inverse @ _polynomials_at_start(stiffness, half, ells)
        lead_entry[:, 1] = half.entry_inverse[:, half.rows_u.size] * powers_to_basis()[0, 0]
    at_start = _crossing(half, half.start_from_growing, ells, lead_start)
    at_entry = _crossing(half, half.entry_from_fading, ells, lead_entry)
    live = at_start.shape[2]
    endless = half.entry_inverse @ demand
    small = np.eye(live) - at_entry[:, :live] @ at_start[:, :live]
    start = -(at_start @ np.linalg.solve(small, endless[:, :live]))
    return start, endless - at_entry @ start[:, :live]


def join_stack(modes: StripModes, ells: Reals, profiles: Reals, slopes: Reals) -> Joined:
    """Solve spans of several lengths, several loads each, amplitudes of all loads in columns.

    Parameters
    ----------
    modes : StripModes
        The material.
    ells : ndarray, shape (lengths,)
        2 L / w of each.
    profiles : ndarray, shape (lengths, degree + 1, loads)
        Orthonormal Legendre coefficients of the roller's relative radius deviation.
    slopes : ndarray, shape (lengths, loads)
        Misalignment of the entry, rad.

    Returns
    -------
    Joined
        Deviations from uniform tension; the net MD force is zero. Columns run over loads, then lengths.
    """
    lengths, loads = slopes.shape
    parts = []
    for half in modes.halves:
        demand = np.zeros((lengths, half.start_inverse.shape[0], loads))
        demand[:, : half.rows_u.size] = profiles[:, half.rows_u]
        if not half.symmetric:
            demand[:, half.rows_u.size] += slopes * powers_to_basis()[0, 0]
        found = _join_half(modes.stiffness, half, ells, demand)
        parts.append([np.moveaxis(part, 1, 0).reshape(-1, lengths * loads) for part in found])
    (start_s, entry_s), (start_a, entry_a) = parts
    return Joined(np.repeat(ells, loads), (start_s, start_a), (entry_s, entry_a), entry_s[0])


def join(modes: StripModes, ell: float, profiles: Reals, slopes: Reals) -> list[Joined]:
    """As `join_stack` for one length and loads in columns, one answer per load."""
    stack = join_stack(modes, np.array([ell]), profiles[None], slopes[None])
    return [
        Joined(
            ell,
            (stack.start[0][:, k], stack.start[1][:, k]),
            (stack.entry[0][:, k], stack.entry[1][:, k]),
            stack.relief[k],
        )
        for k in range(slopes.size)
    ]


def _amplitudes(half: HalfModes, values: Reals) -> np.ndarray:
    columns = values.reshape(values.shape[0], -1)
    out = columns[half.real_columns].astype(np.complex128)
    paired = half.imaginary_columns >= 0
    out[paired] += 1j * columns[half.imaginary_columns[paired]]
    return out


def _add_polynomials(
    stiffness: Stiffness, joined: Joined, along: Along, fields: tuple[Reals, Reals, Reals, Reals]
) -> None:
    """Rigid motion, pure bending and shear, added to the coefficients of u, v, u_x, v_x."""
    u, v, u_x, v_x = fields
    powers = powers_to_basis()
    shift_u = joined.start[0][0]
    shift_v, turn = joined.start[1][:2]
    bend, shear = joined.entry[1][:2]
    nu, g = stiffness.nu12, stiffness.g
    one = np.ones(np.broadcast(along.s1, bend).shape)
    u_powers = np.vstack(
        [
            shift_u * one,
            -turn * one - bend * along.s1 - 0.5 * shear * along.s2,
            0.0 * one,
            shear * (1.0 / g - nu) / 6.0 * one,
        ]
    )
    v0 = shift_v + turn * (along.s1 + joined.ell) + 0.5 * bend * along.s2
    v_powers = np.vstack(
        [
            v0 + shear * (along.s3 / 6.0 - 0.5 * along.s1 / g),
            0.0 * one,
            0.5 * nu * (bend + shear * along.s1),
            0.0 * one,
        ]
    )
    u_x_powers = np.vstack([0.0 * one, -bend - shear * along.s1, 0.0 * one, 0.0 * one])
    v_x_powers = np.vstack(
        [turn + bend * along.s1 + shear * (0.5 * along.s2 - 0.5 / g), 0.0 * one, 0.5 * nu * shear * one, 0.0 * one]
    )
    for field, terms in ((u, u_powers), (v, v_powers), (u_x, u_x_powers), (v_x, v_x_powers)):
        field[:4] += powers @ terms


def gradients(modes: StripModes, joined: Joined, along: Along) -> Gradients:
    """Coefficients across the web of the displacement and its derivatives at the stations `along`.

    One load at several stations, several loads in columns at one station, or each load at its own.
    """
    count = modes.degree + 1
    columns = max(along.s1.size, joined.entry[0][0].size)
    u, v, u_x, v_x = (np.zeros((count, columns)) for _ in range(4))
    for index, half in enumerate(modes.halves):
        born_entry = _amplitudes(half, joined.entry[index]) * along.growing[index]
        born_start = _amplitudes(half, joined.start[index]) * along.fading[index]
        size_u, lam = half.rows_u.size, half.exponent[:, None]
        shape_u, shape_v = half.growing[:size_u], half.growing[size_u:]
        u[half.rows_u] += (shape_u @ (born_entry + born_start)).real
        v[half.rows_v] += (shape_v @ (born_entry - born_start)).real
        u_x[half.rows_u] += (shape_u @ (lam * (born_entry - born_start))).real
        v_x[half.rows_v] += (shape_v @ (lam * (born_entry + born_start))).real
    _add_polynomials(modes.stiffness, joined, along, (u, v, u_x, v_x))
    derivative = derivative_matrix(count)
    return Gradients(u, v, u_x, derivative @ u, v_x, derivative @ v)
