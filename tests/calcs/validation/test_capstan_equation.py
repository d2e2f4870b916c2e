"""Against the encyclopaedia article "Capstan equation" and a belt-friction table value (from memory)."""

from __future__ import annotations

import math

import pytest

from calcs import traction


def test_five_turns_at_sixty_per_cent_friction_multiply_as_the_encyclopaedia_says():
    """Seen in the public article: 153 552 935."""
    assert traction.capstan_ratio(0.6, 5 * 2 * math.pi) == pytest.approx(153_552_935, rel=1e-6)


def test_half_a_turn_gives_the_belt_friction_table_value():
    """2.5663 at friction 0.3; from memory and by the formula, not checked in a table."""
    assert traction.capstan_ratio(0.3, math.pi) == pytest.approx(2.5663, rel=1e-4)


def test_a_need_without_grip_is_never_met_and_no_need_is_always_met():
    assert traction.share_of_grip(0.1, 0.0) == math.inf
    assert traction.share_of_grip(0.0, 0.0) == 0
