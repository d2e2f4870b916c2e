"""Diameters from a circumference tape and layers on them.

About 0.03 mm for metric pi tapes: a public article on measuring diameters (machinedesign.com). The correction by
the tape's thickness and the expansion of steel are from memory, not checked; the rest is geometry.
"""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from calcs.case import CaseError, parse_case
from calcs.measurement import (
    Measured,
    Part,
    TapeReading,
    at_temperature,
    build_from_diameters,
    diameter_from_circumference,
    diameter_over_tape,
    thickness_from_stack,
)
from calcs.uncertainty import uncertainty
from tests.calcs.cases import demo_case

FINE = TapeReading(resolution=0.1e-3)


@given(st.floats(0.03, 0.8), st.floats(0, 0.001))
def test_a_tape_that_reads_outside_takes_its_thickness_off_once(diameter, thickness):
    """Wrapped round D its middle lies on D + t."""
    reading = math.pi * (diameter + thickness)
    found = diameter_from_circumference([reading], TapeReading(0.1e-3, thickness=thickness))
    assert found.value == pytest.approx(diameter, rel=1e-12)


def test_a_steel_tape_and_a_steel_roller_of_one_temperature_need_no_correction():
    warm = TapeReading(0.1e-3, roller_temperature=313.15, tape_temperature=313.15)
    cold = diameter_from_circumference([0.62832], FINE)
    assert diameter_from_circumference([0.62832], warm).value == pytest.approx(cold.value, rel=1e-9)


def test_a_warm_roller_under_a_cool_tape_is_smaller_when_it_cools():
    """200 mm, 40 K warmer than the tape: 200 x 11.5e-6 x 40 = 0.092 mm."""
    warm = TapeReading(0.1e-3, roller_temperature=333.15)
    difference = diameter_from_circumference([0.62832], FINE).value - diameter_from_circumference([0.62832], warm).value
    assert difference == pytest.approx(0.092e-3, rel=1e-2)
    back = at_temperature(diameter_from_circumference([0.62832], warm), 11.5e-6, 293.15, 333.15)
    assert back.value == pytest.approx(0.62832 / math.pi, rel=1e-9)


def test_the_trade_figure_of_the_tape_leads_the_budget():
    found = diameter_from_circumference([0.62832], FINE)
    lines = {part.name: part.u for part in found.parts}
    assert max(lines, key=lambda name: lines[name]) == "tape"
    assert lines["tape"] == pytest.approx(0.03e-3 / math.sqrt(3))
    assert lines["resolution"] == pytest.approx(0.1e-3 / math.sqrt(12) / math.pi)
    assert 0.03e-3 < found.expanded < 0.05e-3


def test_more_readings_add_their_scatter():
    found = diameter_from_circumference([0.6283, 0.6284, 0.6283, 0.6282], FINE)
    assert found.parts[-1].freedom == 3
    assert found.u > diameter_from_circumference([0.6283], FINE).u


def test_layers_of_one_lot_err_together():
    """D' = D + 2 n t with u^2 = u_D^2 + (2 n u_t)^2."""
    bare = Measured(0.2, (Part("tape", 20e-6),))
    layer = Measured(0.09e-3, (Part("gauge", 2e-6),))
    over = diameter_over_tape(bare, layer, 4)
    assert over.value == pytest.approx(0.2 + 8 * 0.09e-3, rel=1e-12)
    assert over.u == pytest.approx(math.hypot(20e-6, 16e-6))


def test_the_build_is_half_the_difference_of_the_diameters():
    bare, over = Measured(0.2, (Part("a", 20e-6),)), Measured(0.20072, (Part("b", 20e-6),))
    found = build_from_diameters(bare, over)
    assert found.value == pytest.approx(0.36e-3, rel=1e-9)
    assert found.u == pytest.approx(20e-6 / math.sqrt(2))


def test_a_stack_of_layers_divides_the_error_of_the_gauge():
    one = thickness_from_stack("tape", [90e-6, 90e-6], 1, 1e-6, 2e-6)
    ten = thickness_from_stack("tape", [900e-6, 900e-6], 10, 1e-6, 2e-6)
    assert ten.value == pytest.approx(one.value)
    assert ten.u == pytest.approx(one.u / 10)


def test_a_measured_diameter_and_layer_flow_into_the_chances():
    diameter = diameter_from_circumference([0.62832], FINE).as_spread("diameter_mm")
    layer = thickness_from_stack("tape", [91e-6, 88e-6, 91e-6], 1, 1e-6, 2e-6).as_spread("thickness_mm")
    assert diameter["mean"] == pytest.approx(200.0, abs=0.01)
    assert 0.01 < diameter["sd"] < 0.03
    case = demo_case("BO-20", "B09", "T5", 2, roller__diameter_mm=diameter, tape__thickness_mm=layer)
    found = uncertainty(parse_case(case), draws=500)
    assert [lever.name for lever in found.levers] == ["tape.thickness_mm", "roller.diameter_mm"]
    assert found.levers[0].change > 50 * found.levers[1].change


@pytest.mark.parametrize("readings", [[], [0.0], [-1.0]])
def test_readings_that_leave_no_diameter_are_refused(readings):
    with pytest.raises(CaseError, match="circumference"):
        diameter_from_circumference(readings, FINE)


def test_one_reading_of_a_stack_is_not_enough():
    with pytest.raises(CaseError, match="repeat the measurement"):
        thickness_from_stack("tape.thickness_mm", [1e-4], 1, 1e-6, 2e-6)
