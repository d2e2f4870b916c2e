"""Figures made to hurt: refused in a moment, with a sentence."""

import time

import pytest

from calcs.units import UnitError, to_si


@pytest.mark.parametrize("text", ["1e999999", "-1e999999999", "1e-999999999", "9e31"])
def test_a_figure_with_an_absurd_power_of_ten_is_refused_in_a_moment(text):
    """Written out as an exact fraction such a figure has as many digits as its power says."""
    begun = time.monotonic()
    with pytest.raises(UnitError, match="type digits"):
        to_si(text, "mm", "length")
    assert time.monotonic() - begun < 1


@pytest.mark.parametrize("text", ["0", "0e999999999", "1e-30", "0.0000000001", "1e30"])
def test_small_and_large_figures_of_this_world_are_read(text):
    assert to_si(text, "mm", "length").is_finite()
