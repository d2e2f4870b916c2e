"""Every first-order result of many cases at all the corners that can be worst, as arrays.

Axes: n cases, s rows (which end of each range), g web places (width and offset). Row 0 with place 0 is the
nominal point. Why these corners are enough:

* Tension low, speed and air temperature high weaken the grip and make the step relatively more; both act
  the same way in every grip result, so one operating row serves all of them. Peak strain has tension high.
* Modulus, thickness and tape thickness high make the step relatively more; friction, roughness, wrap and
  entry span low weaken the hold. Peak strain has modulus, thickness and yield strain low, tape thick.
* Diameter: a small roller has the larger step, a large one the thicker air film. The need is log-convex and
  so is one over the grip, hence their product is convex in the diameter and largest at one of its ends:
  both ends are rows.
* Width and wander: :func:`calcs.profile.web_places`.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from calcs import air, profile, strain, traction
from calcs.case import Case, Interval

Array = np.ndarray

_LOW, _MID, _HIGH = 0, 1, 2
VARIABLES = (
    "state.tension_n_per_m",
    "state.speed_m_per_min",
    "state.air_temp_c",
    "web.modulus_md_mpa",
    "web.thickness_um",
    "web.yield_strain_pct",
    "web.roughness_um",
    "roller.diameter_mm",
    "roller.wrap_deg",
    "roller.entry_span_mm",
    "roller.roughness_um",
    "roller.friction",
    "roller.misalignment_mm_per_m",
    "tape.thickness_mm",
    "tape.roughness_um",
    "tape.friction",
)
"""What a row sets, by the names of the public case form."""

_GRIP = {"state.tension_n_per_m": _LOW, "state.speed_m_per_min": _HIGH, "state.air_temp_c": _HIGH}
_WEAK = _GRIP | {
    "web.modulus_md_mpa": _HIGH,
    "web.thickness_um": _HIGH,
    "web.roughness_um": _LOW,
    "roller.wrap_deg": _LOW,
    "roller.entry_span_mm": _LOW,
    "roller.roughness_um": _LOW,
    "roller.friction": _LOW,
    "roller.misalignment_mm_per_m": _HIGH,
    "tape.thickness_mm": _HIGH,
    "tape.roughness_um": _LOW,
    "tape.friction": _LOW,
}
_PULL = {"state.tension_n_per_m": _HIGH}
_STRETCH = _PULL | {
    "web.modulus_md_mpa": _LOW,
    "web.thickness_um": _LOW,
    "web.yield_strain_pct": _LOW,
    "roller.diameter_mm": _LOW,
    "tape.thickness_mm": _HIGH,
}
_ROWS: tuple[dict[str, int], ...] = (
    {},
    _GRIP,
    _WEAK | {"roller.diameter_mm": _LOW},
    _WEAK | {"roller.diameter_mm": _HIGH},
    _PULL,
    _STRETCH,
)
NOMINAL, GRIP, WEAK_SMALL, WEAK_LARGE, PULL, STRETCH = range(6)
"""Rows: nominal; worst state for grip; the same with weak properties (small and large roller); worst state
for peak strain; the same with weak properties."""
_ENDS = np.array([[row.get(name, _MID) for name in VARIABLES] for row in _ROWS])


def ranges_of(case: Case) -> tuple[Interval, ...]:
    """Range of every input in the order of ``VARIABLES``; what is left out has a harmless value."""
    web, state, roller, tape = case.web, case.state, case.roller, case.tape
    one = Interval.point(1.0)
    skew = roller.misalignment
    largest = max(abs(skew.low), abs(skew.high))
    return (
        state.tension,
        state.speed,
        state.air_temp,
        web.modulus_md,
        web.thickness,
        web.yield_strain or one,
        web.roughness,
        roller.diameter,
        roller.wrap,
        roller.entry_span,
        roller.roughness,
        roller.friction,
        Interval(0.0, abs(skew.nominal), largest),
        tape.thickness if tape else Interval.point(0.0),
        tape.roughness if tape else roller.roughness,
        (tape.friction if tape else None) or roller.friction,
    )


@dataclass(frozen=True)
class Lanes:
    """Geometry at each web place, shape (n, g), and running sums over the cells, (n, g, k)."""

    width: Array
    offset: Array
    width_share: Array
    wrap_share: Array
    highest: Array
    lowest: Array
    lowest_taped: Array
    moments: Array
    covered: Array
    covered_halves: Array


@dataclass(frozen=True)
class Field:
    """First-order results of n cases, shape (n, s, g) unless stated; SI.

    ``values`` (n, s, variables) are the inputs at each row; ``ratio`` is the largest carried strain over
    the mean; ``loss`` the drop of the lowest lane (1 or more: slack); ``shift`` (n, s, g) the tape's
    steering shift toward the drive end.
    """

    values: Array
    lanes: Lanes
    mean: Array
    ratio: Array
    loss: Array
    step: Array
    film: Array
    kept_tape: Array
    kept_bare: Array
    grip_tape: Array
    grip_bare: Array
    hold_need: Array
    hold: Array
    hold_and_drag: Array
    lateral: Array
    shift: Array
    skew_shift: Array

    def value(self, name: str) -> Array:
        """Input ``name`` at each row, shape (n, s, 1)."""
        found: Array = self.values[:, :, VARIABLES.index(name), None]
        return found


def lanes_of(cases: Sequence[Case]) -> Lanes:
    """Where the web lies on the bands, for every case and web place (places padded with the nominal)."""
    places = [profile.web_places(case) for case in cases]
    cells = [profile.signed_cells(case.bands) for case in cases]
    count, most = max(map(len, places)), max(1, *map(len, cells))
    spot = np.array([row + row[:1] * (count - len(row)) for row in places])
    rows = [[(c.low, c.high, c.wraps) for c in row] + [(0.0, 0.0, 0)] * (most - len(row)) for row in cells]
    low, high, wraps = (np.array(rows, float)[:, None, :, part] for part in range(3))
    return lanes_at(spot[..., 0], spot[..., 1], low, high, wraps)


def lanes_at(width: Array, offset: Array, low: Array, high: Array, wraps: Array) -> Lanes:
    """Where webs lie on bands.

    Parameters
    ----------
    width, offset
        Web width and offset toward the drive end, m, shape (n, g).
    low, high, wraps
        Cells, highest first, shape (n, 1, k) or (1, 1, k) when all webs run over the same bands.
    """
    edge = width[..., None] / 2
    middle = offset[..., None]
    on_web = np.clip(np.minimum(high, middle + edge) - np.maximum(low, middle - edge), 0, None)
    share = on_web / width[..., None]
    bare = 1 - share.sum(axis=-1)
    bare[np.abs(bare) < 1e-12] = 0.0
    touched = share > 0
    taped_low = np.where(touched, wraps, np.inf).min(axis=-1)
    stretches = ((middle - edge, middle), (middle, middle + edge), (middle - edge, middle + edge))
    return Lanes(
        width=width,
        offset=offset,
        width_share=np.concatenate([share, bare[..., None]], axis=-1).cumsum(axis=-1),
        wrap_share=np.concatenate([share * wraps, np.zeros_like(bare)[..., None]], axis=-1).cumsum(axis=-1),
        highest=np.where(touched, wraps, 0).max(axis=-1),
        lowest=np.where(bare > 0, 0.0, taped_low),
        lowest_taped=np.where(np.isfinite(taped_low), taped_low, 0.0),
        moments=np.stack([_moment(low, high, wraps, *ends) for ends in stretches], axis=-1),
        covered=share.sum(axis=-1),
        covered_halves=np.stack([_covered(low, high, *ends) for ends in stretches[:2]], axis=-1),
    )


def _covered(low: Array, high: Array, start: Array, end: Array) -> Array:
    """Length of tape under [start, end], m, shape (n, g)."""
    found: Array = np.clip(np.minimum(high, end) - np.maximum(low, start), 0, None).sum(axis=-1)
    return found


def _moment(low: Array, high: Array, wraps: Array, start: Array, end: Array) -> Array:
    """First moment of the layers under [start, end] about its middle, m^2, shape (n, g)."""
    left, right = np.maximum(low, start), np.minimum(high, end)
    length = np.clip(right - left, 0, None)
    found: Array = (wraps * length * ((left + right) / 2 - (start + end) / 2)).sum(axis=-1)
    return found


def evaluate(cases: Sequence[Case], drag_share: float) -> Field:
    """All first-order results of the cases at every row and web place.

    Parameters
    ----------
    cases
        At least one.
    drag_share
        Idler drag as a share of the web force; it takes its part of the same wrap.

    Returns
    -------
    Field
        See there; row 0, place 0 is nominal.
    """
    ranges = np.array([[(r.low, r.nominal, r.high) for r in ranges_of(case)] for case in cases])
    values = ranges[:, np.arange(len(VARIABLES)), _ENDS]
    porous = np.array([case.web.porous for case in cases])[:, None, None]
    return field_of(values, lanes_of(cases), porous, drag_share)


def field_of(values: Array, lanes: Lanes, porous: Array, drag_share: float) -> Field:
    """All first-order results for inputs that are already columns: corners of cases, or a drawn sample.

    Parameters
    ----------
    values
        Inputs in the order of ``VARIABLES``, SI, shape (n, s, variables).
    lanes
        Of the n webs.
    porous
        Boolean, shape (n, 1, 1) or (1, 1, 1).
    drag_share
        As in :func:`evaluate`.
    """
    (tension, speed, air_temp, modulus, thickness, _, web_rough, diameter, wrap, span, bare_rough, bare_mu, skew,
     tape, tape_rough, tape_mu) = (values[:, :, None, number] for number in range(len(VARIABLES)))  # fmt: skip
    mean = strain.tension_strain(tension, modulus, thickness)
    per_wrap = strain.step(1, tape, diameter / 2)

    film = np.where(porous, 0.0, air.film_height(diameter / 2, 2 * speed, tension, air.viscosity(air_temp)))
    kept_tape = air.traction_kept(film, air.combined_roughness(web_rough, tape_rough))
    kept_bare = air.traction_kept(film, air.combined_roughness(web_rough, bare_rough))
    grip_tape, grip_bare = tape_mu * kept_tape * wrap, bare_mu * kept_bare * wrap

    ratio, loss, need_tape, need_bare = _carried(lanes, per_wrap / mean)
    taped = lanes.highest[:, None] > 0
    lost = np.log1p(drag_share)
    moments = lanes.moments[:, None] * per_wrap[..., None]
    weakest = np.where(taped, np.minimum(grip_tape, grip_bare), grip_bare)
    results = {
        "mean": mean,
        "ratio": ratio,
        "loss": loss,
        "step": lanes.highest[:, None] * per_wrap,
        "film": film,
        "kept_tape": kept_tape,
        "kept_bare": kept_bare,
        "grip_tape": grip_tape,
        "grip_bare": grip_bare,
        "hold_need": np.maximum(need_tape, need_bare),
        "hold": _larger_share(need_tape, grip_tape, need_bare, grip_bare),
        "hold_and_drag": _larger_share(np.where(taped, need_tape + lost, 0), grip_tape, need_bare + lost, grip_bare),
        "lateral": _lateral(moments, lanes.width[:, None], modulus * thickness, tension, span, weakest, skew),
        "shift": strain.entry_shift(moments[..., 2] * 12 / lanes.width[:, None] ** 3, span),
        "skew_shift": 2 / 3 * span * skew,
    }
    shape = ratio.shape
    return Field(values, lanes, **{name: np.broadcast_to(result, shape) for name, result in results.items()})


def _carried(lanes: Lanes, x: Array) -> tuple[Array, Array, Array, Array]:
    """Edge ratio, centre loss, and the logarithmic ratios that tape and bare face must hold."""
    level = strain.slack_level(x, lanes.width_share[:, None], lanes.wrap_share[:, None])
    lowest = lanes.lowest[:, None]
    ratio = lanes.highest[:, None] * x - level
    loss = (lanes.wrap_share[:, None, :, -1] - lowest) * x
    need_tape, need_low = traction.hold_need(ratio, loss)
    inner = lanes.lowest_taped[:, None] * x - level
    below_mean = np.where((inner > 0) & (inner < 1), inner, 1.0)
    need_tape = np.maximum(np.maximum(need_tape, -np.log(below_mean)), np.where(lowest > 0, need_low, 0))
    return ratio, loss, need_tape, np.where(lowest > 0, 0, need_low)


def _larger_share(need_tape: Array, grip_tape: Array, need_bare: Array, grip_bare: Array) -> Array:
    found: Array = np.maximum(
        traction.share_of_grip(need_tape, grip_tape), traction.share_of_grip(need_bare, grip_bare)
    )
    return found


def _lateral(
    moments: Array, width: Array, stiffness: Array, tension: Array, span: Array, grip: Array, skew: Array
) -> Array:
    """Share of the lateral hold used by either half of the web or by the web as a whole.

    A curvature kappa at the roller needs the entry force 2 E I kappa / L, with E I kappa = E h times the
    first moment of the step; a misaligned roller needs 2 E I theta / L^2. The two are added without regard
    to sign, since tape is seldom laid with the sign of a tram reading in mind. The grip is the lower of
    tape and bare face, for the whole stretch.
    """
    halves = 2 * stiffness * np.abs(moments[..., :2]).max(axis=-1) / span
    turned = stiffness * width**3 / 12 * skew / span
    whole = 2 * (stiffness * np.abs(moments[..., 2]) + turned) / span
    per_half = traction.share_of_grip(halves, grip * tension * width / 2)
    return np.maximum(per_half, traction.share_of_grip(whole, grip * tension * width))
