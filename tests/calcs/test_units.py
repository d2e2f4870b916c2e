"""What a plant types comes back to the digit, and an unknown unit is answered with the known ones."""

from __future__ import annotations

from decimal import Decimal

import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

from calcs.units import FACTORS, UnitError, from_si, known_units, to_si, unit_name

PAIRS = [(quantity, unit) for quantity in FACTORS for unit in known_units(quantity)]


@settings(max_examples=400, deadline=None)
@given(st.sampled_from(PAIRS), st.integers(-(10**8), 10**8), st.integers(0, 4))
def test_typed_digits_survive_the_way_to_si_and_back(pair, digits, places):
    quantity, unit = pair
    typed = Decimal(digits).scaleb(-places)
    assert from_si(to_si(str(typed), unit, quantity), unit, quantity) == typed


@settings(max_examples=400, deadline=None)
@given(st.sampled_from(PAIRS), st.integers(-(10**6), 10**6), st.integers(0, 3))
@example(("temperature", "°F"), 76196, 0)
def test_typed_digits_survive_storage_in_a_double(pair, digits, places):
    quantity, unit = pair
    typed = Decimal(digits).scaleb(-places)
    assert from_si(float(to_si(str(typed), unit, quantity)), unit, quantity) == typed


@pytest.mark.parametrize(
    ("typed", "name", "quantity"),
    [
        ("µm", "um", "length"),
        ("μm", "um", "length"),
        ("Mil", "mil", "length"),
        ("lbf/in", "pli", "line tension"),
        ("PLI", "pli", "line tension"),
        ("FPM", "fpm", "speed"),
        ("ft/min", "fpm", "speed"),
        (" M/min ", "m/min", "speed"),
        ("mpa", "MPa", "pressure"),
        ("ksi", "kpsi", "pressure"),
        ("C", "°C", "temperature"),
        ("degF", "°F", "temperature"),
        ("°", "deg", "angle"),
        ("pct", "%", "ratio"),
        ("mm/m", "mm/m", "alignment"),
        ("mil/ft", "mil/ft", "alignment"),
    ],
)
def test_the_spellings_of_the_shop_floor_are_understood(typed, name, quantity):
    assert unit_name(typed, quantity) == name


def test_an_unknown_unit_is_answered_with_the_known_ones():
    with pytest.raises(UnitError, match=r"'furlong'.*mm, um, cm, m, in, mil, ft"):
        to_si("1", "furlong", "length")
    with pytest.raises(UnitError, match="pli"):
        to_si("1", "mm", "line tension")
    with pytest.raises(UnitError, match="length"):
        to_si("1", "mm", "beauty")


@pytest.mark.parametrize("wrong", ["", "ten", "1,5", "nan", "inf", "1e"])
def test_what_is_no_number_is_refused(wrong):
    with pytest.raises(UnitError, match="number"):
        to_si(wrong, "mm", "length")


def test_large_round_numbers_are_written_out():
    assert str(from_si(Decimal("0.0254"), "mil", "length")) == "1000"
    assert str(from_si(0, "mil", "length")) == "0"
