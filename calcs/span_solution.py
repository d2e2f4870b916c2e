"""One solved load of one span, and what can be read from it. Dimensionless (half widths, MD modulus)."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from calcs.span_ends import Along, Gradients, Joined, at_points, gradients, join, over_last
from calcs.span_legendre import Reals, basis_means, basis_values
from calcs.span_local import (
    HalfPlane,
    Remainder,
    Steepness,
    correction_at,
    correction_on_entry,
    correction_over,
)
from calcs.span_modes import StripModes
from calcs.span_profile import Pieces


@dataclass(frozen=True, slots=True)
class Stresses:
    """Deviations from uniform tension, in units of the MD modulus, all of one shape."""

    md: Reals
    cd: Reals
    shear: Reals

    def plus(self, other: Stresses) -> Stresses:
        """Sum of two stress states."""
        return Stresses(self.md + other.md, self.cd + other.cd, self.shear + other.shear)


@dataclass(frozen=True, slots=True)
class EntryLine:
    """Fields along the entry, shape (m,): shifts u, v in half widths, MD strain, stresses."""

    u: Reals
    v: Reals
    md_strain: Reals
    stress: Stresses


@dataclass(frozen=True, slots=True)
class Solved:
    """The answer to one profile and one misalignment.

    Attributes
    ----------
    modes : StripModes
    joined : Joined
        Amplitudes of the modes.
    pieces : Pieces or None
        The profile; None for a load without one.
    half_plane : HalfPlane
    remainder : Remainder or None
        What the polynomials leave of the profile.
    slope : float
        Misalignment, rad.
    """

    modes: StripModes
    joined: Joined
    pieces: Pieces
    half_plane: HalfPlane
    remainder: Remainder | None
    slope: float

    @property
    def ell(self) -> float:
        """Span length in half widths."""
        return float(self.joined.ell)

    def entry(self, eta: Reals) -> EntryLine:
        """Everything along the entry line at the places `eta`."""
        fields = self._gradients(at_points(self.modes, self.ell, np.array([self.ell])))
        table = basis_values(eta, self.modes.degree + 1)
        u, v = fields.u[:, 0] @ table, fields.v[:, 0] @ table
        u_y, v_y = fields.u_y[:, 0] @ table, fields.v_y[:, 0] @ table
        strain = self.pieces.values(eta) - self.joined.relief
        if self.remainder is not None:
            more = correction_on_entry(self.half_plane, self.remainder, eta)
            u, v, u_y, v_y = u + more[0], v + more[1], u_y + more[2], v_y + more[3]
        slope = np.full(eta.size, self.slope)
        md, cd, shear = self.modes.stiffness.stress(strain, u_y, slope, v_y)
        edge = np.abs(eta) >= 1.0
        # On the free edge itself the limits are known exactly; the polynomials only tend to them.
        md = np.where(edge, strain, md)
        return EntryLine(u, v, strain, Stresses(md, np.where(edge, 0.0, cd), np.where(edge, 0.0, shear)))

    def field(self, x: Reals, eta: Reals) -> tuple[Reals, Reals, Stresses]:
        """u, v and stresses on the grid, shape (x.size, eta.size)."""
        fields = self._gradients(at_points(self.modes, self.ell, x))
        table = basis_values(eta, self.modes.degree + 1)
        u_x, u_y, v_x, v_y = (part.T @ table for part in (fields.u_x, fields.u_y, fields.v_x, fields.v_y))
        if self.remainder is not None:
            across, before = np.tile(eta, x.size), np.repeat(self.ell - x, eta.size)
            near = correction_at(self.half_plane, self.remainder, across, before)
            shape = (x.size, eta.size)
            u_x, u_y = u_x + near.u_x.reshape(shape), u_y + near.u_y.reshape(shape)
            v_x, v_y = v_x + near.v_x.reshape(shape), v_y + near.v_y.reshape(shape)
        stress = Stresses(*self.modes.stiffness.stress(u_x, u_y, v_x, v_y))
        return fields.u.T @ table, fields.v.T @ table, stress

    def windows(self, lower: Reals, upper: Reals, stretch: float) -> Stresses:
        """Mean stresses over [`lower`, `upper`] across and the last `stretch` along, shape (m,)."""
        fields = self._gradients(over_last(self.modes, self.ell, stretch))
        table = basis_means(lower, upper, self.modes.degree + 1)
        parts = [part[:, 0] @ table for part in (fields.u_x, fields.u_y, fields.v_x, fields.v_y)]
        if self.remainder is not None:
            near: Steepness = correction_over(self.half_plane, self.remainder, lower, upper, stretch)
            parts = [part + more for part, more in zip(parts, (near.u_x, near.u_y, near.v_x, near.v_y), strict=True)]
        return Stresses(*self.modes.stiffness.stress(*parts))

    def residual(self) -> float:
        """Largest relative miss of: clamp, entry conditions, net MD force, lateral force, moment."""
        stiffness, ell = self.modes.stiffness, self.ell
        fields = self._gradients(at_points(self.modes, ell, np.array([0.0, 0.5 * ell, ell])))
        md, _, shear = stiffness.stress(fields.u_x, fields.u_y, fields.v_x, fields.v_y)
        want = self.pieces.carried(self.modes.degree + 1)
        want[0] -= self.joined.relief * np.sqrt(2.0)
        scale = float(np.abs(want).max() + abs(self.slope))
        if scale == 0.0:
            return 0.0
        lift = max(1.0, ell) * scale
        turned = fields.v_x[:, 2].copy()
        turned[0] -= self.slope * np.sqrt(2.0)
        lateral, moment = np.sqrt(2.0) * shear[0], np.sqrt(2.0 / 3.0) * md[1]
        misses = [
            np.abs(fields.u[:, 0]).max() / lift,
            np.abs(fields.v[:, 0]).max() / lift,
            np.abs(fields.u_x[:, 2] - want).max() / scale,
            np.abs(turned).max() / scale,
            np.abs(md[0]).max() / scale,
            np.ptp(lateral) / scale,
            abs(moment[2] - moment[0] - lateral[0] * ell) / lift,
        ]
        return float(max(misses))

    def _gradients(self, along: Along) -> Gradients:
        return gradients(self.modes, self.joined, along)


def solve_loads(modes: StripModes, ell: float, loads: list[tuple[Pieces, float]]) -> list[Solved]:
    """Solve one span for several loads (profile pieces, misalignment) with one factorisation."""
    count = modes.degree + 1
    profiles = np.column_stack([pieces.carried(count) for pieces, _ in loads])
    slopes = np.array([slope for _, slope in loads])
    half_plane = HalfPlane.of(modes.stiffness)
    return [
        Solved(modes, joined, pieces, half_plane, Remainder.of(pieces, count), slope)
        for joined, (pieces, slope) in zip(join(modes, ell, profiles, slopes), loads, strict=True)
    ]
