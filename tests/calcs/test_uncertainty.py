"""Chances, levers and best number of wraps: drawn points are judged like cases of their own."""

from __future__ import annotations

import itertools
import math
import time
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from calcs.case import CaseError, Interval, parse_case
from calcs.draws import draw, inputs_of, judge_columns, ranged_inputs
from calcs.limits import DEFAULT
from calcs.readings import judge
from calcs.sizing import with_wraps
from calcs.uncertainty import Chance, uncertainty
from calcs.verdict import check
from tests.calcs.cases import demo_case
from tests.calcs.test_corners import RANGED

UNSURE = demo_case(
    "BO-20",
    "B09",
    "T5",
    2,
    web__thickness_um=[19, 21],
    web__modulus_md_mpa=[1700, 2300],
    state__tension_n_per_m=[100, 140],
    state__speed_m_per_min=[200, 300],
    roller__friction={"mean": 0.3, "sd": 0.02},
    tape__thickness_mm=[0.085, 0.095],
)


def point_case(case, columns, row):
    """The case with the single values of one drawn point."""
    value = {name: Interval.point(float(column[row])) for name, column in columns.items()}

    def of(part, content, **names):
        present = {
            field: value[f"{part}.{name}"] for field, name in names.items() if getattr(content, field) is not None
        }
        return replace(content, **present)

    tape = of(
        "tape",
        case.tape,
        thickness="thickness_mm",
        roughness="roughness_um",
        friction="friction",
        max_temp="max_temp_c",
    )
    return replace(
        case,
        web=of(
            "web",
            case.web,
            width="width_mm",
            thickness="thickness_um",
            modulus_md="modulus_md_mpa",
            yield_strain="yield_strain_pct",
            roughness="roughness_um",
            wander="wander_mm",
        ),
        state=of("state", case.state, tension="tension_n_per_m", speed="speed_m_per_min", air_temp="air_temp_c"),
        roller=of(
            "roller",
            case.roller,
            diameter="diameter_mm",
            face="face_mm",
            wrap="wrap_deg",
            entry_span="entry_span_mm",
            roughness="roughness_um",
            friction="friction",
            misalignment="misalignment_mm_per_m",
            surface_temp="surface_temp_c",
        ),
        tape=tape,
    )


@pytest.mark.parametrize("number", range(len(RANGED)))
def test_every_drawn_point_gets_the_words_of_a_case_of_its_own(number):
    case = parse_case(RANGED[number])
    columns = draw(case, 120, 7 + number)
    sample = judge_columns(case, columns, DEFAULT)
    judged = judge([point_case(case, columns, row) for row in range(120)], DEFAULT)
    for row in range(120):
        found = {reading.spec.id: reading.word for reading in judged.readings(row)}
        for column in sample.columns:
            word = found[column.id]
            assert bool(column.evaluated[row]) == (word != "not evaluated"), (column.id, row)
            if word != "not evaluated":
                assert bool(column.past_refuse[row]) == (word == "refused"), (column.id, row)
                assert bool(column.past_caution[row] | column.past_refuse[row]) == (word != "fits"), (column.id, row)
        assert {column.id for column in sample.columns} | {"temperature", "build", "wraps", "overhang"} >= set(found)


def test_layers_multiplied_are_the_same_as_wraps_on_every_band():
    case = parse_case(RANGED[0])
    columns = draw(case, 200, 3)
    for wraps in (1, 3, 8):
        plain = judge_columns(with_wraps(case, wraps), columns, DEFAULT)
        scaled = judge_columns(with_wraps(case, 1), columns, DEFAULT, wraps)
        assert np.array_equal(plain.all_fit, scaled.all_fit)
        assert plain.least_margin == pytest.approx(scaled.least_margin, rel=1e-12)


def test_a_case_without_ranges_has_chance_nought_or_one_and_agrees_with_the_verdict():
    for wraps in range(5):
        case = parse_case(demo_case("BO-20", "B09", "T5", wraps))
        found, word = uncertainty(case, draws=50), check(case).overall
        assert found.all_fit.share == (word == "fits")
        assert found.none_refused.share == (word != "refused")
        assert found.levers == ()


@pytest.mark.parametrize("number", range(len(RANGED)))
def test_a_verdict_that_fits_over_all_corners_has_no_point_that_does_not(number):
    case = parse_case(RANGED[number])
    words = {reading.id: reading.verdict for reading in check(case).checks}
    for found in uncertainty(case, draws=2000).checks:
        if words[found.id] == "fits":
            assert found.refused == found.caution == 0, found.id
        if words[found.id] == "caution":
            assert found.refused == 0, found.id


def test_the_same_seed_gives_the_same_answer_and_another_seed_nearly_the_same():
    case = parse_case(UNSURE)
    first, again, other = (uncertainty(case, seed=seed) for seed in (1, 1, 2))
    assert first == again
    assert first != other
    assert first.all_fit.share == pytest.approx(other.all_fit.share, abs=0.025)
    assert first.best_wraps == other.best_wraps == 1


def test_the_interval_of_a_chance_holds_a_much_larger_sample():
    case = parse_case(UNSURE)
    small, large = uncertainty(case, draws=2_000), uncertainty(case, seed=5, draws=30_000)
    assert small.none_refused.low < large.none_refused.share < small.none_refused.high
    assert 0 < large.none_refused.high - large.none_refused.low < 0.011


def test_a_published_score_interval():
    """7 of 20: 0.181 to 0.567 (E. B. Wilson's score interval; worked figure from memory, not checked)."""
    found = Chance.of(7, 20)
    assert (found.low, found.high) == (pytest.approx(0.181, abs=1e-3), pytest.approx(0.567, abs=1e-3))
    assert Chance.of(0, 100).low == 0
    assert Chance.of(100, 100).high == 1


def test_the_chance_of_one_uniform_input_is_its_share_of_the_range():
    """Only tension has a range; the edge ratio 1 + 0.8 D E h/T passes 1.6 below a tension known in closed form."""
    case = parse_case(demo_case("BO-20", "B09", "T5", 2, state__tension_n_per_m=[80, 130], roller__friction=0.9))
    limit = 0.8 * 0.0018 * 2000e6 * 20e-6 / 0.6
    ratio = next(found for found in uncertainty(case).checks if found.id == "edge_ratio")
    assert ratio.caution == pytest.approx((limit - 80) / 50, abs=0.015)


def test_a_normal_input_is_cut_at_three_sd_and_keeps_its_mean():
    case = parse_case(UNSURE)
    friction = draw(case, 20_000, 4)["roller.friction"]
    assert friction.min() >= 0.24 and friction.max() <= 0.36
    assert friction.mean() == pytest.approx(0.3, abs=5e-4)
    assert friction.std() == pytest.approx(0.02 * math.sqrt(0.9733), rel=0.02)  # sd of a normal cut at 3 sd


def test_inputs_are_drawn_independently_and_a_new_range_moves_no_other():
    columns = draw(parse_case(UNSURE), 20_000, 4)
    names = list(ranged_inputs(parse_case(UNSURE)))
    correlation = np.corrcoef([columns[name] for name in names])
    assert np.abs(correlation - np.eye(len(names))).max() < 0.03
    wider = draw(parse_case({**UNSURE, "web": {**UNSURE["web"], "width_mm": [1590, 1610]}}), 20_000, 4)
    assert np.array_equal(wider["roller.friction"], columns["roller.friction"])


def test_tape_without_a_friction_of_its_own_takes_the_rollers_in_every_draw():
    columns = draw(parse_case(UNSURE), 100, 1)
    assert np.array_equal(columns["tape.friction"], columns["roller.friction"])
    assert "tape.friction" not in ranged_inputs(parse_case(UNSURE))


def test_the_strongest_lever_comes_first_and_an_input_that_no_tight_check_reads_comes_last():
    found = uncertainty(parse_case({**UNSURE, "web": {**UNSURE["web"], "yield_strain_pct": [4, 5]}}), draws=100)
    changes = [lever.change for lever in found.levers]
    assert changes == sorted(changes, reverse=True)
    assert found.levers[0].name == "state.tension_n_per_m"
    assert found.levers[0].tightest == "hold"
    assert (found.levers[-1].name, found.levers[-1].change) == ("web.yield_strain_pct", 0)
    assert f"{found.levers[0].name} matters most" in " ".join(found.sentences)


def test_a_lever_sees_a_width_that_rides_the_step_only_inside_its_range():
    case = demo_case("BO-20", "B09", "T1", 1, web__width_mm=[1240, 1400], web__wander_mm=2)
    found = uncertainty(parse_case(case), draws=100)
    width = next(lever for lever in found.levers if lever.name == "web.width_mm")
    assert width.at_low > 0 and width.at_high > 0
    assert width.change > max(width.at_low, width.at_high)
    assert next(chance for chance in found.checks if chance.id == "rides_step").refused > 0.1


def test_narrowing_the_strongest_lever_raises_the_chance():
    wide = uncertainty(parse_case(UNSURE), draws=4000)
    narrow = {**UNSURE, "state": {**UNSURE["state"], "tension_n_per_m": [119, 121]}}
    assert uncertainty(parse_case(narrow), draws=4000).none_refused.share > wide.none_refused.share + 0.05


def test_the_best_number_of_wraps_of_the_demo_products():
    for product, roller, tape, best in (
        ("SF-17", "A05", "T1", 4),
        ("BO-20", "B09", "T5", 1),
        ("CP-70", "B09", "T5", 0),
        ("MN-160", "C06", "T5", 0),
        ("ML-62", "C06", "T5", 1),
        ("PT-100", "D04", "T5", 1),
    ):
        assert uncertainty(parse_case(demo_case(product, roller, tape, 0)), draws=20).best_wraps == best, product
    assert uncertainty(parse_case(demo_case("SF-30", "A05", "T1", 4)), draws=20).best_wraps is None


def test_more_wraps_never_have_a_better_chance_to_fit():
    for case in RANGED:
        wraps = uncertainty(parse_case(case), draws=300).wraps
        for less, more in itertools.pairwise(wraps[1:]):
            assert more.all_fit <= less.all_fit
            assert more.none_refused <= less.none_refused
        assert all(found.on_target <= found.all_fit <= found.none_refused for found in wraps)


def test_a_bare_roller_has_chances_but_no_wraps_to_count():
    case = demo_case("BO-20", "B09", "T5", 0)
    bare = uncertainty(parse_case({**case, "tape": None, "bands": []}), draws=50)
    assert (bare.best_wraps, bare.wraps, bare.all_fit.share) == (None, (), 1.0)


def test_chances_are_plain_json_even_when_the_web_floats():
    case = demo_case("ML-62", "C06", "T3", 1, state__speed_m_per_min=[50, 1500])
    plain = uncertainty(parse_case(case), draws=200).as_dict()
    assert plain["tornado"][0]["change"] is None
    assert plain["probability_none_refused"]["share"] < 1


@pytest.mark.parametrize(("name", "value"), [("draws", 0), ("draws", 10**9), ("seed", -1)])
def test_a_useless_number_of_draws_or_seed_gets_a_sentence(name, value):
    with pytest.raises(CaseError, match=f"--{name} is {value}"):
        uncertainty(parse_case(UNSURE), **{name: value})


def test_ten_thousand_draws_are_judged_in_a_moment():
    """Aim: 0.3 s on one free core; the bound here leaves room for a busy machine. CPU time, not the clock."""
    case = parse_case(UNSURE)
    uncertainty(case, draws=100)
    start = time.process_time()
    uncertainty(case)
    assert time.process_time() - start < 1.5


@settings(max_examples=25, deadline=None)
@given(
    low=st.floats(5, 700),
    wide=st.floats(0, 700),
    modulus=st.floats(1, 5e4),
    thickness=st.floats(5, 900),
    wraps=st.integers(0, 8),
    wander=st.floats(0, 30),
    seed=st.integers(0, 2**31),
)
def test_any_valid_case_gives_chances_between_nought_and_one(low, wide, modulus, thickness, wraps, wander, seed):
    case = demo_case(
        "ML-62",
        "C06",
        "T5",
        wraps,
        web__modulus_md_mpa=[modulus, 2 * modulus],
        web__thickness_um=thickness,
        web__wander_mm=wander,
        web__width_mm=[500, 700],
        state__tension_n_per_m=[low, low + wide],
    )
    found = uncertainty(parse_case(case), seed=seed, draws=60)
    for check_ in found.checks:
        shares = (check_.fits, check_.caution, check_.refused, check_.not_evaluated)
        assert sum(shares) == pytest.approx(1) and min(shares) >= 0
    assert 0 <= found.all_fit.share <= found.none_refused.share <= 1
    assert not any(math.isnan(lever.change) for lever in found.levers)


def test_every_input_of_the_form_that_a_check_reads_is_drawn():
    ranged = set(ranged_inputs(parse_case(RANGED[0])))
    assert set(inputs_of(parse_case(RANGED[0]))) == ranged | {"web.wander_mm", "roller.face_mm"}
