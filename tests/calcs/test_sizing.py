"""Sizing: one roller, one or several products, and why."""

from __future__ import annotations

import copy

import pytest

from calcs.case import CaseError, parse_case
from calcs.limits import Limits
from calcs.sizing import suggest
from tests.calcs.cases import demo_case


def case(product="BO-20", roller="B09", tape="T5", wraps=0, **changes):
    return parse_case(demo_case(product, roller, tape, wraps, **changes))


def test_the_wraps_in_the_case_do_not_matter():
    assert suggest(case(wraps=0)) == suggest(case(wraps=5))


def test_every_number_of_wraps_has_its_outcome():
    rows = suggest(case()).outcomes
    assert [row.wraps for row in rows] == list(range(9))
    assert [row.verdict for row in rows][:4] == ["fits", "fits", "caution", "refused"]
    assert rows[3].products[0].because == "Hold used round the wrap"


def test_a_smaller_roller_takes_fewer_wraps():
    assert suggest(case("SF-17", "A05", "T1")).wraps == 4
    assert suggest(case("SF-17", "A05", "T1", roller__diameter_mm=80)).wraps == 3


def test_a_formula_value_that_is_refused_is_lowered_and_says_why():
    slippery = suggest(case("SF-17", "A05", "T1", roller__friction=0.12))
    assert 0 < slippery.wraps < 4
    assert "4 is refused (hold used round the wrap)" in slippery.why
    assert slippery.outcomes[slippery.wraps + 1].verdict == "refused"


def test_bare_below_half_a_wrap_is_a_setting():
    own = Limits.from_dict({"version": "2", "limits": {"bare_below": {"refuse": 0.4}}})
    assert suggest(case("MN-160", "C06")).bare
    assert suggest(case("MN-160", "C06"), own).wraps == 1


def test_the_target_ratio_is_a_setting():
    own = Limits.from_dict({"version": "2", "limits": {"edge_ratio": {"target": 1.2}}})
    assert suggest(case("SF-17", "A05", "T1"), own).formula[0] == pytest.approx(3.939 * 2 / 3, rel=1e-3)


def test_a_product_that_rides_the_step_makes_the_pair_bare():
    pair = suggest([case("BO-20"), case("CP-110")])
    assert pair.bare
    assert pair.outcomes[1].products[1].verdict == "refused"


def test_a_product_that_does_not_touch_the_tape_has_no_say():
    pair = suggest([case("SF-17", "A05", "T1"), case("SF-30", "A05", "T1")])
    assert pair.wraps == 4
    assert pair.formula[1] is None


def test_every_width_of_a_product_counts():
    assert suggest(case(web__width_mm=[1560, 1600])).wraps == 1
    rides = suggest(case(web__width_mm=[1300, 1600]))
    assert rides.bare
    assert "web over the step" in rides.why


def test_products_of_different_rollers_are_not_sized_together():
    with pytest.raises(CaseError, match="another roller"):
        suggest([case(), case(roller__diameter_mm=150)])
    moved = demo_case("BO-20", "B09", "T5", 0)
    for band in moved["bands"]:
        band["outer_mm"] = 845
    with pytest.raises(CaseError, match="elsewhere"):
        suggest([case(), parse_case(moved)])


def test_sizing_needs_a_tape_and_a_place_for_it():
    bare = copy.deepcopy(demo_case("BO-20", "B09", "T5", 0))
    with pytest.raises(CaseError, match="bands"):
        suggest(parse_case({**bare, "bands": []}))
    del bare["tape"]
    with pytest.raises(CaseError, match="tape"):
        suggest(parse_case(bare))
    with pytest.raises(CaseError, match="at least one"):
        suggest([])
