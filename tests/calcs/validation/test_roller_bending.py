"""Deflection against the beam table's 5 q s^4/384 E I (from memory) and crown heights of a public belt-pulley table."""

from __future__ import annotations

import math

import pytest
from scipy.integrate import quad

from calcs import roller


def test_an_aluminium_tube_under_its_full_span():
    """OD 100, ID 80 mm, span 1.2 m, 350.25 N/m, 69 GPa: 0.0473 mm."""
    inertia = roller.tube_inertia(0.1, 0.08)
    deflection = roller.idler_deflection(350.25, 1.2, 1.2, 69e9, inertia)
    assert deflection == pytest.approx(0.0473e-3, rel=2e-3)
    assert deflection == pytest.approx(5 * 350.25 * 1.2**4 / (384 * 69e9 * inertia), rel=1e-12)


def test_a_narrow_load_agrees_with_unit_loads_summed():
    """Maxwell: mid-span deflection per unit load at x is x (3 s^2 - 4 x^2)/48 for x up to s/2."""
    span, width = 1.2, 0.7
    half, _ = quad(lambda x: x * (3 * span**2 - 4 * x**2) / 48, (span - width) / 2, span / 2)
    assert roller.idler_deflection(1.0, width, span, 1.0, 1.0) == pytest.approx(2 * half, rel=1e-9)


def test_half_a_turn_of_wrap_doubles_the_tension():
    assert roller.tension_resultant(175.127, math.pi) == pytest.approx(350.25, rel=1e-4)


def test_crown_of_a_belt_pulley():
    """0.56 mm on 100 to 150 mm (visusa.com belt tracking table): 0.90 % of the radius at 125 mm."""
    assert roller.crown_share(0.56e-3, 0.125) == pytest.approx(0.0090, rel=1e-2)
