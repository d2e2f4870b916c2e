"""Against T. Walker, "Web length per roller revolution" (1 October 2010)."""

from __future__ import annotations

import pytest

from calcs import roller


def test_a_thousand_inches_at_half_a_per_cent_are_995_untensioned():
    assert roller.fed_length(1000.0, 0.005) == pytest.approx(995, abs=0.1)


def test_the_middle_of_the_web_sets_the_feeding_radius():
    assert roller.feeding_radius(0.05, 100e-6) == pytest.approx(0.05005)
