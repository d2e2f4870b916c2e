"""Idlers against beam tables (Timoshenko; Roark), from memory, not checked against the books."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from calcs import idler, roller, traction
from calcs.idler import Idler, Pull, bow, sag, web_pull

EI = 69e9 * roller.tube_inertia(0.1, 0.08)
LIVE = Idler(outer=0.1, inner=0.08, face=1.2, shaft=0.04, bearings=1.4, live=True)
DEAD = Idler(outer=0.1, inner=0.08, face=1.2, shaft=0.04, bearings=1.1, live=False, frames=1.5)


def test_an_even_load_over_the_whole_span():
    """5 q s^4/(384 E I): OD 100, ID 80 mm, 1.2 m, 350.25 N/m, 69 GPa give 0.0473 mm."""
    found = bow(350.25, 1.2, 1.2, 0.6, [(0.6, EI)])
    assert found == pytest.approx(5 * 350.25 * 1.2**4 / (384 * EI), rel=1e-12)
    assert found == pytest.approx(0.0473e-3, rel=2e-3)


@given(st.floats(0.05, 1.0), st.floats(1, 1000))
def test_a_narrow_even_load_agrees_with_the_closed_form(share, load):
    """q w (8 s^3 - 4 s w^2 + w^3)/(384 E I)."""
    found = bow(load, 1.2 * share, 1.2, 0.6, [(0.6, EI)])
    assert found == pytest.approx(roller.idler_deflection(load, 1.2 * share, 1.2, 1.0, EI), rel=1e-9)


def test_a_load_that_overhangs_its_supports():
    """5 q s^4/(384 E I) less q c^2 s^2/(16 E I) for overhangs c: the end moments lift the middle."""
    s, c = 1.0, 0.2
    assert bow(1.0, s + 2 * c, s, s / 2, [(s / 2 + c, 1.0)]) == pytest.approx(
        5 * s**4 / 384 - c**2 * s**2 / 16, rel=1e-12
    )


def test_a_stepped_shaft_agrees_with_unit_loads_integrated():
    """Mid-span deflection = 2 x integral of M x/2 dx/(E I) from a support (Castigliano)."""
    s, w, face, stiff, weak = 1.4, 1.0, 1.2, 5.0, 1.0
    steps = 200_000
    total = 0.0
    for number in range(steps):
        x = (number + 0.5) * (s / 2) / steps
        moment = w / 2 * x - max(0.0, x - (s - w) / 2) ** 2 / 2
        total += moment * x / (weak if x < (s - face) / 2 else stiff) * (s / 2) / steps
    assert bow(1.0, w, s, s / 2, [(face / 2, stiff), (s / 2, weak)]) == pytest.approx(total, rel=1e-6)


def test_the_bow_over_part_of_the_span_is_smaller_and_over_none_is_nought():
    whole, part, none = (bow(1.0, 1.0, 1.2, reach, [(0.6, 1.0)]) for reach in (0.6, 0.5, 0.0))
    assert whole > part > none == 0


def test_two_spans_pull_as_vectors():
    """Equal tensions: 2 T sin(beta/2). Half a turn doubles the tension, no wrap leaves nothing."""
    for wrap in (math.pi, math.pi / 2, 1.0):
        pull = web_pull(175.0, 175.0, 0.0, math.pi - wrap)
        assert pull.size == pytest.approx(roller.tension_resultant(175.0, wrap), rel=1e-12)
    assert web_pull(175.0, 175.0, 0.0, math.pi).size == pytest.approx(0, abs=1e-9)


def test_a_web_that_pulls_up_carries_the_weight():
    weight = LIVE.weight / LIVE.face
    down, up = (sag(LIVE, Pull(0.0, sign * weight), 1.2) for sign in (-1, 1))
    assert up.bow == pytest.approx(0, abs=1e-12)
    assert up.bearing_load == pytest.approx(0, abs=1e-9)
    assert down.bow == pytest.approx(2 * sag(LIVE, Pull(0.0, 0.0), 1.2).bow, rel=1e-9)
    assert down.bearing_load == pytest.approx(LIVE.weight, rel=1e-12)
    assert (down.across, down.up) == (0, -1)


def test_tension_and_weight_at_right_angles_add_by_pythagoras():
    sideways = sag(LIVE, Pull(200.0, 0.0), 1.0)
    assert sideways.bearing_load == pytest.approx(math.hypot(200.0, LIVE.weight) / 2)
    assert sideways.across > 0 > sideways.up


def test_a_dead_shaft_bows_less_and_moves_more():
    """Its shell spans only its own bearings; the shaft's bending moves the shell as a whole."""
    live, dead = (sag(kind, Pull(0.0, -300.0), 1.0) for kind in (LIVE, DEAD))
    assert dead.bow < live.bow * 1.001
    stiffness = idler.STEEL_MODULUS * roller.tube_inertia(0.04)
    load = 2 * dead.bearing_load
    shaft_alone = load * 0.2**2 * (3 * 1.5 - 4 * 0.2) / (12 * stiffness)
    shell = bow(300.0, 1.0, 1.1, 0.55, DEAD.pieces()) + bow(DEAD.weight / 1.2, 1.2, 1.1, 0.55, DEAD.pieces())
    assert dead.moved == pytest.approx(shell + shaft_alone, rel=1e-12)
    assert dead.slope == pytest.approx(dead.bow / 1.0)


def test_the_weight_of_a_steel_tube():
    """pi/4 (0.1^2 - 0.08^2) x 1.2 m x 7850 kg/m^3 x 9.80665: 261 N."""
    assert LIVE.weight == pytest.approx(261.2, rel=1e-3)
    assert LIVE.spin_inertia == pytest.approx(LIVE.weight / 9.80665 * (0.05**2 + 0.04**2) / 2)


def test_a_maker_table_drag_asks_little_of_the_wrap_and_a_stiff_bearing_stops_the_roller():
    """350.25 N, 0.0015, bore 25 mm, radius 50 mm: 6.57 N mm and 0.131 N (coefficient: a bearing maker's table)."""
    _, force = traction.bearing_drag(350.25, 0.0015, 0.025, 0.05)
    assert force == pytest.approx(0.131, rel=1e-2)
    assert idler.drag_need(force, 175.0, 1.0) == pytest.approx(0.131 / 175, rel=1e-2)
    assert idler.turns(force, 175.0, 1.0, 0.3, 1.5)
    assert not idler.turns(175.0, 175.0, 1.0, 0.3, 1.5)
    assert idler.turns(0.999 * 175 * (math.exp(0.45) - 1), 175.0, 1.0, 0.3, 1.5)


def test_speeding_up_costs_web_force():
    """A thin shell of mass m follows with m a: J = m R^2 (elementary mechanics)."""
    assert idler.acceleration_force(2.0 * 0.05**2, 0.5, 0.05) == pytest.approx(1.0)


@pytest.mark.parametrize(
    "change",
    [
        {"inner": 0.2},
        {"shaft": 0.0},
        {"bearings": 1.0},
        {"live": False},
        {"live": False, "bearings": 1.0, "frames": 0.5},
    ],
)
def test_an_idler_that_cannot_be_built_is_refused_with_a_sentence(change):
    parts = {"outer": 0.1, "inner": 0.08, "face": 1.2, "shaft": 0.04, "bearings": 1.4, "live": True}
    with pytest.raises(ValueError, match=r"check|measure|enter"):
        Idler(**{**parts, **change})
