"""What must not change when the question is turned, scaled or padded."""

from __future__ import annotations

import copy

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from calcs.case import parse_case
from calcs.verdict import check, check_many
from tests.calcs.cases import changed, demo_case


def numbers(case):
    return check(parse_case(case)).numbers


def same(one, other, except_for=()):
    for name, value in one.items():
        if name not in except_for:
            assert other[name] == pytest.approx(value, rel=1e-9, abs=1e-12), name


def ranged():
    return demo_case(
        "BO-20",
        "B09",
        "T5",
        1,
        web__width_mm=[1590, 1610],
        web__modulus_md_mpa=[1800, 2200],
        web__yield_strain_pct=3,
        state__tension_n_per_m=[100, 140],
        state__speed_m_per_min=[150, 280],
    )


def test_mirroring_the_recipe_keeps_every_number_but_turns_the_steering():
    case = demo_case("BO-35", "B04", "T5", 1)
    mirror = copy.deepcopy(case)
    mirror["bands"][0]["end"] = "drive"
    one, other = numbers(case), numbers(mirror)
    same(one, other, except_for=("steer_mm",))
    assert other["steer_mm"] == pytest.approx(-one["steer_mm"])
    words = [[check_.verdict for check_ in check(parse_case(c)).checks] for c in (case, mirror)]
    assert words[0] == words[1]


def test_scaling_tape_and_roller_together_keeps_the_strains():
    case = demo_case("BO-20", "B09", "T5", 1)
    bigger = changed(case, tape__thickness_mm=0.18, roller__diameter_mm=400)
    one, other = numbers(case), numbers(bigger)
    for name in ("step_pct", "edge_ratio", "centre_loss", "edge_strain_pct", "formula_wraps", "steer_mm"):
        assert other[name] == pytest.approx(one[name], rel=1e-12)


def test_doubling_tension_and_modulus_keeps_the_strains():
    case = demo_case("BO-20", "B09", "T5", 1)
    one, other = numbers(case), numbers(changed(case, state__tension_n_per_m=240, web__modulus_md_mpa=4000))
    for name in ("strain_pct", "edge_ratio", "centre_loss", "peak_strain_pct", "formula_wraps"):
        assert other[name] == pytest.approx(one[name], rel=1e-12)


def test_tape_outside_the_web_changes_nothing():
    case = ranged()
    padded = copy.deepcopy(case)
    padded["bands"] += [
        {"end": "operator", "inner_mm": 842, "outer_mm": 860, "wraps": 1},
        {"end": "drive", "inner_mm": 842, "outer_mm": 860, "wraps": 1},
    ]
    same(numbers(case), numbers(padded))


def test_an_equal_band_over_the_full_width_leaves_the_web_uniform():
    case = demo_case("BO-20", "B09", "T5", 2)
    for band in case["bands"]:
        band["inner_mm"] = 0
    found = numbers(case)
    assert found["engaged_share"] == pytest.approx(1)
    assert found["edge_ratio"] == pytest.approx(1, abs=1e-9)
    assert found["centre_loss"] == pytest.approx(0, abs=1e-9)
    assert found["hold_used"] == pytest.approx(0, abs=1e-9)


def test_splitting_a_band_into_lanes_or_layers_changes_nothing():
    case = demo_case("BO-20", "B09", "T5", 2)
    lanes, layers = copy.deepcopy(case), copy.deepcopy(case)
    lanes["bands"] = [
        {"end": band["end"], "inner_mm": low, "outer_mm": high, "wraps": 2}
        for band in case["bands"]
        for low, high in ((640, 690), (690, 840))
    ]
    layers["bands"] = [{**band, "wraps": 1} for band in case["bands"] for _ in range(2)]
    whole = check(parse_case(case))
    for other in (lanes, layers):
        split = check(parse_case(other))
        same(whole.numbers, split.numbers, except_for=("suggested_wraps", "formula_wraps"))
        assert [c.verdict for c in split.checks] == [c.verdict for c in whole.checks]


def test_a_lane_gap_of_a_millimetre_is_no_step():
    case = demo_case("BO-20", "B09", "T5", 1)
    case["bands"] = [
        {"end": band["end"], "inner_mm": low, "outer_mm": high, "wraps": 1}
        for band in case["bands"]
        for low, high in ((640, 790), (791, 840))
    ]
    verdict = check(parse_case(case))
    assert {c.id: c.verdict for c in verdict.checks}["rides_step"] == "fits"
    assert verdict.overall == "fits"


@settings(max_examples=60, deadline=None)
@given(st.floats(1, 1500), st.floats(1, 1500))
def test_more_speed_never_leaves_more_friction(one, other):
    slow, fast = sorted((one, other))
    case = demo_case("ML-62", "C06", "T3", 1)
    at = [numbers(changed(case, state__speed_m_per_min=speed)) for speed in (slow, fast)]
    assert at[1]["traction_tape"] <= at[0]["traction_tape"]
    assert at[1]["traction_bare"] <= at[0]["traction_bare"]
    assert at[1]["air_film_um"] >= at[0]["air_film_um"]


def test_a_porous_web_carries_no_film():
    found = numbers(demo_case("MN-160", "C06", "T5", 1, web__porous=True, state__speed_m_per_min=1500))
    assert found["air_film_um"] == 0
    assert found["traction_tape"] == 1


def test_many_together_are_judged_as_each_alone():
    cases = [parse_case(demo_case(product, "B09", "T5", wraps)) for product in ("BO-20", "CP-70") for wraps in range(4)]
    cases.append(parse_case(ranged()))
    many = check_many(cases)
    assert [verdict.as_dict() for verdict in many] == [check(case).as_dict() for case in cases]
