"""Conversions that are exact by definition (inch and pound of 1959, standard gravity of 1901)."""

from __future__ import annotations

from decimal import Decimal

import pytest

from calcs.units import to_si


def test_a_pound_per_inch_and_two_mil_per_foot():
    assert float(to_si("1", "pli", "line tension")) == pytest.approx(175.127, rel=1e-5)
    assert float(to_si("2", "mil/ft", "alignment")) * 1000 == pytest.approx(0.1667, rel=1e-3)


@pytest.mark.parametrize(
    ("value", "unit", "quantity", "si"),
    [
        ("1", "mil", "length", "0.0000254"),
        ("1", "ft/min", "speed", "0.00508"),
        ("32", "°F", "temperature", "273.15"),
        ("21", "°C", "temperature", "294.15"),
        ("12", "%", "ratio", "0.12"),
        ("3", "GPa", "pressure", "3000000000"),
    ],
)
def test_exact_conversions(value, unit, quantity, si):
    assert to_si(value, unit, quantity) == Decimal(si)


def test_a_thousand_psi():
    """6894.757 Pa per psi: any unit table."""
    assert float(to_si("1", "kpsi", "pressure")) == pytest.approx(6.894757e6, rel=1e-7)
