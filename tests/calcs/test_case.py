"""Reading a case: every refusal names its field and says what to do."""

from __future__ import annotations

import copy
import math

import pytest

from calcs.case import BOUNDS, CaseError, Interval, parse_case
from tests.calcs.cases import changed, demo_case

CASE = demo_case("BO-20", "B09", "T5", 1)


def refusal(case):
    with pytest.raises(CaseError) as caught:
        parse_case(case)
    assert caught.value.field in caught.value.sentence or caught.value.field == "case"
    return caught.value


def test_a_case_is_read_into_si():
    case = parse_case(CASE)
    assert case.web.width == Interval.point(1.6)
    assert float(case.web.thickness) == pytest.approx(20e-6)
    assert float(case.web.modulus_md) == 2e9
    assert case.web.modulus_cd == case.web.modulus_md
    assert float(case.state.speed) == pytest.approx(250 / 60)
    assert float(case.state.air_temp) == pytest.approx(293.15)
    assert float(case.roller.wrap) == pytest.approx(math.radians(95))
    assert float(case.tape.max_temp) == pytest.approx(423.15)
    assert [band.end for band in case.bands] == ["operator", "drive"]


def test_a_range_keeps_its_ends_and_a_spread_is_cut_at_three_sd():
    case = parse_case(changed(CASE, state__tension_n_per_m=[100, 140], roller__friction={"mean": 0.3, "sd": 0.02}))
    assert (case.state.tension.low, case.state.tension.nominal, case.state.tension.high) == (100, 120, 140)
    friction = case.roller.friction
    assert (friction.low, friction.high) == (pytest.approx(0.24), pytest.approx(0.36))
    assert (friction.nominal, friction.sd) == (0.3, 0.02)


def test_a_bare_roller_needs_neither_tape_nor_bands():
    bare = {part: CASE[part] for part in ("web", "state", "roller")}
    for case in (bare, {**bare, "tape": {}, "bands": []}, {**bare, "tape": None, "bands": None}):
        assert parse_case(case).bands == ()


@pytest.mark.parametrize("part", ["web", "state", "roller", "tape"])
def test_every_number_refuses_what_is_no_number(part):
    for key in BOUNDS[part]:
        name = f"{part}.{key}"
        for wrong in ("12", True, float("nan"), float("inf"), 10**400, {"low": 1}, [1], [1, 2, 3], [None, 2], ["a", 2]):
            error = refusal(changed(CASE, **{f"{part}__{key}": wrong}))
            assert error.field.startswith(name)
            assert name in error.sentence


@pytest.mark.parametrize("part", ["web", "state", "roller", "tape"])
def test_every_number_refuses_what_lies_outside_its_range(part):
    for key, (least, most) in BOUNDS[part].items():
        for wrong in (least - 1, most + 1, [least, most * 2 + 1], {"mean": most, "sd": most}):
            error = refusal(changed(CASE, **{f"{part}__{key}": wrong}))
            assert error.field == f"{part}.{key}"
        for right in (least, most):
            if key not in ("poisson_md", "modulus_md_mpa", "modulus_cd_mpa"):
                parse_case(changed(CASE, **{f"{part}__{key}": right}))


@pytest.mark.parametrize(
    ("part", "key"),
    [
        ("web", "width_mm"),
        ("web", "thickness_um"),
        ("web", "modulus_md_mpa"),
        ("state", "tension_n_per_m"),
        ("state", "speed_m_per_min"),
        ("roller", "diameter_mm"),
        ("roller", "face_mm"),
        ("roller", "wrap_deg"),
        ("roller", "entry_span_mm"),
        ("roller", "roughness_um"),
        ("roller", "friction"),
        ("tape", "thickness_mm"),
        ("tape", "roughness_um"),
    ],
)
def test_a_missing_value_is_named(part, key):
    case = copy.deepcopy(CASE)
    del case[part][key]
    error = refusal(case)
    assert error.field == f"{part}.{key}"
    assert "missing" in error.sentence


@pytest.mark.parametrize("part", ["web", "state", "roller"])
def test_a_missing_part_is_named(part):
    case = {name: content for name, content in CASE.items() if name != part}
    assert refusal(case).field == part
    assert refusal({**CASE, part: 7}).field == part


def test_unknown_keys_are_refused_and_the_known_ones_listed():
    assert refusal({**CASE, "severity": 3}).field == "severity"
    error = refusal(changed(CASE, web__colour="red"))
    assert error.field == "web.colour"
    assert "thickness_um" in error.sentence


def test_a_negative_value_is_called_negative():
    assert "negative" in refusal(changed(CASE, web__thickness_um=-20)).sentence


def test_a_range_the_wrong_way_round_is_refused():
    assert "lower value first" in refusal(changed(CASE, state__tension_n_per_m=[140, 100])).sentence


def test_a_spread_that_leaves_the_range_says_so():
    assert "3 sd" in refusal(changed(CASE, web__roughness_um={"mean": 1, "sd": 1})).sentence
    assert "negative sd" in refusal(changed(CASE, web__roughness_um={"mean": 1, "sd": -1})).sentence


@pytest.mark.parametrize("side", ["left", "right"])
def test_left_and_right_are_refused_with_the_reason(side):
    case = copy.deepcopy(CASE)
    case["bands"][0]["end"] = side
    error = refusal(case)
    assert error.field == "bands[0].end"
    assert "operator or drive" in error.sentence


@pytest.mark.parametrize(
    ("key", "wrong"),
    [
        ("wraps", 1.5),
        ("wraps", -1),
        ("wraps", [1, 2]),
        ("wraps", None),
        ("inner_mm", -5),
        ("inner_mm", [1, 2]),
        ("inner_mm", 900),
        ("end", "middle"),
        ("colour", "blue"),
    ],
)
def test_a_band_that_cannot_be_laid_is_refused(key, wrong):
    case = copy.deepcopy(CASE)
    case["bands"][1][key] = wrong
    assert refusal(case).field.startswith("bands[1].")


def test_wraps_without_tape_are_refused_and_places_without_wraps_are_not():
    case = copy.deepcopy(CASE)
    del case["tape"]
    assert refusal(case).field == "tape"
    for band in case["bands"]:
        band["wraps"] = 0
    parse_case(case)


def test_a_web_that_cannot_exist_is_refused():
    error = refusal(changed(CASE, web__poisson_md=0.9, web__modulus_cd_mpa=4000))
    assert error.field == "web.poisson_md"
    assert "MD" in error.sentence


def test_roller_kinds_are_words_of_the_trade():
    assert parse_case(changed(CASE, roller__kind="Load-Cell")).roller.kind == "load cell"
    assert "idler" in refusal(changed(CASE, roller__kind="magic")).sentence
    assert refusal(changed(CASE, roller__kind=3)).field == "roller.kind"


def test_porous_is_yes_or_no():
    assert refusal(changed(CASE, web__porous=1)).field == "web.porous"


def test_what_is_no_group_at_all_is_refused():
    for wrong in (None, [], "case", 3):
        assert refusal(wrong).field == "case"
    assert refusal({**CASE, "bands": {}, "tape": 3}).field == "tape"
    assert refusal({**CASE, "bands": "none"}).field == "bands"
    assert refusal({**CASE, "bands": [3]}).field == "bands[0]"
