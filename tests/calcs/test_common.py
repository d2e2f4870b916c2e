"""Several products over one roller: rooms, common set, and the reason when there is none."""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from calcs.case import CaseError, parse_case
from calcs.common import common_wraps
from calcs.sizing import suggest, with_wraps
from calcs.verdict import check
from tests.calcs.cases import demo_case


def shared(roller, tape, *names, **changes):
    cases = [parse_case(demo_case(name, roller, tape, 0, **changes)) for name in names]
    return cases, common_wraps(cases, names=names)


def test_one_taping_serves_both_stretch_films_and_leaves_the_farm_wrap_alone():
    _, found = shared("A05", "T1", "SF-17", "SF-23", "SF-30")
    assert found.on_target == (3, 4)
    assert (found.best, found.verdict) == (4, "fits")
    assert found.interval == (pytest.approx(2.626, abs=1e-3), pytest.approx(4.658, abs=1e-3))
    assert [room.touched for room in found.rooms] == [True, True, False]
    assert "SF-30 is not touched" in found.sentences[0]
    assert "3 or 4 wraps suit all products" in found.sentences[1]


def test_a_stiff_paper_on_the_same_roller_leaves_nothing_and_is_named_with_its_check():
    _, found = shared("B09", "T5", "BO-20", "BO-35", "CP-70")
    assert (found.interval, found.not_refused, found.best) == (None, (), 0)
    assert "CP-70 takes at most 0.67 wraps (hold used round the wrap)" in found.sentences[0]
    assert "Take the tape off before CP-70" in found.sentences[0]


def test_where_no_whole_number_lies_in_the_common_room_the_tape_that_would_do_is_named():
    _, found = shared("C06", "T5", "ML-62", "MN-160")
    assert (found.on_target, found.best) == ((), 0)
    low, high = found.interval
    assert f"one wrap of {low * 0.09:.3f} to {high * 0.09:.3f} mm would do" in found.sentences[0]


def test_products_that_want_apart_are_both_named():
    cases = [
        parse_case(demo_case("SF-17", "A05", "T1", 0, state__tension_n_per_m=tension, roller__wrap_deg=200))
        for tension in (25, 75)
    ]
    found = common_wraps(cases, names=["slack", "tight"])
    assert found.interval is None
    assert "tight wants at least 3.94, slack at most 2.63" in found.sentences[0]
    assert "Re-tape between them" in found.sentences[0]


@pytest.mark.parametrize(
    ("roller", "tape", "names"),
    [
        ("A05", "T1", ("SF-17", "SF-23")),
        ("C06", "T5", ("ML-62", "MN-160", "MP-75")),
        ("D04", "T5", ("PT-100", "PT-50")),
    ],
)
def test_the_edges_of_every_room_are_where_the_verdict_changes(roller, tape, names):
    cases, found = shared(roller, tape, *names, roller__friction=[0.25, 0.35], state__tension_n_per_m=[100, 130])
    order = ["fits", "caution", "cannot tell", "refused"]
    for case, room in zip(cases, found.rooms, strict=True):
        assert room.highest_fits <= room.highest_caution <= room.highest
        for most, word in (
            (room.highest_fits, "fits"),
            (room.highest_caution, "caution"),
            (room.highest, "cannot tell"),
        ):
            for wraps in range(1, 9):
                passes = order.index(check(with_wraps(case, wraps)).overall) <= order.index(word)
                assert passes == (wraps <= most), (room.name, wraps, word)


def test_the_target_room_brings_the_edge_ratio_to_1_2_and_1_4():
    cases, found = shared("B09", "T5", "BO-20")
    for wanted, ratio in zip(found.rooms[0].wanted, (1.2, 1.4), strict=True):
        # the ratio is linear in the wraps while the centre is taut
        one = check(with_wraps(cases[0], 1)).numbers["edge_ratio"]
        assert 1 + wanted * (one - 1) == pytest.approx(ratio, rel=1e-9)


def test_the_order_of_the_products_does_not_matter():
    forward = shared("C06", "T5", "ML-62", "MN-160", "MP-75")[1]
    backward = shared("C06", "T5", "MP-75", "MN-160", "ML-62")[1]
    assert forward.rooms == tuple(reversed(backward.rooms))
    assert (forward.interval, forward.not_refused, forward.best) == (
        backward.interval,
        backward.not_refused,
        backward.best,
    )


def test_a_tape_half_as_thick_doubles_every_room_that_strain_decides():
    thick = shared("D04", "T5", "PT-50")[1].rooms[0]
    thin = shared("D04", "T5", "PT-50", tape__thickness_mm=0.045)[1].rooms[0]
    assert thin.highest == pytest.approx(2 * thick.highest, rel=1e-3)
    assert thin.wanted == pytest.approx(tuple(2 * value for value in thick.wanted), rel=1e-9)


def test_tape_where_the_web_edge_rides_the_step_is_refused_from_the_first_wrap():
    _, found = shared("B09", "T5", "BO-20", "CP-110")
    room = found.rooms[1]
    assert (room.highest, room.feasible) == (0.0, None)
    assert room.because == "Web over the step at its edge"


def test_the_best_number_is_what_sizing_suggests_for_the_group():
    for roller, tape, names in (("A05", "T1", ("SF-17", "SF-23")), ("B09", "T5", ("BO-20", "BO-35"))):
        cases, found = shared(roller, tape, *names)
        assert found.best == suggest(cases).wraps
        assert found.verdict == suggest(cases).verdict
        assert found.as_dict()["best_wraps"] == found.best


def test_products_of_different_rollers_are_refused():
    cases = [parse_case(demo_case("BO-20", roller, "T5", 1)) for roller in ("B09", "B04")]
    with pytest.raises(CaseError, match="another roller or tape"):
        common_wraps(cases)
    with pytest.raises(CaseError, match="one entry for each product"):
        common_wraps(cases[:1], names=["a", "b"])
    with pytest.raises(CaseError, match="no product"):
        common_wraps([])


@settings(max_examples=15, deadline=None)
@given(st.lists(st.tuples(st.floats(20, 400), st.floats(20, 8000)), min_size=1, max_size=3))
def test_any_products_have_a_common_room_inside_every_room(products):
    cases = [
        parse_case(demo_case("ML-62", "C06", "T5", 0, state__tension_n_per_m=tension, web__modulus_md_mpa=modulus))
        for tension, modulus in products
    ]
    found = common_wraps(cases)
    if found.interval:
        for room in found.rooms:
            assert room.feasible[0] <= found.interval[0] <= found.interval[1] <= room.feasible[1]
    assert set(found.on_target) <= set(found.not_refused)
    assert all(wraps <= room.highest for wraps in found.not_refused for room in found.rooms)
    assert all(sentence.endswith(".") for sentence in found.sentences)
