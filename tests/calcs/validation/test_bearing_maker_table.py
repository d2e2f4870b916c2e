"""Bearing drag with the friction coefficients of a bearing maker's public table (JTEKT Koyo)."""

from __future__ import annotations

import pytest

from calcs import traction


def test_drag_of_a_pair_of_ball_bearings():
    """350.25 N, 0.0015 (upper table value), 25 mm bore, R 50 mm: 6.57 N mm and 0.131 N by M = mu P d/2."""
    moment, loss = traction.bearing_drag(350.25, 0.0015, 0.025, 0.05)
    assert moment == pytest.approx(6.57e-3, rel=1e-2)
    assert loss == pytest.approx(0.131, rel=1e-2)
