"""Did it help: counts before and after, set against the metres or hours in which they were counted.

Given the total of both counts, the count after is binomial; that test is exact for Poisson counts. The interval of
the rate ratio is that of Clopper and Pearson for the binomial share. Where the rolls scatter more than Poisson
counts do, the interval is widened by the root of their dispersion, and the sentence says so.

The caller fixes both windows, what is counted and the exposure minimum before anybody looks at a count, and stores
when that was done. A window chosen by its counts makes every figure here too good, and no formula can see it.

References
----------
Przyborowski and Wilenski, Biometrika 31 (1940) 313, for the conditional test; Clopper and Pearson, Biometrika 26
(1934) 404, for the interval. Titles seen, papers not.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from scipy.special import betaincinv
from scipy.stats import binom, chi2, poisson

from calcs.case import CaseError

BETTER = "better"
WORSE = "worse"
NOT_ENOUGH = "not enough evidence"
LEVEL = 0.95
"""Two-sided level of every interval."""
POWER = 0.8
"""Power for which the exposure needed is told (common practice, no source)."""
MOST_EVENTS = 1_000_000_000
MOST_EXPOSURE = 1e4
"""An exposure more than this many times the present one is answered as: cannot be reached."""


@dataclass(frozen=True, slots=True)
class Window:
    """One window of a study, fixed before its counts are looked at.

    ``events`` were counted over ``exposure`` (metres or hours, the same in both windows); ``rolls`` holds count and
    exposure of each roll where that is known, else nothing. The rolls, where given, add up to the window.
    """

    events: int
    exposure: float
    rolls: tuple[tuple[int, float], ...] = ()

    @property
    def rate(self) -> float:
        """Events per unit of exposure."""
        return self.events / self.exposure


@dataclass(frozen=True, slots=True)
class Minimum:
    """What each window must hold: the exposure, or else this many rolls (either will do)."""

    exposure: float
    rolls: int | None = None

    def met(self, window: Window) -> bool:
        """Whether one window holds enough."""
        return window.exposure >= self.exposure or (self.rolls is not None and len(window.rolls) >= self.rolls)


@dataclass(frozen=True, slots=True)
class RateRatio:
    """Rate after over rate before with its two-sided interval; ``ratio`` is None where both counts are zero.

    ``p_value`` is twice the smaller tail, so that it lies below 1 - level exactly where the interval excludes 1.
    """

    ratio: float | None
    low: float
    high: float
    p_value: float


@dataclass(frozen=True, slots=True)
class Dispersion:
    """Pearson's index over the rolls of both windows, each against its own window's rate: 1 for Poisson counts."""

    index: float
    freedom: int
    p_value: float
    least_expected: float


@dataclass(frozen=True, slots=True)
class Needed:
    """Exposure for the stated power if the present ratio held; None: none would do.

    ``each`` is that of each of two new windows of equal length, ``after`` that of the window after if the window before
    stays as long as it was.
    """

    each: float | None
    after: float | None


@dataclass(frozen=True, slots=True)
class Study:
    """Verdict of a before/after study with everything it rests on."""

    verdict: str
    exact: RateRatio
    low: float
    high: float
    dispersion: Dispersion | None
    minimum_met: bool
    needed: Needed | None
    sentences: tuple[str, ...]

    @property
    def ratio(self) -> float | None:
        """The rate ratio after/before."""
        return self.exact.ratio

    @property
    def widened(self) -> bool:
        """Whether the interval was widened for rolls that scatter more than Poisson counts."""
        return self.dispersion is not None and self.dispersion.index > 1


def _checked(name: str, window: Window) -> None:
    if not 0 <= window.events <= MOST_EVENTS or window.events != int(window.events):
        raise CaseError(
            f"{name}.events", f"{name}.events is {window.events}; give a whole number from 0 to {MOST_EVENTS:,}."
        )
    if not (math.isfinite(window.exposure) and window.exposure > 0):
        raise CaseError(f"{name}.exposure", f"{name}.exposure is {window.exposure}; give metres or hours above 0.")
    if not window.rolls:
        return
    counts, exposures = zip(*window.rolls, strict=True)
    if min(counts) < 0 or not min(exposures) > 0:
        raise CaseError(
            f"{name}.rolls", f"{name}.rolls has a negative count or a roll of no length; correct that roll."
        )
    if sum(counts) != window.events or not math.isclose(sum(exposures), window.exposure, rel_tol=1e-6):
        raise CaseError(
            f"{name}.rolls",
            f"{name}.rolls add up to {sum(counts)} events over {sum(exposures):g}, the window says "
            f"{window.events} over {window.exposure:g}; correct the rolls or the window.",
        )


def _share_interval(events: float, total: float, level: float) -> tuple[float, float]:
    """Clopper-Pearson limits of a binomial share; counts need not be whole (for counts divided by a dispersion)."""
    tail = (1 - level) / 2
    low = float(betaincinv(events, total - events + 1, tail)) if events > 0 else 0.0
    high = float(betaincinv(events + 1, total - events, 1 - tail)) if events < total else 1.0
    return low, high


def _odds(share: float, before: Window, after: Window) -> float:
    """Rate ratio that makes the given share of all events fall into the window after."""
    return math.inf if share == 1 else share / (1 - share) * before.exposure / after.exposure


def rate_ratio(before: Window, after: Window, level: float = LEVEL) -> RateRatio:
    """Rate ratio after/before with its exact interval and test.

    Parameters
    ----------
    before, after
        The windows; exposures in one and the same unit.
    level
        Two-sided level of the interval, 0.5 to 0.999.

    Returns
    -------
    RateRatio
        Limits 0 and infinity where nothing was counted at all, with p = 1.

    Raises
    ------
    CaseError
        A count or an exposure that cannot be, or a level outside its range.

    Examples
    --------
    >>> found = rate_ratio(Window(46, 120_000), Window(9, 130_000))
    >>> round(found.ratio, 2), round(found.low, 2), round(found.high, 2)
    (0.18, 0.08, 0.37)
    """
    _checked("before", before)
    _checked("after", after)
    if not 0.5 <= level <= 0.999:
        raise CaseError("level", f"level is {level}; give a level from 0.5 to 0.999.")
    total = before.events + after.events
    if total == 0:
        return RateRatio(None, 0.0, math.inf, 1.0)
    null = after.exposure / (before.exposure + after.exposure)
    tails = binom.cdf(after.events, total, null), binom.sf(after.events - 1, total, null)
    low, high = _share_interval(after.events, total, level)
    return RateRatio(
        after.rate / before.rate if before.events else math.inf,
        _odds(low, before, after),
        _odds(high, before, after),
        min(1.0, 2 * float(min(tails))),
    )


def dispersion(before: Window, after: Window) -> Dispersion | None:
    """How much more the rolls scatter than Poisson counts.

    Returns
    -------
    Dispersion or None
        Pearson's statistic over its freedom (rolls less one in each window that has events), with its chi-square
        probability; None where no window with events has two rolls. The probability is rough where the least
        expected count of a roll is below about 1.
    """
    statistic, freedom, least = 0.0, 0, math.inf
    for window in (before, after):
        if len(window.rolls) < 2 or not window.events:
            continue
        counts, exposures = np.array(window.rolls, float).T
        expected = exposures * window.rate
        statistic += float(((counts - expected) ** 2 / expected).sum())
        freedom += len(counts) - 1
        least = min(least, float(expected.min()))
    if not freedom:
        return None
    return Dispersion(statistic / freedom, freedom, float(chi2.sf(statistic, freedom)), least)


def widened(exact: RateRatio, before: Window, after: Window, index: float, level: float = LEVEL) -> tuple[float, float]:
    """The interval widened by the root of a dispersion index above 1.

    Notes
    -----
    On the logarithm of the ratio, each limit moves away from the ratio by the root. A ratio of 0 or infinity has no
    logarithm; there all counts are divided by the index before the limits are taken (derived; the two agree for large
    counts). Never narrower than the exact interval.
    """
    if index <= 1 or exact.ratio is None:
        return exact.low, exact.high
    if exact.ratio == 0 or math.isinf(exact.ratio):
        shares = _share_interval(after.events / index, (before.events + after.events) / index, level)
        low, high = (_odds(share, before, after) for share in shares)
        return min(low, exact.low), max(high, exact.high)
    root = math.sqrt(index)
    return exact.ratio * (exact.low / exact.ratio) ** root, exact.ratio * (exact.high / exact.ratio) ** root


def study_power(
    before_mean: float, after_mean: float, before_exposure: float, after_exposure: float, level: float = LEVEL
) -> float:
    """Chance that a study of Poisson counts excludes a ratio of 1 on the right side, by enumeration.

    Parameters
    ----------
    before_mean, after_mean
        Expected counts of the windows.
    before_exposure, after_exposure
        Their exposures, in one unit.

    Returns
    -------
    float
        Sum over every total (within 1e-10 of all) of the chance of that total and of a count after in the tail of the
        conditional test that lies on the side of the true ratio. From some 10,000 expected events on, every k-th total
        stands for k of them.
    """
    mean = before_mean + after_mean
    if mean <= 0:
        return 0.0
    null, true = after_exposure / (before_exposure + after_exposure), after_mean / mean
    if true > null:  # count the window that becomes rarer
        null, true = 1 - null, 1 - true
    first, last = int(poisson.ppf(5e-11, mean)), int(poisson.isf(5e-11, mean))
    step = 1 + (last - first) // 1500
    totals = np.arange(first, last + 1, step)
    tail = (1 - level) / 2
    most = binom.ppf(tail, totals, null)
    most = np.where(binom.cdf(most, totals, null) <= tail, most, most - 1)
    return step * float(np.sum(poisson.pmf(totals, mean) * np.where(most >= 0, binom.cdf(most, totals, true), 0.0)))


def _least(power_at: Callable[[float], float], start: float, power: float) -> float | None:
    """Smallest multiple of ``start`` from which the power stays: counts are whole, so power rises in small teeth."""
    high = 1.0
    while power_at(start * high) < power:
        high *= 2
        if high > MOST_EXPOSURE:
            return None
    low = high / 2
    while power_at(start * low) >= power and low > 1 / MOST_EXPOSURE:
        low, high = low / 2, low
    for _ in range(7):
        middle = math.sqrt(low * high)
        low, high = (low, middle) if power_at(start * middle) >= power else (middle, high)
    reached = high * 1.25
    for step in range(40):  # one hundredth at a time, down to where it fails
        tried = high * 1.25 / 1.01**step
        if power_at(start * tried) < power:
            break
        reached = tried
    return start * reached


def exposure_needed(
    before: Window, after: Window, power: float = POWER, level: float = LEVEL, index: float = 1.0
) -> Needed | None:
    """Exposure at which a study would tell, if the present ratio held.

    Parameters
    ----------
    before, after
        The windows as they are; their rates are taken as true.
    power, level
        Chance to tell, and level of the interval.
    index
        Dispersion of the rolls; above 1 the counts carry less, and the exposures grow by it (approximate).

    Returns
    -------
    Needed or None
        To the next hundredth upwards; None where there is no ratio or the ratio is 1. Power is counted exactly
        (:func:`study_power`); it rises in teeth, and the figure is the one above which it stays over the next
        quarter.
    """
    if before.events + after.events == 0 or before.rate == after.rate:
        return None
    index = max(1.0, index)
    rates = before.rate / index, after.rate / index
    each = _least(lambda e: study_power(rates[0] * e, rates[1] * e, e, e, level), before.exposure, power)
    kept = before.exposure
    longer = _least(lambda e: study_power(rates[0] * kept, rates[1] * e, kept, e, level), after.exposure, power)
    return Needed(each, longer)


def study(
    before: Window, after: Window, minimum: Minimum, unit: str, power: float = POWER, level: float = LEVEL
) -> Study:
    """Verdict of a before/after study.

    Parameters
    ----------
    before, after
        Windows fixed before looking: the caller's duty, see the module.
    minimum
        Least exposure (or rolls) of each window.
    unit
        Of the exposures, for the sentences: ``m`` or ``h``.

    Returns
    -------
    Study
        *better* where the (widened) interval lies below 1 and both windows meet the minimum; *worse* where it lies
        above 1, whatever the exposure, because too early a warning costs less than too late a one; else *not enough
        evidence*.

    Raises
    ------
    CaseError
        As :func:`rate_ratio`.
    """
    exact = rate_ratio(before, after, level)
    spread = dispersion(before, after)
    index = spread.index if spread else 1.0
    low, high = widened(exact, before, after, index, level)
    enough = minimum.met(before) and minimum.met(after)
    verdict = BETTER if high < 1 and enough else WORSE if low > 1 else NOT_ENOUGH
    needed = exposure_needed(before, after, power, level, index) if verdict == NOT_ENOUGH else None
    found = Study(verdict, exact, low, high, spread, enough, needed, ())
    sentences = _sentences(found, before, after, minimum, unit, power, level)
    return Study(verdict, exact, low, high, spread, enough, needed, sentences)


def _figure(value: float) -> str:
    return "no upper limit" if math.isinf(value) else f"{value:.2g}"


def _sentences(
    found: Study, before: Window, after: Window, minimum: Minimum, unit: str, power: float, level: float
) -> tuple[str, ...]:
    counts = (
        f"{before.events} events in {before.exposure:,.0f} {unit} before, {after.events} in {after.exposure:,.0f} after"
    )
    interval = f"{level * 100:g} % interval {_figure(found.low)} to {_figure(found.high)}"
    if found.ratio is None:
        said = [f"{counts}: no event in either window, so there is no ratio. Verdict: {found.verdict}."]
    else:
        ratio = "infinite (none before)" if math.isinf(found.ratio) else f"{found.ratio:.2g}"
        said = [f"{counts}: rate ratio {ratio}, {interval}. Verdict: {found.verdict}."]
    spread = found.dispersion
    if spread is None:
        said.append("The scatter from roll to roll was not tested: counts per roll are not given.")
    elif spread.index > 1:
        said.append(
            f"Rolls scatter {spread.index:.2g} times as much as chance alone (p = {spread.p_value:.2g}): the interval "
            f"is widened by the root of it, {math.sqrt(spread.index):.2g}."
        )
    else:
        said.append(f"Rolls scatter no more than chance alone (index {spread.index:.2g}): the interval is not widened.")
    if spread is not None and spread.least_expected < 1:
        said.append("Some rolls expect less than one event, so the probability of their scatter is rough.")
    if not found.minimum_met:
        rolls = f" or {minimum.rolls} rolls" if minimum.rolls is not None else ""
        said.append(f"The exposure minimum of {minimum.exposure:,.0f} {unit}{rolls} in each window is not met.")
    if found.needed is not None:
        said.append(_needed_sentence(found.needed, unit, power))
    return tuple(said)


def _needed_sentence(needed: Needed, unit: str, power: float) -> str:
    chance = f"For {power * 100:g} % chance to tell, if the present ratio held:"
    if needed.each is None:
        return f"{chance} no exposure that could be run would do."
    each = f"{needed.each:,.0f} {unit} in each of two new windows"
    if needed.after is None:
        return f"{chance} {each}; with the window before as it is, no length after would do."
    return f"{chance} {needed.after:,.0f} {unit} after with the window before as it is, or {each}."
