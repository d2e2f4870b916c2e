"""How many wraps a web takes over a range of tensions, and its strain across the width: the curves of the plots."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from calcs import air, profile, strain
from calcs.case import Case
from calcs.limits import Limits
from calcs.sizing import covered_share

TARGET_HALF = 0.1
"""Half the height of the field round the target edge ratio, 1.2 to 1.4 (default of the trade form, no source)."""


@dataclass(frozen=True, slots=True)
class Window:
    """Wraps at one tension, not rounded: where the target field begins and ends, where caution and refusal begin."""

    tension: float
    target_low: float
    target_high: float
    caution: float
    refuse: float


def window(case: Case, limits: Limits, tensions: Sequence[float]) -> list[Window]:
    """Wraps that reach the target and the limits of edge ratio, centre loss and hold, over line tension.

    Parameters
    ----------
    case
        The wraps of its bands do not matter; all of them are taken to carry the same number.
    limits
        The plant's limits.
    tensions
        N/m, above zero.

    Returns
    -------
    list of Window
        One per tension; empty without a tape, or when the bands lie under none or all of the web.

    Notes
    -----
    With x = (t/R)/eps_T and the share f on tape: ratio 1 + (1 - f) n x, loss f n x, hold
    max(ln ratio / grip on tape, -ln(1 - loss) / grip on the bare face). Properties nominal, web centred, speed
    at the top of its range, as the checks take it. Solved for n; exact while the centre is taut, which the
    limits ask for anyway.
    """
    share = covered_share(case)
    target = limits["edge_ratio"].target
    if case.tape is None or target is None or not 0 < share < 1 - 1e-9:
        return []
    pull = np.asarray(tensions, float)
    radius = case.roller.diameter.nominal / 2
    mean = strain.tension_strain(pull, case.web.modulus_md.nominal, case.web.thickness.nominal)
    per_wrap = case.tape.thickness.nominal / radius / mean
    tape, bare = _grips(case, pull)

    def at_ratio(ratio: float | np.ndarray) -> np.ndarray:
        return (np.asarray(ratio) - 1) / ((1 - share) * per_wrap)

    def at_loss(loss: float | np.ndarray) -> np.ndarray:
        return np.asarray(loss) / (share * per_wrap)

    def at_limit(level: str) -> np.ndarray:
        ratio, loss, hold = (getattr(limits[name], level) for name in ("edge_ratio", "centre_loss", "hold"))
        curves = [np.full_like(pull, np.inf)]
        curves += [] if ratio is None else [at_ratio(ratio)]
        curves += [] if loss is None else [at_loss(loss)]
        if hold is not None:
            curves += [at_ratio(np.exp(hold * tape)), at_loss(1 - np.exp(-hold * bare))]
        found: np.ndarray = np.min(curves, axis=0)
        return found

    rows = (
        pull,
        at_ratio(target - TARGET_HALF),
        at_ratio(target + TARGET_HALF),
        at_limit("caution"),
        at_limit("refuse"),
    )
    return [Window(*(float(value) for value in row)) for row in zip(*rows, strict=True)]


def _grips(case: Case, tension: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Effective friction times wrap on tape and on the bare face, at the highest speed."""
    roller, tape = case.roller, case.tape
    if tape is None:
        raise ValueError("a case without tape has no grip on tape")
    speed, eta = case.state.speed.high, air.viscosity(case.state.air_temp.nominal)
    film = air.film_height(roller.diameter.nominal / 2, 2 * speed, tension, eta)
    film = np.zeros_like(tension) if case.web.porous else film
    web, wrap = case.web.roughness.nominal, roller.wrap.nominal
    on_tape = air.traction_kept(film, air.combined_roughness(web, tape.roughness.nominal))
    on_bare = air.traction_kept(film, air.combined_roughness(web, roller.roughness.nominal))
    friction = tape.friction or roller.friction
    return friction.nominal * on_tape * wrap, roller.friction.nominal * on_bare * wrap


def strain_across(case: Case) -> list[tuple[float, float]]:
    """Carried MD strain over the nominal web, centred on the roller.

    Parameters
    ----------
    case
        Bands as they are; overlapping bands add.

    Returns
    -------
    list of tuple
        Corners of the stepped profile, (place from the roller centre in m with the operator end negative,
        strain), from the operator edge to the drive edge.

    Notes
    -----
    A lane of n wraps carries max(0, n x - lambda) times the mean strain; see
    :func:`calcs.strain.slack_level`.
    """
    edge = case.web.width.nominal / 2
    mean = float(
        strain.tension_strain(case.state.tension.nominal, case.web.modulus_md.nominal, case.web.thickness.nominal)
    )
    lanes = _lanes(case, edge)
    thick = case.tape.thickness.nominal if case.tape else 0.0
    per_wrap = thick / (case.roller.diameter.nominal / 2) / mean
    highest_first = sorted(lanes, key=lambda lane: -lane[2])
    widths = np.cumsum([(high - low) / (2 * edge) for low, high, _ in highest_first])
    wraps = np.cumsum([(high - low) / (2 * edge) * count for low, high, count in highest_first])
    level = float(strain.slack_level(per_wrap, widths, wraps))
    points = []
    for low, high, count in lanes:
        carried = mean * max(0.0, count * per_wrap - level)
        points += [(low, carried), (high, carried)]
    return points


def _lanes(case: Case, edge: float) -> list[tuple[float, float, int]]:
    """The web cut into lanes of one height, from the operator edge to the drive edge."""
    lanes, reached = [], -edge
    for cell in sorted(profile.signed_cells(case.bands), key=lambda cell: cell.low):
        low, high = max(cell.low, -edge), min(cell.high, edge)
        if low >= high:
            continue
        if low > reached:
            lanes.append((reached, low, 0))
        lanes.append((low, high, cell.wraps))
        reached = high
    return [*lanes, (reached, edge, 0)] if reached < edge else lanes
