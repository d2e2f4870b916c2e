"""Where bands lie: riding the step, overhang, face, symmetry, and the rules about the roller itself."""

from __future__ import annotations

import copy

import pytest

from calcs.case import parse_case
from calcs.verdict import check
from tests.calcs.cases import changed, demo_case

CASE = demo_case("BO-20", "B09", "T5", 1)


def words(case):
    return {c.id: c.verdict for c in check(parse_case(case)).checks}


def with_bands(*rows):
    case = copy.deepcopy(CASE)
    case["bands"] = [dict(zip(("end", "inner_mm", "outer_mm", "wraps"), row, strict=True)) for row in rows]
    return case


@pytest.mark.parametrize(
    ("width", "word"),
    [
        # inner edge 640 mm, wander 5: refused from 10 mm inside the step up to just below 30 mm on it
        (1259, "fits"),
        (1259.9, "fits"),
        (1260, "refused"),
        (1280, "refused"),
        (1339, "refused"),
        (1340, "fits"),
        (1600, "fits"),
        ([1200, 1259], "fits"),
        ([1200, 1600], "refused"),
        ([1200, 1261], "refused"),
        ([1339, 1600], "refused"),
        ([1340, 1600], "fits"),
    ],
)
def test_the_web_edge_may_not_ride_the_step_anywhere_on_its_interval(width, word):
    assert words(changed(CASE, web__width_mm=width))["rides_step"] == word


def test_more_wander_needs_more_room_inside_the_step_but_not_on_it():
    assert words(changed(CASE, web__width_mm=1250, web__wander_mm=9))["rides_step"] == "fits"
    assert words(changed(CASE, web__width_mm=1250, web__wander_mm=10))["rides_step"] == "refused"
    assert words(changed(CASE, web__width_mm=1340, web__wander_mm=29))["rides_step"] == "fits"
    assert words(changed(CASE, web__width_mm=1250, web__wander_mm=[2, 10]))["rides_step"] == "refused"


def test_a_stair_inside_the_band_is_a_step_too():
    stair = with_bands(
        ("operator", 640, 790, 1), ("operator", 790, 840, 2), ("drive", 640, 790, 1), ("drive", 790, 840, 2)
    )
    rides = next(c for c in check(parse_case(stair)).checks if c.id == "rides_step")
    assert rides.verdict == "refused"
    assert "790" in rides.where["place"]


@pytest.mark.parametrize(("width", "word"), [(1660, "fits"), (1661, "refused"), ([1500, 1661], "refused")])
def test_tape_reaches_past_the_web_edge_by_wander_and_five(width, word):
    assert words(changed(CASE, web__width_mm=width))["overhang"] == word


def test_a_band_wholly_inside_the_web_is_refused_and_said_to_gather():
    verdict = check(parse_case(changed(CASE, web__width_mm=1740)))
    assert {c.id: c.verdict for c in verdict.checks}["overhang"] == "refused"
    assert "inside_edge" in {notice.id for notice in verdict.notices}


@pytest.mark.parametrize(("face", "word"), [(1686, "fits"), (1685, "refused"), ([1680, 1750], "cannot tell")])
def test_tape_ends_three_millimetres_inside_the_face(face, word):
    assert words(changed(CASE, roller__face_mm=face))["band_on_face"] == word


def test_the_web_with_its_wander_stays_on_the_face():
    assert words(changed(CASE, roller__face_mm=1610))["web_on_face"] == "fits"
    assert words(changed(CASE, roller__face_mm=1609))["web_on_face"] == "refused"
    bare = {part: CASE[part] for part in ("web", "state")} | {"roller": {**CASE["roller"], "face_mm": 1605}}
    assert words(bare)["web_on_face"] == "refused"


@pytest.mark.parametrize(
    ("inner", "word"),
    [(640, "fits"), (725, "caution"), (765, "refused"), (550, "caution"), (450, "refused")],
)
def test_the_share_of_the_web_on_tape_has_two_limits_each_way(inner, word):
    case = with_bands(("operator", inner, 840, 1), ("drive", inner, 840, 1))
    assert words(case)["engaged_share"] == word


@pytest.mark.parametrize(("inner", "word"), [(740, "fits"), (760, "refused"), (550, "refused"), (570, "fits")])
def test_one_end_tape_has_its_own_share(inner, word):
    assert words(with_bands(("drive", inner, 850, 1)))["engaged_share"] == word


def test_a_band_by_full_wander_can_leave_the_share():
    narrow = with_bands(("drive", 750, 850, 1))
    assert words(changed(narrow, web__wander_mm=0))["engaged_share"] == "fits"
    assert words(changed(narrow, web__wander_mm=5))["engaged_share"] == "refused"


@pytest.mark.parametrize(("inner", "word"), [(642, "fits"), (643, "caution")])
def test_ends_may_differ_by_two_millimetres(inner, word):
    assert words(with_bands(("operator", inner, 840, 1), ("drive", 640, 840, 1)))["symmetry"] == word


def test_ends_with_different_layers_are_a_caution():
    case = with_bands(("operator", 640, 840, 1), ("drive", 640, 840, 2))
    assert words(case)["symmetry"] == "caution"
    assert check(parse_case(case)).numbers["steer_mm"] > 0


@pytest.mark.parametrize(
    ("wraps", "thickness", "counted", "height"),
    [
        (4, 0.09, "fits", "fits"),
        (5, 0.09, "caution", "fits"),
        (8, 0.09, "caution", "fits"),
        (9, 0.09, "refused", "fits"),
        (4, 0.25, "fits", "fits"),
        (4, 0.26, "fits", "refused"),
        (4, [0.24, 0.255], "fits", "cannot tell"),
    ],
)
def test_wraps_and_build(wraps, thickness, counted, height):
    case = changed(with_bands(("operator", 640, 840, wraps), ("drive", 640, 840, wraps)), tape__thickness_mm=thickness)
    assert (words(case)["wraps"], words(case)["build"]) == (counted, height)


@pytest.mark.parametrize(("wrap", "word"), [(60, "fits"), (59, "caution"), (45, "caution"), (44, "refused")])
def test_wrap_angle(wrap, word):
    assert words(changed(CASE, roller__wrap_deg=wrap))["wrap_angle"] == word


def test_a_short_entry_span_is_a_caution():
    assert words(changed(CASE, roller__entry_span_mm=800))["entry_span"] == "fits"
    assert words(changed(CASE, roller__entry_span_mm=799))["entry_span"] == "caution"


@pytest.mark.parametrize(
    ("surface", "limit", "word"),
    [(130, 150, "fits"), (131, 150, "refused"), ([20, 131], 150, "refused"), (60, [75, 90], "cannot tell")],
)
def test_the_surface_stays_twenty_degrees_below_the_tape_limit(surface, limit, word):
    assert words(changed(CASE, roller__surface_temp_c=surface, tape__max_temp_c=limit))["temperature"] == word


def test_what_was_left_out_is_not_evaluated_and_names_the_input():
    found = {c.id: c for c in check(parse_case(CASE)).checks}
    assert found["temperature"].missing == "roller.surface_temp_c"
    assert found["peak_strain"].missing == "web.yield_strain_pct"
    assert found["kind"].missing == "roller.kind"
    for name in ("temperature", "peak_strain", "kind"):
        assert found[name].verdict == "not evaluated"
        assert found[name].missing in found[name].sentence
        assert found[name].value is None


@pytest.mark.parametrize("kind", ["nip", "load cell", "driven", "chill", "winder drum", "steering"])
def test_rollers_that_are_bare_by_type_refuse_tape_but_not_bareness(kind):
    taped = changed(CASE, roller__kind=kind)
    assert words(taped)["kind"] == "refused"
    bare = copy.deepcopy(taped)
    bare["bands"] = []
    assert check(parse_case(bare)).overall == "fits"
    assert words(changed(CASE, roller__kind="idler"))["kind"] == "fits"


def test_a_bare_roller_that_floats_is_a_notice_not_a_verdict():
    bare = demo_case("SF-17", "A05", "T1", 0, state__speed_m_per_min=1500, roller__roughness_um=1)
    verdict = check(parse_case(bare))
    assert verdict.overall == "fits"
    assert "floats" in {notice.id for notice in verdict.notices}


def test_misalignment_and_high_line_strain_are_notices():
    verdict = check(parse_case(changed(CASE, roller__misalignment_mm_per_m=0.2, web__yield_strain_pct=1.2)))
    ids = {notice.id for notice in verdict.notices}
    assert {"alignment", "line_strain", "marking"} <= ids
    assert verdict.numbers["misalignment_shift_mm"] == pytest.approx(2 / 3 * 1600 * 0.0002)
    assert verdict.overall == "fits"


def test_unusual_tension_is_a_notice_when_the_web_family_is_known():
    case = parse_case(changed(CASE, state__tension_n_per_m=120))
    assert "tension_table" in {notice.id for notice in check(case, material="BOPP").notices}
    usual = parse_case(changed(CASE, state__tension_n_per_m=40))
    assert "tension_table" not in {notice.id for notice in check(usual, material="BOPP").notices}
