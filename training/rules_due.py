"""When a certificate falls due again. Pure calendar arithmetic on days of the plant's own clock.

Four rules, one chosen per skill; the first three follow published models:

* *cal-end*: to the last day of the Nth calendar month after the month of completion. Model: 14 CFR 61.56(c).
* *base-month*: done in the month before, of or after the due month counts as done in the due month, and the base
  month does not move. Model: 14 CFR 121.401(b). What is done earlier or later makes its own month the base.
* *last-3-months*: ends are month ends; done within the last three whole calendar months of validity, the new period
  runs from the old end, otherwise from the end of the month of completion. Model: AMC1 ORO.FC.145(g).
* *anniversary*: the day of the anchor N months on, clamped to the end of a shorter month and always counted from the
  anchor, so that 29 February comes back. Done inside the window before the end, the anchor stays; earlier or later,
  the day of completion is the new anchor. The window and the late tiers are our own defaults.

A credit for the due month is never a permission to work: a lapsed certificate does not count, whatever the rule.
"""

import calendar
from dataclasses import dataclass
from datetime import date, timedelta
from enum import StrEnum


class DueRule(StrEnum):
    """How the last day is found."""

    ANNIVERSARY = "anniversary"
    CAL_END = "cal-end"
    BASE_MONTH = "base-month"
    LAST_3_MONTHS = "last-3-months"


RULE_WORDS = {
    DueRule.ANNIVERSARY: "the anniversary of the anchor day",
    DueRule.CAL_END: "the end of the calendar month",
    DueRule.BASE_MONTH: "the base month, with one month either side",
    DueRule.LAST_3_MONTHS: "the old end, when renewed in the last three months",
}


class Tier(StrEnum):
    """What a renewal takes, by how long ago the certificate ended."""

    IN_TIME = "in-time"
    LATE = "late"
    LAPSED_LONG = "lapsed-long"


TIER_WORDS = {
    Tier.IN_TIME: "refresher",
    Tier.LATE: "test and practical",
    Tier.LAPSED_LONG: "full course",
}


@dataclass(frozen=True)
class Period:
    """The last day, and the anchor from which it and the next ones are counted."""

    valid_to: date
    anchor: date


def add_months(day: date, months: int) -> date:
    """The same day of a later month, or that month's last day where it is shorter."""
    years, month = divmod(day.month - 1 + months, 12)
    year = day.year + years
    return date(year, month + 1, min(day.day, calendar.monthrange(year, month + 1)[1]))


def month_end(day: date) -> date:
    """The last day of the month."""
    return day.replace(day=calendar.monthrange(day.year, day.month)[1])


def months_between(first: date, second: date) -> int:
    """Calendar months from the month of one day to the month of another."""
    return 12 * (second.year - first.year) + second.month - first.month


def next_due(
    rule: DueRule, completed_on: date, *, months: int, previous: Period | None = None, window_days: int = 60
) -> Period:
    """The period that a completion on this day earns.

    Parameters
    ----------
    completed_on : the day on which everything asked for was done, in plant time.
    months : how long it lasts.
    previous : the period that it renews; None the first time.
    window_days : how long before the end a renewal keeps the anniversary (that rule only).
    """
    if rule == DueRule.CAL_END:
        return Period(month_end(add_months(completed_on.replace(day=1), months)), completed_on)
    if rule == DueRule.BASE_MONTH:
        return _base_month(completed_on, months, previous)
    if rule == DueRule.LAST_3_MONTHS:
        return _last_three_months(completed_on, months, previous)
    return _anniversary(completed_on, months, previous, window_days)


def _base_month(done: date, months: int, previous: Period | None) -> Period:
    base = done.replace(day=1)
    if previous is not None and abs(months_between(previous.valid_to, done)) <= 1:
        base = previous.valid_to.replace(day=1)
    return Period(month_end(add_months(base, months)), base)


def _last_three_months(done: date, months: int, previous: Period | None) -> Period:
    base = done
    if previous is not None and done <= previous.valid_to and months_between(done, previous.valid_to) <= 2:
        base = previous.valid_to
    return Period(month_end(add_months(base.replace(day=1), months)), month_end(base))


def _anniversary(done: date, months: int, previous: Period | None, window_days: int) -> Period:
    if previous is None or not previous.valid_to - timedelta(days=window_days) <= done <= previous.valid_to:
        return Period(add_months(done, months), done)
    so_far = months_between(previous.anchor, previous.valid_to)
    # An end that somebody chose, or that another rule gave, is no anniversary of its anchor: it becomes the anchor.
    if so_far < 0 or add_months(previous.anchor, so_far) != previous.valid_to:
        return Period(add_months(previous.valid_to, months), previous.valid_to)
    return Period(add_months(previous.anchor, so_far + months), previous.anchor)


def window_opens(rule: DueRule, valid_to: date, window_days: int) -> date:
    """The first day on which a renewal keeps the old rhythm; cal-end keeps none, so there the window is a reminder."""
    if rule == DueRule.BASE_MONTH:
        return add_months(valid_to.replace(day=1), -1)
    if rule == DueRule.LAST_3_MONTHS:
        return add_months(valid_to.replace(day=1), -2)
    return valid_to - timedelta(days=window_days)


def tier(valid_to: date, today: date, late_days: int) -> Tier:
    """What a renewal takes today. Model: an expired qualification first asks for less, then for all of it again."""
    behind = (today - valid_to).days
    if behind <= 0:
        return Tier.IN_TIME
    return Tier.LATE if behind <= late_days else Tier.LAPSED_LONG
