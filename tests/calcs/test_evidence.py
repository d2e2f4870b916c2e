"""Verdicts of before/after studies, and what they say."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from calcs.case import CaseError
from calcs.evidence import (
    BETTER,
    NOT_ENOUGH,
    WORSE,
    Minimum,
    Window,
    dispersion,
    exposure_needed,
    rate_ratio,
    study,
    study_power,
    widened,
)

METRES = Minimum(20_000, rolls=3)
windows = st.builds(Window, st.integers(0, 200), st.floats(1, 1e6))


def rolls(*counts: int, each: float = 10_000.0) -> Window:
    return Window(sum(counts), each * len(counts), tuple((count, each) for count in counts))


def test_wrinkles_of_the_stretch_film_week_are_fewer():
    found = study(Window(46, 120_000), Window(9, 130_000), METRES, "m")
    assert found.verdict == BETTER
    assert [round(value, 2) for value in (found.ratio, found.low, found.high)] == [0.18, 0.08, 0.37]
    assert found.needed is None


def test_breaks_of_the_same_week_are_too_few_to_tell():
    found = study(Window(5, 210), Window(3, 230), Minimum(100), "h")
    assert found.verdict == NOT_ENOUGH
    assert (round(found.ratio, 2), round(found.low, 2), round(found.high, 1)) == (0.55, 0.09, 2.8)
    assert found.needed.after is None and 2_000 < found.needed.each < 3_500
    assert any("For 80 % chance to tell" in sentence for sentence in found.sentences)


def test_better_needs_the_exposure_minimum_and_worse_does_not():
    assert study(Window(46, 19_000), Window(9, 130_000), METRES, "m").verdict == NOT_ENOUGH
    assert study(Window(2, 5_000), Window(40, 6_000), METRES, "m").verdict == WORSE


def test_three_rolls_stand_for_the_metres():
    few = rolls(15, 16, 15, each=3_000), rolls(3, 3, 3, each=3_000)
    assert study(*few, METRES, "m").verdict == BETTER
    assert study(*few, Minimum(20_000), "m").verdict == NOT_ENOUGH


def test_rolls_that_scatter_widen_the_interval_and_the_sentence_says_so():
    before, after = rolls(40, 2, 30, 1, 25), rolls(12, 1, 20, 0, 11)
    found = study(before, after, METRES, "m")
    assert found.widened and found.dispersion.index > 5
    root = math.sqrt(found.dispersion.index)
    assert math.log(found.ratio / found.low) == pytest.approx(root * math.log(found.ratio / found.exact.low))
    assert found.exact.high < 1 < found.high and found.verdict == NOT_ENOUGH
    assert any("widened by the root" in sentence for sentence in found.sentences)


def test_even_rolls_leave_the_exact_interval():
    found = study(rolls(9, 10, 11), rolls(2, 3, 2), METRES, "m")
    assert not found.widened and (found.low, found.high) == (found.exact.low, found.exact.high)
    assert found.dispersion.freedom == 4


def test_the_index_by_hand():
    """Rolls 2, 4, 6 of one length expect 4 each: (4 + 0 + 4)/4 over 2 degrees of freedom is 1."""
    found = dispersion(rolls(2, 4, 6), rolls(0, 0, 0))
    assert (found.index, found.freedom) == (1.0, 2)


def test_scatter_that_was_not_tested_is_said():
    assert any("was not tested" in line for line in study(Window(9, 1e5), Window(2, 1e5), METRES, "m").sentences)
    assert dispersion(Window(9, 1e5), rolls(0, 0, 0)) is None


def test_nothing_counted_gives_no_ratio_and_no_verdict():
    found = study(Window(0, 1e5), Window(0, 1e5), METRES, "m")
    assert (found.verdict, found.ratio, found.low, found.high) == (NOT_ENOUGH, None, 0.0, math.inf)


def test_a_ratio_of_nought_or_without_end_is_widened_too():
    for before, after in ((rolls(20, 1, 3), rolls(0, 0)), (rolls(0, 0), rolls(20, 1, 3))):
        exact = rate_ratio(before, after)
        low, high = widened(exact, before, after, dispersion(before, after).index)
        assert low <= exact.low and high >= exact.high and (low, high) != (exact.low, exact.high)


@given(windows, windows)
def test_changing_the_windows_over_turns_the_ratio_round(before, after):
    one, other = rate_ratio(before, after), rate_ratio(after, before)
    assert one.p_value == pytest.approx(other.p_value, rel=1e-6)
    if one.low > 0:
        assert 1 / one.low == pytest.approx(other.high, rel=1e-6)


@given(windows, windows, st.floats(0.01, 100))
def test_the_unit_of_exposure_does_not_matter(before, after, factor):
    scaled = [Window(window.events, window.exposure * factor) for window in (before, after)]
    one, other = rate_ratio(before, after), rate_ratio(*scaled)
    assert (one.low, one.p_value) == pytest.approx((other.low, other.p_value), rel=1e-6)


@given(windows, windows)
def test_the_test_and_the_interval_agree(before, after):
    found = rate_ratio(before, after)
    if abs(found.p_value - 0.05) > 1e-6:
        assert (found.p_value < 0.05) == (found.low > 1 or found.high < 1)


@given(st.integers(0, 60), st.integers(0, 60), st.floats(0.2, 5), st.floats(1, 20))
def test_widening_never_narrows(before, after, share, index):
    one, other = Window(before, 1.0), Window(after, share)
    exact = rate_ratio(one, other)
    low, high = widened(exact, one, other, index)
    assert low <= exact.low * (1 + 1e-12) and high >= exact.high * (1 - 1e-12)


@pytest.mark.parametrize(
    ("before", "after"), [((5, 210.0), (3, 230.0)), ((12, 100.0), (20, 120.0)), ((8, 50.0), (0, 20.0))]
)
def test_the_exposure_needed_gives_its_power_and_little_less_does_not(before, after):
    windows_ = Window(*before), Window(*after)
    rates = [window.rate for window in windows_]
    each = exposure_needed(*windows_).each
    powers = {
        factor: study_power(rates[0] * each * factor, rates[1] * each * factor, each, each)
        for factor in (0.975, 1.0, 1.05, 1.1, 1.2)
    }
    assert powers.pop(0.975) < 0.8
    assert min(powers.values()) >= 0.8 and powers[1.0] < 0.85


def test_a_longer_window_after_is_told_where_it_would_do():
    before = Window(60, 100.0)
    after = Window(20, 60.0)
    needed = exposure_needed(before, after).after
    assert study_power(60.0, after.rate * needed, 100.0, needed) >= 0.8


def test_scattering_rolls_need_more():
    plain = exposure_needed(Window(12, 100.0), Window(20, 120.0))
    spread = exposure_needed(Window(12, 100.0), Window(20, 120.0), index=2.0)
    assert spread.each == pytest.approx(2 * plain.each, rel=0.02)


def test_equal_rates_can_never_be_told_apart():
    assert exposure_needed(Window(5, 100.0), Window(10, 200.0)) is None


@pytest.mark.parametrize(
    ("before", "after", "field"),
    [
        (Window(-1, 10.0), Window(1, 10.0), "before.events"),
        (Window(1, 0.0), Window(1, 10.0), "before.exposure"),
        (Window(1, 10.0), Window(1, math.nan), "after.exposure"),
        (Window(1, 10.0), Window(5, 10.0, ((2, 5.0), (2, 5.0))), "after.rolls"),
        (Window(1, 10.0), Window(5, 10.0, ((5, 11.0), (0, -1.0))), "after.rolls"),
    ],
)
def test_windows_that_cannot_be_are_refused_by_name(before, after, field):
    with pytest.raises(CaseError) as caught:
        rate_ratio(before, after)
    assert caught.value.field == field and field in caught.value.sentence
