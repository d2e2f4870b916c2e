"""Worked examples of the GUM, JCGM 100:2008.

The inputs of H.1 are as repeated in public documentation of an uncertainty calculator; its results and the other
figures are from memory, not checked against the document.
"""

from __future__ import annotations

import math

import pytest

from calcs import measurement
from calcs.measurement import Measured, Part
from calcs.readings import CANNOT_TELL, FITS, REFUSED


def test_a_resolution_gives_a_twelfth_root_of_its_step():
    """F.2.2.1: u = 0.29 dx."""
    assert measurement.from_resolution(1.0) == pytest.approx(0.29, abs=0.005)
    assert measurement.from_resolution(1.0) == pytest.approx(measurement.from_limits(0.5), rel=1e-12)


def test_bounds_of_the_expansion_of_copper():
    """4.3.7: 16.52e-6 with an error of at most 0.40e-6 has u = 0.23e-6."""
    assert measurement.from_limits(0.40e-6) == pytest.approx(0.23e-6, abs=0.005e-6)


def test_a_certificate_with_its_factor():
    """4.3.3: 240 ug stated at three standard deviations is u = 80 ug."""
    assert measurement.from_expanded(240e-6, 3) == pytest.approx(80e-6)


def end_gauge() -> Measured:
    comparator = Measured(215.0, (Part("mean of five", 5.8, 24), Part("random", 3.9, 5), Part("systematic", 6.7, 8)))
    assert comparator.u == pytest.approx(9.7, abs=0.05)
    assert comparator.freedom == pytest.approx(25.6, abs=0.2)  # 25.6 with u rounded to 9.7
    return Measured(
        50_000_838.0,
        (
            Part("standard", 25.0, 18),
            Part("comparison", comparator.u, comparator.freedom),
            Part("difference of expansions", 2.9, 50),
            Part("difference of temperatures", 16.6, 2),
        ),
    )


def test_the_end_gauge_has_32_nanometres_and_16_degrees_of_freedom():
    """H.1: u_c = 32 nm, nu_eff = 16 (cut from 16.7), U99 = 2.92 u = 93 nm."""
    found = end_gauge()
    assert found.u == pytest.approx(32, abs=0.5)
    assert math.floor(found.freedom) == 16
    assert found.expanded_at(0.99) == pytest.approx(93, abs=0.6)


def test_a_budget_without_doubtful_lines_has_the_normal_factor():
    found = Measured(1.0, (Part("bounds", 1.0),))
    assert found.freedom == math.inf
    assert found.expanded_at(0.95) == pytest.approx(1.96, abs=1e-3)
    assert found.expanded == 2.0


def test_repeated_readings_give_the_sd_of_the_mean():
    found = measurement.from_readings("d", [1.0, 2.0, 3.0, 4.0])
    assert (found.value, found.parts[0].freedom) == (2.5, 3)
    assert found.u == pytest.approx(math.sqrt(5 / 3) / 2)


def test_a_value_near_its_limit_cannot_be_told():
    """Guard band of one expanded uncertainty, the idea of JCGM 106 (from memory)."""
    about = (Part("gauge", 0.5),)
    words = [measurement.decide(Measured(value, about), 10.0)[0] for value in (8.9, 9.5, 10.5, 11.1)]
    assert words == [FITS, CANNOT_TELL, CANNOT_TELL, REFUSED]
    assert measurement.decide(Measured(11.1, about), 10.0, at_most=False)[0] == FITS
    assert "repeat the reading" in measurement.decide(Measured(9.5, about), 10.0)[1]
    assert measurement.decide(Measured(10.0, ()), 10.0)[0] == FITS
