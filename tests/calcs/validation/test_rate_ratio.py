"""Rate ratio, limits and power against published examples and scipy's exact tests."""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy.stats import binomtest, multinomial, poisson, poisson_means_test, ttest_ind

from calcs.benefit import amount_saved, events_avoided, poisson_limits
from calcs.evidence import Window, dispersion, rate_ratio, study_power


def test_a_published_worked_example_of_the_exact_rate_ratio():
    """2 events in 17 877 against 9 in 16 660: 0.2070941557, 0.02177406 to 1.00054910, p 0.05011.

    M. P. Fay, "Testing the Ratio of Two Poisson Rates", vignette of the R package rateratio.test (2022), section 1.
    """
    found = rate_ratio(Window(9, 16_660), Window(2, 17_877))
    assert found.ratio == pytest.approx(0.2070941557, rel=1e-9)
    assert (found.low, found.high) == (pytest.approx(0.02177406, abs=5e-9), pytest.approx(1.00054910, abs=5e-9))
    assert found.p_value == pytest.approx(0.05011, abs=5e-6)


def test_the_farm_example_of_the_r_manual():
    """11 in 800 against 21 in 3 011: 1.971488, 0.8584264 to 4.2772659.

    Data: R manual, ``poisson.test`` (its two-sample example); its printed result from memory, not checked.
    """
    found = rate_ratio(Window(6 + 8 + 7, 1083 + 1050 + 878), Window(11, 800))
    assert (found.ratio, found.low, found.high) == pytest.approx((1.971488, 0.8584264, 4.2772659), rel=1e-6)


def test_the_exact_share_of_the_nist_handbook():
    """4 of 20 at 90 %: 0.071354 to 0.401029 (NIST/SEMATECH e-Handbook 7.2.4.1; figures from memory, not checked)."""
    found = rate_ratio(Window(16, 1.0), Window(4, 1.0), level=0.9)
    shares = [odds / (1 + odds) for odds in (found.low, found.high)]
    assert shares == pytest.approx([0.071354, 0.401029], abs=1e-6)


@pytest.mark.parametrize(
    ("count", "low", "high"), [(0, 0.0, 3.689), (1, 0.0253, 5.572), (5, 1.623, 11.668), (10, 4.795, 18.390)]
)
def test_limits_of_one_poisson_count_are_those_of_the_tables(count, low, high):
    """Table of 95 % limits after F. Garwood, Biometrika 28 (1936); values from memory, not checked."""
    assert poisson_limits(count) == pytest.approx((low, high), abs=6e-4)


@pytest.mark.parametrize("seed", range(5))
def test_interval_and_test_are_those_of_scipy(seed):
    draw = np.random.default_rng(seed)
    for _ in range(60):
        before, after = (int(n) for n in draw.poisson(draw.uniform(0.3, 60, 2)))
        exposures = draw.uniform(1, 1e5, 2)
        if before + after == 0:
            continue
        found = rate_ratio(Window(before, exposures[0]), Window(after, exposures[1]))
        null = exposures[1] / exposures.sum()
        theirs = binomtest(after, before + after, null).proportion_ci(method="exact")
        scale = exposures[0] / exposures[1]
        assert found.low == pytest.approx(theirs.low / (1 - theirs.low) * scale, rel=1e-6)
        if before:
            assert found.high == pytest.approx(theirs.high / (1 - theirs.high) * scale, rel=1e-6)
        else:
            assert math.isinf(found.high)
        sides = (binomtest(after, before + after, null, side).pvalue for side in ("less", "greater"))
        assert found.p_value == pytest.approx(min(1, 2 * min(sides)), rel=1e-9)


@pytest.mark.parametrize(
    ("before", "after"), [((46, 120_000), (9, 130_000)), ((5, 210), (3, 230)), ((30, 100), (12, 90))]
)
def test_the_unconditional_test_of_scipy_says_about_the_same(before, after):
    """``poisson_means_test`` (Krishnamoorthy and Thomson 2004) is another test: the same order, not the same figure."""
    ours = rate_ratio(Window(*before), Window(*after)).p_value
    theirs = float(poisson_means_test(after[0], after[1], before[0], before[1]).pvalue)
    assert 0.5 < theirs / ours < 1.5


@pytest.mark.parametrize(("mean", "ratio", "share"), [(4.0, 1.0, 1.0), (9.0, 0.4, 1.3), (2.0, 3.0, 0.5)])
def test_the_interval_covers_the_true_ratio_at_least_as_often_as_it_says(mean, ratio, share):
    """Every pair of counts, weighted by its chance."""
    counts = np.arange(60)
    chances = np.outer(poisson.pmf(counts, mean), poisson.pmf(counts, mean * ratio * share))
    covered = 0.0
    for before, after in np.argwhere(chances > 1e-9):
        found = rate_ratio(Window(int(before), 1.0), Window(int(after), share))
        covered += chances[before, after] * (found.low <= ratio <= found.high)
    assert 0.95 <= covered <= 1


@pytest.mark.parametrize(
    ("means", "exposures"), [((20.0, 8.0), (1.0, 1.0)), ((6.0, 18.0), (1.0, 2.0)), ((12.0, 0.0), (1.0, 1.5))]
)
def test_power_equals_the_sum_over_all_pairs_of_counts(means, exposures):
    """The test of every pair of counts asked of scipy, one pair at a time."""
    null = exposures[1] / sum(exposures)
    rare_after = means[1] / sum(means) < null
    total = 0.0
    for before in range(60):
        for after in range(60):
            chance = poisson.pmf(before, means[0]) * poisson.pmf(after, means[1])
            if chance > 1e-9 and before + after:
                side = "less" if rare_after else "greater"
                total += chance * (binomtest(after, before + after, null, side).pvalue <= 0.025)
    assert study_power(*means, *exposures) == pytest.approx(total, abs=1e-6)


def test_the_chance_of_the_scatter_agrees_with_drawn_rolls():
    """Given its total, a window's events fall into its rolls in proportion to their length: drawn 20,000 times."""
    counts, lengths = np.array([9, 1, 4, 2, 8]), np.array([1.0, 1.2, 0.8, 1.0, 1.1])
    window = Window(int(counts.sum()), float(lengths.sum()), tuple(zip(counts.tolist(), lengths.tolist(), strict=True)))
    found = dispersion(window, Window(0, 1.0))
    shares = lengths / lengths.sum()
    drawn = multinomial(int(counts.sum()), shares).rvs(20_000, random_state=3)
    expected = counts.sum() * shares
    statistics = ((drawn - expected) ** 2 / expected).sum(axis=1)
    assert found.p_value == pytest.approx((statistics >= found.index * found.freedom - 1e-9).mean(), abs=0.01)


def test_waste_of_rolls_of_one_length_is_welchs_t_interval_of_scipy():
    before, after = [9.1, 8.4, 10.2, 7.7], [6.0, 7.1, 5.2, 6.6, 6.9]
    theirs = ttest_ind(before, after, equal_var=False).confidence_interval()
    found = amount_saved([(kg, 2.0) for kg in before], [(kg, 2.0) for kg in after])
    assert (found.low, found.high) == pytest.approx((theirs.low * 5, theirs.high * 5))


@pytest.mark.parametrize(("before", "after", "share"), [(46.0, 10.0, 1.1), (5.0, 3.0, 1.0), (12.0, 2.0, 0.6)])
def test_limits_of_events_avoided_hold_the_truth_in_drawn_studies(before, after, share):
    """No published table: 4,000 drawn studies; 95 % asked, less 1.2 % for drawing."""
    draw = np.random.default_rng(11)
    truth = before * share - after
    held = 0
    for _ in range(4_000):
        found = events_avoided(Window(int(draw.poisson(before)), 1.0), Window(int(draw.poisson(after)), share))
        held += found.low <= truth <= found.high
    assert held / 4_000 >= 0.938
