"""When a certificate falls due again, rule by rule and source by source.

The texts of 14 CFR and of the European rule were read in public transcriptions; the day arithmetic of each case is
worked out by hand from them. The anniversary rule, its window and the late tiers are our own defaults.
"""

import random
from datetime import UTC, date, datetime, timedelta

import pytest
from dateutil.relativedelta import relativedelta
from dateutil.rrule import MONTHLY, rrule

from training.rules_due import (
    DueRule,
    Period,
    Tier,
    add_months,
    month_end,
    next_due,
    tier,
    window_opens,
)
from training.rules_practice import column, practice_count, reminder, trigger_suspends

RANDOM_DATES = 2_500
"""Dates of the ordinary suite; twenty times as many in the soak."""


def test_a_flight_review_of_8_august_holds_to_the_end_of_the_24th_calendar_month() -> None:
    """14 CFR 61.56(c): 24 calendar months after the month of the review."""
    assert next_due(DueRule.CAL_END, date(2026, 8, 8), months=24).valid_to == date(2028, 8, 31)


@pytest.mark.parametrize("done", [date(2026, 8, 1), date(2026, 8, 31)])
def test_by_calendar_months_the_day_of_the_month_does_not_matter(done: date) -> None:
    """14 CFR 61.56(c)."""
    assert next_due(DueRule.CAL_END, done, months=24).valid_to == date(2028, 8, 31)


def test_by_calendar_months_there_is_no_grace_and_no_rhythm_to_keep() -> None:
    """14 CFR 61.56 knows no grace month: an early review starts anew from its own month."""
    before = Period(date(2026, 8, 31), date(2024, 8, 8))
    assert next_due(DueRule.CAL_END, date(2026, 7, 15), months=24, previous=before).valid_to == date(2028, 7, 31)


def test_training_of_base_month_december_done_in_january_counts_as_december() -> None:
    """14 CFR 121.401(b): annual base December 2010, due December 2011, done January 2012."""
    due = Period(date(2011, 12, 31), date(2010, 12, 1))
    assert next_due(DueRule.BASE_MONTH, date(2012, 1, 20), months=12, previous=due) == Period(
        date(2012, 12, 31), date(2011, 12, 1)
    )


def test_the_month_before_the_due_month_is_credited_to_it() -> None:
    """14 CFR 121.401(b) and 135.301(a): base March 2026, done 3 February 2027."""
    due = Period(date(2027, 3, 31), date(2026, 3, 1))
    found = next_due(DueRule.BASE_MONTH, date(2027, 2, 3), months=12, previous=due)
    assert (found.anchor, found.valid_to) == (date(2027, 3, 1), date(2028, 3, 31))


@pytest.mark.parametrize(
    ("done", "due"), [(date(2027, 1, 31), date(2028, 1, 31)), (date(2027, 5, 1), date(2028, 5, 31))]
)
def test_two_months_early_or_late_the_base_month_moves(done: date, due: date) -> None:
    """14 CFR 121.401(b) credits one month either side; what moves beyond is our own reading."""
    before = Period(date(2027, 3, 31), date(2026, 3, 1))
    assert next_due(DueRule.BASE_MONTH, done, months=12, previous=before).valid_to == due


@pytest.mark.parametrize(
    ("done", "ends"),
    [
        (date(2026, 10, 1), date(2027, 12, 31)),  # first day of the last three months
        (date(2026, 12, 31), date(2027, 12, 31)),
        (date(2026, 9, 30), date(2027, 9, 30)),  # one day too early: from the end of its own month
        (date(2027, 1, 1), date(2028, 1, 31)),  # one day too late
    ],
)
def test_done_in_the_last_three_months_the_new_period_runs_from_the_old_end(done: date, ends: date) -> None:
    """AMC1 ORO.FC.145(g)(a) and (b): ends are month ends; the window is three whole calendar months."""
    before = Period(date(2026, 12, 31), date(2025, 12, 31))
    assert next_due(DueRule.LAST_3_MONTHS, done, months=12, previous=before).valid_to == ends


def test_the_first_period_of_the_three_month_rule_ends_with_a_month() -> None:
    assert next_due(DueRule.LAST_3_MONTHS, date(2024, 2, 10), months=12).valid_to == date(2025, 2, 28)
    assert next_due(DueRule.LAST_3_MONTHS, date(2023, 2, 10), months=12).valid_to == date(2024, 2, 29)


def test_a_month_after_31_january_is_the_last_of_february() -> None:
    """The clamp of common date libraries: 31 January 2005 and one month."""
    assert add_months(date(2005, 1, 31), 1) == date(2005, 2, 28)


def test_an_evaluation_of_17_may_under_a_three_year_rule_holds_through_17_may() -> None:
    """29 CFR 1910.178(l)(4)(iii): at least once every three years."""
    assert next_due(DueRule.ANNIVERSARY, date(2023, 5, 17), months=36).valid_to == date(2026, 5, 17)


def test_29_february_comes_back_because_years_are_counted_from_the_anchor_and_not_chained() -> None:
    period, ends = next_due(DueRule.ANNIVERSARY, date(2024, 2, 29), months=12), []
    for _ in range(4):
        ends.append(period.valid_to)
        period = next_due(DueRule.ANNIVERSARY, period.valid_to, months=12, previous=period)
    assert ends == [date(2025, 2, 28), date(2026, 2, 28), date(2027, 2, 28), date(2028, 2, 29)]


@pytest.mark.parametrize("days_before", [0, 1, 60])
def test_renewed_inside_the_window_the_anniversary_stays(days_before: int) -> None:
    first = next_due(DueRule.ANNIVERSARY, date(2025, 8, 31), months=6)
    done = first.valid_to - timedelta(days=days_before)
    assert first.valid_to == date(2026, 2, 28)
    assert next_due(DueRule.ANNIVERSARY, done, months=6, previous=first) == Period(date(2026, 8, 31), date(2025, 8, 31))


@pytest.mark.parametrize("done", [date(2025, 12, 29), date(2026, 3, 1)])
def test_renewed_earlier_than_the_window_or_after_the_end_the_day_of_completion_is_the_new_anchor(done: date) -> None:
    first = next_due(DueRule.ANNIVERSARY, date(2025, 8, 31), months=6)
    assert next_due(DueRule.ANNIVERSARY, done, months=6, previous=first) == Period(add_months(done, 6), done)


def test_an_end_that_somebody_chose_becomes_the_anchor() -> None:
    chosen = Period(date(2026, 9, 30), date(2026, 3, 25))
    found = next_due(DueRule.ANNIVERSARY, date(2026, 9, 1), months=12, previous=chosen)
    assert found == Period(date(2027, 9, 30), date(2026, 9, 30))


@pytest.mark.soak
def test_the_plain_rules_agree_with_dateutil_on_random_dates(soak_factor: int) -> None:
    """Where the rule is plain month arithmetic, python-dateutil says the same: 50,000 dates in the soak."""
    draw = random.Random(61_56)
    for _ in range(RANDOM_DATES * soak_factor):
        day = date(1990, 1, 1) + timedelta(days=draw.randrange(60 * 365))
        months = draw.randint(1, 60)
        assert add_months(day, months) == day + relativedelta(months=months)
        assert add_months(day, -months) == day - relativedelta(months=months)
        assert month_end(day) == day + relativedelta(day=31)
        assert next_due(DueRule.ANNIVERSARY, day, months=months).valid_to == day + relativedelta(months=months)
        ends = day + relativedelta(months=months, day=31)
        assert next_due(DueRule.CAL_END, day, months=months).valid_to == ends
        assert next_due(DueRule.BASE_MONTH, day, months=months).valid_to == ends
        assert next_due(DueRule.LAST_3_MONTHS, day, months=months).valid_to == ends
        count = draw.randint(1, 9)
        period = next_due(DueRule.ANNIVERSARY, day, months=months)
        for _ in range(count):  # always renewed on the last day: never chained
            period = next_due(DueRule.ANNIVERSARY, period.valid_to, months=months, previous=period)
        assert period == Period(day + relativedelta(months=months * (count + 1)), day)


def test_a_recurrence_of_a_calendar_skips_the_days_that_a_month_lacks_so_explicit_dates_are_written() -> None:
    """RFC 5545 3.3.10: BYMONTHDAY=15,30 from 15 January 2007 gives no 30 February; an anniversary is clamped."""
    days = rrule(MONTHLY, bymonthday=(15, 30), count=5, dtstart=datetime(2007, 1, 15, tzinfo=UTC))
    assert [(each.month, each.day) for each in days] == [(1, 15), (1, 30), (2, 15), (3, 15), (3, 30)]
    assert add_months(date(2007, 1, 30), 1) == date(2007, 2, 28)


def test_the_window_opens_by_the_rule() -> None:
    assert window_opens(DueRule.ANNIVERSARY, date(2026, 3, 25), 60) == date(2026, 1, 24)
    assert window_opens(DueRule.BASE_MONTH, date(2027, 3, 31), 60) == date(2027, 2, 1)
    assert window_opens(DueRule.LAST_3_MONTHS, date(2026, 12, 31), 60) == date(2026, 10, 1)


def test_up_to_thirty_days_late_takes_test_and_practical_and_after_that_the_full_course() -> None:
    ends = date(2026, 3, 25)
    assert tier(ends, ends, 30) == Tier.IN_TIME
    assert tier(ends, date(2026, 3, 26), 30) == Tier.LATE
    assert tier(ends, date(2026, 4, 24), 30) == Tier.LATE
    assert tier(ends, date(2026, 4, 25), 30) == Tier.LAPSED_LONG


def test_a_reminder_stands_at_60_30_14_7_and_1_days_and_after_a_standstill_the_true_one() -> None:
    due = date(2026, 6, 30)
    said = {
        left: reminder(due, due - timedelta(days=left)) for left in (61, 60, 59, 30, 20, 14, 10, 7, 5, 1, 0, -1, -40)
    }
    assert said == {
        61: None, 60: 60, 59: 60, 30: 30, 20: 30, 14: 14, 10: 14, 7: 7, 5: 7, 1: 1, 0: 1, -1: 0, -40: 0,
    }  # fmt: skip


def test_practice_runs_out_so_many_months_after_the_older_of_the_last_two_jobs() -> None:
    count = practice_count(
        [date(2026, 1, 10), date(2025, 11, 2), date(2025, 3, 1)],
        asked=2,
        months=6,
        since=date(2024, 1, 1),
        today=date(2026, 3, 25),
    )
    assert (count.done, count.due_on) == (2, date(2026, 5, 2))
    assert not count.short(date(2026, 5, 2))
    assert count.short(date(2026, 5, 3))


def test_practice_is_not_short_before_there_was_time_for_it() -> None:
    count = practice_count([], asked=2, months=6, since=date(2026, 3, 1), today=date(2026, 3, 25))
    assert (count.done, count.due_on) == (0, date(2026, 9, 1))


def test_the_second_failed_check_within_90_days_suspends_and_the_first_does_not() -> None:
    today = date(2026, 3, 25)
    assert not trigger_suspends("failed-check", [], today)
    assert trigger_suspends("failed-check", [today - timedelta(days=89)], today)
    assert not trigger_suspends("failed-check", [today - timedelta(days=90)], today)
    assert trigger_suspends("near-miss", [], today)
    assert not trigger_suspends("new-stock", [], today)


def test_the_wall_has_four_columns() -> None:
    today = date(2026, 3, 25)
    assert [column(today + timedelta(days=left), today) for left in (-1, 0, 30, 31, 60, 61, 90)] == [
        "overdue", "30", "30", "60", "60", "90", "90",
    ]  # fmt: skip
