"""How sure is the verdict: the chance that each check fits, what matters most, and the best number of wraps.

Points are drawn from the ranges of the case and each is judged as a case of its own (:mod:`calcs.draws`). The
verdict itself stays with the corners (:mod:`calcs.verdict`): a chance of 95 % is no *fits*.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any

import numpy as np

from calcs import VERSION
from calcs.case import Case, CaseError, display_value
from calcs.corners import Lanes
from calcs.draws import (
    Sample,
    chosen,
    draw,
    drawn_lanes,
    judge_columns,
    nominal_point,
    one_at_a_time,
    ranged_inputs,
)
from calcs.limits import DEFAULT, Limits
from calcs.sizing import covered_share, formula_wraps, most_wraps, with_wraps
from calcs.verdict import STANDING
from calcs.window import TARGET_HALF

DRAWS = 10_000
MOST_DRAWS = 1_000_000
_TORNADO_POINTS = 9
_TWO_SIDED_95 = 1.959964
_ENOUGH = 0.5
"""Tape is proposed when it is more likely than not to pass every check (default, no source)."""


@dataclass(frozen=True, slots=True)
class Chance:
    """A share of the drawn points with its 95 % interval (Wilson), which tells the error of drawing only."""

    share: float
    low: float
    high: float

    @classmethod
    def of(cls, hits: int, draws: int) -> Chance:
        """Share and interval of ``hits`` among ``draws``.

        Notes
        -----
        Score interval, E. B. Wilson, J. Am. Stat. Assoc. 22 (1927) 209 (from memory, not checked).
        """
        share, z2 = hits / draws, _TWO_SIDED_95**2
        middle = (share + z2 / (2 * draws)) / (1 + z2 / draws)
        reach = _TWO_SIDED_95 / (1 + z2 / draws) * math.sqrt(share * (1 - share) / draws + z2 / (4 * draws**2))
        low = 0.0 if hits == 0 else middle - reach
        return cls(share, low, 1.0 if hits == draws else middle + reach)

    def as_dict(self) -> dict[str, float]:
        """Plain form."""
        return {"share": self.share, "low": self.low, "high": self.high}


@dataclass(frozen=True, slots=True)
class CheckChance:
    """Shares of the drawn points at which one check fits, cautions, refuses or does not count."""

    id: str
    title: str
    fits: float
    caution: float
    refused: float
    not_evaluated: float


@dataclass(frozen=True, slots=True)
class Lever:
    """What one input does alone, all others nominal.

    ``at_low`` and ``at_high`` are the least margin of all checks, as a share of the limit, with the input at the
    ends of its range ``low`` to ``high`` (unit of its name); ``change`` is the difference between the best and the
    worst of them over the whole range; ``tightest`` names the check that has the least margin where it is worst.
    """

    name: str
    low: float
    high: float
    at_low: float
    at_high: float
    change: float
    tightest: str


@dataclass(frozen=True, slots=True)
class WrapsChance:
    """Shares of the drawn points for one number of wraps; ``on_target``: all fit and the edge ratio is on target."""

    wraps: int
    all_fit: float
    none_refused: float
    on_target: float


@dataclass(frozen=True, slots=True)
class Uncertainty:
    """The answer. ``best_wraps`` is 0 for bare and None where there is no tape to count."""

    draws: int
    seed: int
    all_fit: Chance
    none_refused: Chance
    checks: tuple[CheckChance, ...]
    nominal_margin: float
    levers: tuple[Lever, ...]
    wraps: tuple[WrapsChance, ...]
    best_wraps: int | None
    sentences: tuple[str, ...]
    version: str
    limits_version: str

    def as_dict(self) -> dict[str, Any]:
        """Plain form for JSON; what is infinite becomes null."""
        return {
            "draws": self.draws,
            "seed": self.seed,
            "probability_all_fit": self.all_fit.as_dict(),
            "probability_none_refused": self.none_refused.as_dict(),
            "checks": [_plain(found) for found in self.checks],
            "nominal_margin": _finite(self.nominal_margin),
            "tornado": [_plain(found) for found in self.levers],
            "wraps": [_plain(found) for found in self.wraps],
            "best_wraps": self.best_wraps,
            "sentences": list(self.sentences),
            "standing": STANDING,
            "version": self.version,
            "limits_version": self.limits_version,
        }


def _finite(value: Any) -> Any:
    return None if isinstance(value, float) and not math.isfinite(value) else value


def _plain(found: CheckChance | Lever | WrapsChance) -> dict[str, Any]:
    return {name: _finite(getattr(found, name)) for name in found.__dataclass_fields__}


def uncertainty(case: Case, limits: Limits = DEFAULT, *, seed: int = 1, draws: int = DRAWS) -> Uncertainty:
    """Chance to fit, levers and best number of wraps of one case.

    Parameters
    ----------
    case
        ``[low, high]`` is drawn uniformly, mean and sd normally and cut at 3 sd, each by itself.
    limits
        The plant's limits.
    seed, draws
        Start of the random numbers, and how many points. The same seed gives the same answer.

    Returns
    -------
    Uncertainty
        Inputs that belong together (a tape lot and its roughness) are drawn as if they did not: that is an
        assumption, not a finding.

    Raises
    ------
    CaseError
        A number of draws or a seed that cannot be used.

    Examples
    --------
    >>> from calcs.case import parse_case
    >>> case = parse_case({
    ...     "web": {"width_mm": 1600, "thickness_um": 20, "modulus_md_mpa": [1600, 2400], "wander_mm": 5},
    ...     "state": {"tension_n_per_m": [100, 140], "speed_m_per_min": 250},
    ...     "roller": {"diameter_mm": 200, "face_mm": 1750, "wrap_deg": 95, "entry_span_mm": 1600,
    ...                "roughness_um": 25, "friction": [0.24, 0.36]},
    ...     "tape": {"thickness_mm": 0.09, "roughness_um": 20},
    ...     "bands": [{"end": end, "inner_mm": 640, "outer_mm": 840, "wraps": 2} for end in ("operator", "drive")],
    ... })
    >>> found = uncertainty(case)
    >>> found.best_wraps, [lever.name for lever in found.levers][0]
    (1, 'state.tension_n_per_m')
    """
    if not 1 <= draws <= MOST_DRAWS:
        raise CaseError("--draws", f"--draws is {draws}; give a number of drawn points from 1 to {MOST_DRAWS}.")
    if seed < 0:
        raise CaseError("--seed", f"--seed is {seed}; give zero or a positive whole number.")
    columns = draw(case, draws, seed)
    one = with_wraps(case, 1)
    lanes = drawn_lanes(one, columns)
    counts = {band.wraps for band in case.bands}
    same = len(counts) == 1 and counts != {0}
    sample = judge_columns(one, columns, limits, counts.pop(), lanes) if same else judge_columns(case, columns, limits)
    wraps = _wraps(one, columns, limits, lanes)
    all_fit = Chance.of(int(sample.all_fit.sum()), draws)
    none_refused = Chance.of(int(sample.none_refused.sum()), draws)
    checks = tuple(_chances(sample))
    nominal, levers = _levers(case, limits)
    best = _best(wraps, formula_wraps(case, limits))
    return Uncertainty(
        draws=draws,
        seed=seed,
        all_fit=all_fit,
        none_refused=none_refused,
        checks=checks,
        nominal_margin=nominal,
        levers=levers,
        wraps=wraps,
        best_wraps=best,
        sentences=_sentences(all_fit, none_refused, checks, levers, wraps, best, limits),
        version=VERSION,
        limits_version=limits.version,
    )


def _chances(sample: Sample) -> list[CheckChance]:
    found = []
    for column in sample.columns:
        refused = column.evaluated & column.past_refuse
        caution = column.evaluated & column.past_caution & ~refused
        counts = column.evaluated
        shares = (counts & ~refused & ~caution, caution, refused, ~counts)
        found.append(CheckChance(column.id, column.title, *(float(share.mean()) for share in shares)))
    return found


def _levers(case: Case, limits: Limits) -> tuple[float, tuple[Lever, ...]]:
    """Nominal least margin, and every ranged input's lever, the strongest first."""
    ranges = ranged_inputs(case)
    names = list(ranges)
    nominal = float(judge_columns(case, nominal_point(case), limits).least_margin[0])
    if not names:
        return nominal, ()
    sample = judge_columns(case, one_at_a_time(case, names, _TORNADO_POINTS), limits)
    margins = sample.least_margin.reshape(len(names), _TORNADO_POINTS)
    found = []
    for number, name in enumerate(names):
        row, span = margins[number], ranges[name]
        worst = int(np.argmin(row))
        best = max(float(row.max()), nominal)
        change = best - float(row[worst]) if math.isfinite(best) else (0.0 if np.all(row == best) else math.inf)
        found.append(
            Lever(
                name,
                display_value(name, span.low),
                display_value(name, span.high),
                float(row[0]),
                float(row[-1]),
                change,
                sample.tightest(number * _TORNADO_POINTS + worst),
            )
        )
    return nominal, tuple(sorted(found, key=lambda lever: -lever.change))


def _wraps(one: Case, columns: dict[str, np.ndarray], limits: Limits, lanes: Lanes) -> tuple[WrapsChance, ...]:
    """Chances of bare and of every whole number of wraps on all bands, over the same drawn points.

    ``one`` is the case with one wrap everywhere, ``lanes`` where its drawn webs lie.
    """
    target = limits["edge_ratio"].target
    if one.tape is None or target is None or covered_share(one) == 0:
        return ()
    draws = len(columns["web.width_mm"])
    bare = judge_columns(with_wraps(one, 0), columns, limits)
    found = [WrapsChance(0, float(bare.all_fit.mean()), float(bare.none_refused.mean()), 0.0)]
    left = columns
    for wraps in range(1, most_wraps(limits) + 1):
        # more layers are never easier: a point that refuses some refuses more of them
        sample = judge_columns(one, left, limits, wraps, lanes)
        near = np.abs(sample.ratio - target) <= TARGET_HALF
        fit, kept = sample.all_fit, sample.none_refused
        shares = (float(hits.sum()) / draws for hits in (fit, kept, fit & near))
        found.append(WrapsChance(wraps, *shares))
        left, lanes = {name: column[kept] for name, column in left.items()}, chosen(lanes, kept)
    return tuple(found)


def _best(wraps: tuple[WrapsChance, ...], formula: float | None) -> int | None:
    """Number of wraps most likely to fit all with the edge ratio on target; bare when tape is unlikely to fit.

    Of equally good numbers the one nearest to the closed form, then the smaller one.
    """
    if not wraps:
        return None
    best = max(
        wraps[1:], key=lambda found: (found.on_target, found.all_fit, -abs(found.wraps - (formula or 0)), -found.wraps)
    )
    return best.wraps if best.all_fit >= _ENOUGH else 0


def _share(value: float) -> str:
    if 0 < value < 0.01 or 0.99 < value < 1:
        return "under 1 %" if value < 0.5 else "over 99 %"
    return f"{100 * value:.0f} %"


def _sentences(
    all_fit: Chance,
    none_refused: Chance,
    checks: tuple[CheckChance, ...],
    levers: tuple[Lever, ...],
    wraps: tuple[WrapsChance, ...],
    best: int | None,
    limits: Limits,
) -> tuple[str, ...]:
    said = [
        f"Every check fits at {_share(all_fit.share)} of the drawn points and none refuses at "
        f"{_share(none_refused.share)}; a chance is not a verdict."
    ]
    weakest = max(checks, key=lambda found: (found.refused, found.caution))
    if weakest.refused > 0 or weakest.caution > 0:
        said.append(
            f"The check most at risk is {weakest.title.lower()}: refused at {_share(weakest.refused)}, "
            f"caution at {_share(weakest.caution)}."
        )
    if levers and levers[0].change > 0:
        first = levers[0]
        said.append(f"{first.name} matters most: measure or hold it more closely before anything else.")
    elif not levers:
        said.append("No input has a range: enter ranges to learn how sure this is.")
    if wraps and best is not None:
        said.append(_wraps_sentence(wraps, best, limits))
    return tuple(said)


def _wraps_sentence(wraps: tuple[WrapsChance, ...], best: int, limits: Limits) -> str:
    target = limits["edge_ratio"].target or 0.0
    field = f"{target - TARGET_HALF:.1f} to {target + TARGET_HALF:.1f}"
    if best == 0:
        likeliest = max(wraps[1:], key=lambda found: found.all_fit)
        return (
            f"Bare has the best chance: no number of wraps fits every check at half of the points "
            f"(likeliest {likeliest.wraps}, {_share(likeliest.all_fit)})."
        )
    found = wraps[best]
    word = "wrap has" if best == 1 else "wraps have"
    return (
        f"{best} {word} the best chance: every check fits at {_share(found.all_fit)} of the points, with an edge "
        f"ratio of {field} at {_share(found.on_target)}."
    )
