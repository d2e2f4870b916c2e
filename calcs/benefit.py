"""Does it pay: what was lost before and after, priced, with an interval, against what tape and stops cost.

Savings are those of the window after: what would have been lost over its exposure at the rate before, less what was
lost. The currency is the caller's. Windows are fixed before looking, as in :mod:`calcs.evidence`.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from scipy.special import gammaincinv, stdtrit

from calcs.case import CaseError
from calcs.evidence import LEVEL, Window, dispersion, rate_ratio

PAYS = "pays"
COSTS_MORE = "costs more than it saves"
CANNOT_TELL = "cannot tell"
WEEKS_OF_YEAR = 365.25 / 7
FEWEST_WEEKS = 4.0
"""Under this many weeks a figure per year is called a projection (our default, no source)."""


@dataclass(frozen=True, slots=True)
class Saved:
    """What the window after saved: amount with its limits, in events or in the unit of the amounts (kg)."""

    amount: float
    low: float
    high: float


@dataclass(frozen=True, slots=True)
class Priced:
    """One kind of loss with its price: ``name``, ``unit`` of the amount, money per unit."""

    name: str
    unit: str
    saved: Saved
    price: float


@dataclass(frozen=True, slots=True)
class Cost:
    """What was spent: tape, or the stops to put it on; money."""

    name: str
    money: float


@dataclass(frozen=True, slots=True)
class Benefit:
    """Money saved less money spent, over the window after and per year, with limits.

    ``projection`` tells that the window is too short for a figure per year without that word; ``per_year_words`` has
    it where it belongs and is the only text a page may print for the figure per year.
    """

    verdict: str
    net: float
    low: float
    high: float
    saved: tuple[Priced, ...]
    costs: tuple[Cost, ...]
    weeks: float
    per_year: float
    per_year_low: float
    per_year_high: float
    projection: bool
    per_year_words: str
    sentences: tuple[str, ...]


def poisson_limits(events: float, level: float = LEVEL) -> tuple[float, float]:
    """Exact limits of a Poisson mean from one count (Garwood, Biometrika 28 (1936) 437; title from memory).

    Examples
    --------
    >>> [round(limit, 3) for limit in poisson_limits(10)]
    [4.795, 18.39]
    """
    tail = (1 - level) / 2
    low = float(gammaincinv(events, tail)) if events > 0 else 0.0
    return low, float(gammaincinv(events + 1, 1 - tail))


def events_avoided(before: Window, after: Window, level: float = LEVEL) -> Saved:
    """Events that the window after was spared, with limits.

    Notes
    -----
    The limits of the difference of two rates come from the exact limits of each: distances to them are squared and
    added (the method known as MOVER, from memory; checked by simulation). Rolls that scatter more than Poisson counts
    stretch the distances by the root of their dispersion.

    Raises
    ------
    CaseError
        As :func:`calcs.evidence.rate_ratio`.
    """
    rate_ratio(before, after, level)  # refuses windows that cannot be
    spread = dispersion(before, after)
    root = math.sqrt(max(1.0, spread.index)) if spread else 1.0
    share = after.exposure / before.exposure
    low_before, high_before = (limit * share for limit in poisson_limits(before.events, level))
    low_after, high_after = poisson_limits(after.events, level)
    expected = before.events * share
    amount = expected - after.events
    down = root * math.hypot(expected - low_before, high_after - after.events)
    up = root * math.hypot(high_before - expected, after.events - low_after)
    return Saved(amount, amount - down, amount + up)


def _ratio_of_rolls(name: str, rolls: Sequence[tuple[float, float]]) -> tuple[float, float, int]:
    """Amount per exposure over rolls, its variance, and the freedom (ratio estimate, each roll against the mean)."""
    if len(rolls) < 2:
        raise CaseError(name, f"{name} has {len(rolls)} rolls; two or more are needed to tell how much rolls differ.")
    amounts, exposures = np.array(rolls, float).T
    if not (np.isfinite(amounts).all() and amounts.min() >= 0 and exposures.min() > 0):
        raise CaseError(name, f"{name} has a negative amount or a roll of no length; correct that roll.")
    rate = float(amounts.sum() / exposures.sum())
    count = len(rolls)
    residual = amounts - rate * exposures
    variance = count / (count - 1) * float((residual**2).sum()) / float(exposures.sum()) ** 2
    return rate, variance, count - 1


def amount_saved(
    before: Sequence[tuple[float, float]], after: Sequence[tuple[float, float]], level: float = LEVEL
) -> Saved:
    """Waste (or any amount) that the window after was spared, from amount and exposure of each roll.

    Parameters
    ----------
    before, after
        ``(amount, exposure)`` per roll; two rolls or more in each.

    Notes
    -----
    Difference of two ratio estimates with Welch's t interval, its freedom by Welch and Satterthwaite.

    Raises
    ------
    CaseError
        Fewer than two rolls, a negative amount, a roll of no length.
    """
    rate_before, var_before, freedom_before = _ratio_of_rolls("before", before)
    rate_after, var_after, freedom_after = _ratio_of_rolls("after", after)
    exposure = sum(length for _, length in after)
    amount = (rate_before - rate_after) * exposure
    variance = var_before + var_after
    if variance == 0:
        return Saved(amount, amount, amount)
    freedom = variance**2 / (var_before**2 / freedom_before + var_after**2 / freedom_after)
    reach = float(stdtrit(freedom, (1 + level) / 2)) * math.sqrt(variance) * exposure
    return Saved(amount, amount - reach, amount + reach)


def benefit(saved: Sequence[Priced], costs: Sequence[Cost], weeks: float, currency: str = "EUR") -> Benefit:
    """Money saved less money spent.

    Parameters
    ----------
    saved
        Each kind of loss, priced.
    costs
        Tape, work, stops over the same window.
    weeks
        Length of the window after by the calendar.
    currency
        For the sentences.

    Returns
    -------
    Benefit
        The limits of all kinds are added as they are: fewer breaks and less waste come together, so their errors are
        not taken to cancel. *pays* where even the lower limit is above 0.

    Raises
    ------
    CaseError
        A price, cost or length of time that cannot be.
    """
    if not (math.isfinite(weeks) and weeks > 0):
        raise CaseError("weeks", f"weeks is {weeks}; give the length of the window after, above 0.")
    for line in saved:
        if not line.price >= 0:
            raise CaseError("price", f"price of {line.name} is {line.price}; give money per {line.unit}, 0 or more.")
    for cost in costs:
        if not cost.money >= 0:
            raise CaseError("costs", f"costs: {cost.name} is {cost.money}; give money spent, 0 or more.")
    spent = sum(cost.money for cost in costs)
    net, low, high = (
        sum(line.price * getattr(line.saved, name) for line in saved) - spent for name in ("amount", "low", "high")
    )
    verdict = PAYS if low > 0 else COSTS_MORE if high < 0 else CANNOT_TELL
    factor = WEEKS_OF_YEAR / weeks
    projection = weeks < FEWEST_WEEKS
    words = _per_year_words(net * factor, low * factor, high * factor, weeks, projection, currency)
    return Benefit(
        verdict=verdict,
        net=net,
        low=low,
        high=high,
        saved=tuple(saved),
        costs=tuple(costs),
        weeks=weeks,
        per_year=net * factor,
        per_year_low=low * factor,
        per_year_high=high * factor,
        projection=projection,
        per_year_words=words,
        sentences=_lines(saved, costs, net, low, high, currency),
    )


def _per_year_words(net: float, low: float, high: float, weeks: float, projection: bool, currency: str) -> str:
    span = f"{net:,.0f} {currency} a year (95 % interval {low:,.0f} to {high:,.0f})"
    if projection:
        return f"Projection from {weeks:.1f} weeks only: {span}."
    return f"At the rate of these {weeks:.0f} weeks: {span}."


def _lines(
    saved: Sequence[Priced], costs: Sequence[Cost], net: float, low: float, high: float, currency: str
) -> tuple[str, ...]:
    said = [
        f"{line.name}: {line.saved.amount:,.1f} {line.unit} spared ({line.saved.low:,.1f} to {line.saved.high:,.1f}) "
        f"at {line.price:,.2f} {currency} per {line.unit}."
        for line in saved
    ]
    said += [f"{cost.name}: {cost.money:,.0f} {currency} spent." for cost in costs]
    said.append(f"Together {net:,.0f} {currency} ({low:,.0f} to {high:,.0f}) over the window after.")
    return tuple(said)
