"""Roller profiles: radius against the place across the web, in the form the span solver wants.

A profile is a parabola (arc) plus straight pieces with steps. Straight pieces and steps are kept exactly:
their Legendre coefficients and their Cauchy integrals (`calcs.span_local`) are closed forms.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, field
from functools import lru_cache
from itertools import pairwise

import numpy as np

from calcs.span_legendre import Reals, powers_to_basis, step_and_kink_coefficients

_FADE_FROM, _FADE_TO = 0.5, 0.9
Pairs = list[tuple[float, float]]


@dataclass(frozen=True, slots=True)
class RadiusStep:
    """A change of radius across the web.

    Attributes
    ----------
    at : float
        Place from the web centre, m, positive toward the drive end.
    rise : float
        Radius on the drive side less radius on the operator side, m.
    """

    at: float
    rise: float


@dataclass(frozen=True, slots=True)
class TapedStrip:
    """A band of tape: lower and upper edge from the web centre (m, drive end positive), build-up n t (m)."""

    lower: float
    upper: float
    height: float


@dataclass(frozen=True, slots=True)
class RollerProfile:
    """Radius across the roller as `radius` + curvature y^2 / 2 + straight pieces + steps.

    Attributes
    ----------
    radius : float
        Nominal (bare) radius, m; deviations are taken relative to it.
    steps : tuple of RadiusStep
        Band edges; overlapping bands add.
    knots : tuple of (float, float)
        (place, radius deviation) in m, straight between, constant outside; for measured diameters.
    curvature : float
        Second derivative of the radius, 1/m (an arc; positive: concave roller, large ends).
    taper : float
        dR/dy, m/m (positive: larger at the drive end).
    """

    radius: float
    steps: tuple[RadiusStep, ...] = ()
    knots: tuple[tuple[float, float], ...] = ()
    curvature: float = 0.0
    taper: float = 0.0

    def __post_init__(self) -> None:
        numbers = [self.radius, self.curvature, self.taper]
        numbers += [value for step in self.steps for value in (step.at, step.rise)]
        numbers += [value for knot in self.knots for value in knot]
        if not all(math.isfinite(value) for value in numbers) or self.radius <= 0.0:
            raise ValueError("The profile needs a positive radius and finite numbers; measure the roller again.")
        places = [place for place, _ in self.knots]
        if any(right <= left for left, right in pairwise(places)):
            raise ValueError("The measured places of a profile must rise from the operator end to the drive end.")

    @classmethod
    def banded(cls, radius: float, strips: Sequence[TapedStrip]) -> RollerProfile:
        """Bare cylinder with bands of tape; stairs are several strips, and overlapping strips add."""
        steps = []
        for strip in strips:
            if not strip.lower < strip.upper:
                raise ValueError("A band's upper edge must lie above its lower edge.")
            steps += [RadiusStep(strip.lower, strip.height), RadiusStep(strip.upper, -strip.height)]
        return cls(radius, steps=tuple(sorted(steps, key=lambda step: (step.at, step.rise))))

    @classmethod
    def arc(cls, radius: float, width: float, rise: float) -> RollerProfile:
        """Concave arc: the radius at the edges of `width` exceeds that of the centre by `rise`."""
        return cls(radius, curvature=8.0 * rise / width**2)

    @classmethod
    def bow_tie(cls, radius: float, width: float, rise: float) -> RollerProfile:
        """Two cones: the radius grows straight from the centre to the edges of `width` by `rise`."""
        return cls(radius, knots=((-width / 2, rise), (0.0, 0.0), (width / 2, rise)))

    @classmethod
    def cone(cls, radius: float, rise_per_m: float) -> RollerProfile:
        """Straight taper, larger at the drive end for a positive `rise_per_m`."""
        return cls(radius, taper=rise_per_m)

    @classmethod
    def measured(cls, places: Sequence[float], diameters: Sequence[float]) -> RollerProfile:
        """Diameters measured at `places` (from the web centre, m), straight between the readings."""
        if len(places) != len(diameters) or len(places) < 2:
            raise ValueError("Give at least two places and one diameter for each.")
        pairs = sorted(zip(map(float, places), map(float, diameters), strict=True))
        mean = sum(diameter for _, diameter in pairs) / len(pairs) / 2.0
        return cls(mean, knots=tuple((place, diameter / 2.0 - mean) for place, diameter in pairs))


@lru_cache(maxsize=8)
def fade(count: int) -> Reals:
    """1 up to half the degree, 0 from nine tenths on, smooth between."""
    place = np.clip((np.arange(count) / count - _FADE_FROM) / (_FADE_TO - _FADE_FROM), 0.0, 1.0)
    share: Reals = np.cos(0.5 * np.pi * place) ** 2
    share.flags.writeable = False
    return share


@dataclass(frozen=True, slots=True)
class Pieces:
    """A relative radius deviation on the web, in half widths (eta from -1 to +1).

    ``first + slope (eta + 1) + sum jumps H(eta - jump_at) + sum bends max(eta - bend_at, 0) + arc eta^2``
    """

    first: float
    slope: float
    jump_at: Reals
    jumps: Reals
    bend_at: Reals
    bends: Reals
    arc: float
    edges: Reals
    """Places of the band edges under the web, in half widths."""
    broken: Reals = field(repr=False)
    """Legendre coefficients of the straight pieces and steps, exact."""

    def values(self, eta: Reals) -> Reals:
        """The deviation at the places `eta`, shape (m,)."""
        out = self.first + self.slope * (eta + 1.0) + self.arc * eta * eta
        if self.jumps.size:
            out = out + (eta[:, None] > self.jump_at) @ self.jumps
        if self.bends.size:
            out = out + np.maximum(eta[:, None] - self.bend_at, 0.0) @ self.bends
        return np.asarray(out, dtype=np.float64)

    def carried(self, count: int) -> Reals:
        """Orthonormal Legendre coefficients handed to the modes, shape (count,).

        Those of steps and straight pieces are exact up to half the degree, then faded out, because the web's
        answer to the highest powers needs powers higher still. What is faded out is not lost:
        `calcs.span_local` carries the remainder.
        """
        out = self.broken[:count] * fade(count)
        out[:4] += powers_to_basis()[:, 2] * self.arc
        return out


@dataclass(slots=True)
class _Outline:
    """A profile under the web while it is being put together; fields as in `Pieces`."""

    first: float = 0.0
    slope: float = 0.0
    jumps: Pairs = field(default_factory=list)
    bends: Pairs = field(default_factory=list)

    def ramp(self, low: float, high: float, rise: float) -> None:
        """Add a straight rise from `low` to `high`, as far as it lies under the web."""
        if high <= -1.0:
            self.first += rise
            return
        if low >= 1.0:
            return
        if high - low < 1e-9:
            self.jumps.append((low, rise))
            return
        gain = rise / (high - low)
        if low <= -1.0:
            self.first += gain * (-1.0 - low)
            self.slope += gain
        else:
            self.bends.append((low, gain))
        if high < 1.0:
            self.bends.append((high, -gain))


@dataclass(frozen=True, slots=True)
class UnderWeb:
    """A profile and where it is wanted.

    Attributes
    ----------
    profile : RollerProfile
    width : float
        Web width, m.
    ramps : sequence of float
        For each step the length over which the web bridges it, m (0: sharp). The step becomes a straight ramp of
        that length, centred on the band edge; nothing else is smoothed.
    """

    profile: RollerProfile
    width: float
    ramps: Sequence[float]

    def outline(self) -> _Outline:
        """Straight pieces and steps under the web, relative to the bare radius."""
        profile, half = self.profile, self.width / 2.0
        outline = _Outline()
        for step, length in zip(profile.steps, self.ramps, strict=True):
            at, reach = step.at / half, 0.5 * length / half
            outline.ramp(at - reach, at + reach, step.rise / profile.radius)
        if profile.knots:
            outline.first += profile.knots[0][1] / profile.radius
            for (left, low), (right, high) in pairwise(profile.knots):
                outline.ramp(left / half, right / half, (high - low) / profile.radius)
        lean = profile.taper * half / profile.radius
        outline.first -= lean
        outline.slope += lean
        return outline

    def band_edges(self) -> Reals:
        """Places of the steps under the web, in half widths."""
        half = self.width / 2.0
        return np.array(sorted({step.at / half for step in self.profile.steps if abs(step.at) < half}))


def relative_pieces(wanted: Sequence[UnderWeb], count: int) -> list[Pieces]:
    """The parts of profiles that lie under the web, relative to the bare radius, with `count` coefficients each."""
    outlines = [under.outline() for under in wanted]
    places = [place for outline in outlines for place, _ in (*outline.jumps, *outline.bends)]
    steps, kinks = step_and_kink_coefficients(np.array(places), count) if places else (None, None)
    out, at = [], 0
    for under, outline in zip(wanted, outlines, strict=True):
        broken = np.zeros(count)
        broken[:4] = powers_to_basis() @ np.array([outline.first + outline.slope, outline.slope, 0.0, 0.0])
        jumps, bends = _columns(outline.jumps), _columns(outline.bends)
        middle, end = at + len(outline.jumps), at + len(outline.jumps) + len(outline.bends)
        if steps is not None and kinks is not None:
            broken += steps[:, at:middle] @ jumps[1] + kinks[:, middle:end] @ bends[1]
        at = end
        half = under.width / 2.0
        arc = 0.5 * under.profile.curvature * half * half / under.profile.radius
        out.append(Pieces(outline.first, outline.slope, *jumps, *bends, arc, under.band_edges(), broken))
    return out


def _columns(pairs: Pairs) -> tuple[Reals, Reals]:
    return np.array([place for place, _ in pairs]), np.array([amount for _, amount in pairs])
