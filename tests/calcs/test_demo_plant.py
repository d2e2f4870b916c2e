"""The products of the invented plant come out as the closed forms say.

Expected figures are worked out by hand from 1 + (1 - f) D/eps_T, f D/eps_T, ln ratio/(mu k beta) and
0.3 eps_T R/((1 - f) t), rounded as printed here. They prove the software, not a plant.
"""

from __future__ import annotations

import pytest

from calcs.case import parse_case
from calcs.sizing import suggest
from calcs.verdict import check
from tests.calcs.cases import demo_case

# product, roller, tape, wraps, edge ratio, centre loss %, needed, available, outcome
FITTED = [
    ("SF-17", "A05", "T1", 4, 1.30, 8, 0.27, 0.68, "fits"),
    ("SF-23", "A05", "T1", 4, 1.34, 9, 0.30, 0.73, "fits"),
    ("BO-20", "B09", "T5", 1, 1.24, 6, 0.22, 0.44, "fits"),
    ("BO-35", "B09", "T5", 1, 1.27, 7, 0.24, 0.50, "fits"),
    ("BO-35", "B04", "T5", 1, 1.39, 3, 0.33, 0.45, "fits"),
    ("CP-70", "B09", "T5", 1, 2.40, 24, 0.88, 0.66, "refused"),
    ("CP-70", "B04", "T5", 1, 2.99, 7, 1.09, 0.59, "refused"),
    ("ML-62", "C06", "T5", 1, 1.56, 14, 0.44, 0.58, "fits"),
    ("MN-160", "C06", "T5", 1, 1.68, 17, 0.52, 0.67, "caution"),
    ("MP-75", "C06", "T5", 1, 3.05, 35, 1.11, 0.77, "refused"),
    ("PT-100", "D04", "T5", 1, 1.36, 9, 0.31, 0.42, "fits"),
    ("PT-100", "D04", "T5", 2, 1.72, 18, 0.54, 0.42, "refused"),
    ("PT-50", "D04", "T5", 1, 2.80, 45, 1.03, 0.42, "refused"),
]


@pytest.mark.parametrize(("product", "roller", "tape", "wraps", "ratio", "loss", "need", "grip", "outcome"), FITTED)
def test_a_fitted_recipe_has_its_ratio_loss_hold_and_outcome(
    product, roller, tape, wraps, ratio, loss, need, grip, outcome
):
    verdict = check(parse_case(demo_case(product, roller, tape, wraps)))
    numbers = verdict.numbers
    assert round(numbers["edge_ratio"], 2) == ratio
    assert round(100 * numbers["centre_loss"]) == loss
    assert numbers["hold_need"] == pytest.approx(need, abs=0.0055)
    assert numbers["hold_tape"] == pytest.approx(grip, abs=0.006)
    assert verdict.overall == outcome


@pytest.mark.parametrize(
    ("product", "strain"),
    [
        ("SF-17", 2.451),
        ("SF-23", 2.174),
        ("SF-30", 1.778),
        ("BO-20", 0.300),
        ("BO-35", 0.271),
        ("CP-70", 0.055),
        ("CP-110", 0.050),
        ("ML-62", 0.172),
        ("MN-160", 0.141),
        ("MP-75", 0.050),
        ("PT-100", 0.500),
        ("PT-50", 0.100),
    ],
)
def test_every_product_runs_at_its_line_strain(product, strain):
    roller = {"SF": "A05", "BO": "B09", "CP": "B09", "ML": "C06", "MN": "C06", "MP": "C06", "PT": "D04"}
    verdict = check(parse_case(demo_case(product, roller[product[:2]], "T5", 0)))
    assert round(verdict.numbers["strain_pct"], 3) == strain
    assert verdict.overall == "fits"


@pytest.mark.parametrize(
    ("product", "roller", "tape", "formula", "wraps"),
    [
        ("SF-17", "A05", "T1", 3.94, 4),
        ("SF-23", "A05", "T1", 3.49, 3),
        ("BO-20", "B09", "T5", 1.25, 1),
        ("BO-35", "B09", "T5", 1.13, 1),
        ("BO-35", "B04", "T5", 0.77, 1),
        ("CP-70", "B09", "T5", 0.21, 0),
        ("CP-110", "B09", "T5", 0.17, 0),
        ("ML-62", "C06", "T5", 0.54, 1),
        ("MN-160", "C06", "T5", 0.44, 0),
        ("MP-75", "C06", "T5", 0.15, 0),
        ("PT-100", "D04", "T5", 0.83, 1),
        ("PT-50", "D04", "T5", 0.17, 0),
    ],
)
def test_sizing_suggests_the_wraps_of_each_product(product, roller, tape, formula, wraps):
    case = parse_case(demo_case(product, roller, tape, 0))
    suggestion = suggest(case)
    assert round(suggestion.formula[0], 2) == formula
    assert (suggestion.wraps, suggestion.bare) == (wraps, wraps == 0)
    assert check(case).numbers["suggested_wraps"] == wraps


def test_one_taping_serves_both_stretch_films():
    films = [parse_case(demo_case(product, "A05", "T1", 0)) for product in ("SF-17", "SF-23")]
    suggestion = suggest(films)
    assert suggestion.wraps == 4
    assert suggestion.verdict == "fits"
    assert [round(row.products[1].edge_ratio, 2) for row in suggestion.outcomes][:5] == [1, 1.09, 1.17, 1.26, 1.34]


@pytest.mark.parametrize(
    ("wraps", "ratio", "used", "outcome"), [(2, 1.48, 0.89, "caution"), (3, 1.72, 1.24, "refused")]
)
def test_more_wraps_on_the_thin_bopp_run_out_of_hold(wraps, ratio, used, outcome):
    verdict = check(parse_case(demo_case("BO-20", "B09", "T5", wraps)))
    assert round(verdict.numbers["edge_ratio"], 2) == ratio
    assert verdict.numbers["hold_used"] == pytest.approx(used, abs=0.006)
    assert verdict.overall == outcome


def test_thirty_per_cent_less_tension_makes_the_same_tape_a_caution_and_says_which_way():
    verdict = check(parse_case(demo_case("BO-20", "B09", "T5", 1, state__tension_n_per_m=84)))
    assert round(verdict.numbers["edge_ratio"], 2) == 1.34
    assert round(verdict.numbers["hold_used"], 2) == 0.83
    assert verdict.overall == "caution"
    sentences = {check.id: check.sentence for check in verdict.checks}
    assert "Lower tension makes this tape relatively more" in sentences["edge_ratio"]
    assert "Lower tension" in sentences["hold"]


def test_label_paper_rides_the_step_and_is_refused_for_it():
    verdict = check(parse_case(demo_case("CP-110", "B09", "T5", 1)))
    assert verdict.overall == "refused"
    rides = next(check for check in verdict.checks if check.id == "rides_step")
    assert rides.verdict == "refused"
    assert rides.value == pytest.approx(10)
    assert rides.margin == pytest.approx(-20)


def test_farm_wrap_does_not_touch_the_tape_and_only_a_notice_says_so():
    verdict = check(parse_case(demo_case("SF-30", "A05", "T1", 4)))
    assert verdict.overall == "fits"
    assert verdict.numbers["edge_ratio"] == 1
    assert verdict.numbers["centre_loss"] == 0
    notice = next(notice for notice in verdict.notices if notice.id == "not_touched")
    assert notice.value == pytest.approx(100)
    assert verdict.numbers["suggested_wraps"] is None


def test_one_end_tape_steers_the_matt_film_to_the_operator_side():
    verdict = check(parse_case(demo_case("BO-35", "B04", "T5", 1)))
    assert verdict.numbers["steer_mm"] < 0
    notice = next(notice for notice in verdict.notices if notice.id == "one_end")
    assert "operator end" in notice.sentence
    assert verdict.overall == "fits"


def test_coated_paper_is_refused_with_thin_smooth_tape_too():
    verdict = check(parse_case(demo_case("CP-70", "B09", "T3", 1)))
    assert round(verdict.numbers["edge_ratio"], 2) == 1.86
    assert verdict.overall == "refused"


def test_pouch_laminate_floats_on_smooth_tape():
    verdict = check(parse_case(demo_case("ML-62", "C06", "T3", 1)))
    assert verdict.numbers["hold_need"] == pytest.approx(0.29, abs=0.005)
    assert verdict.numbers["hold_tape"] == pytest.approx(0.10, abs=0.006)
    assert verdict.numbers["traction_bare"] == 1
    assert verdict.overall == "refused"


def test_four_wraps_on_coated_paper_are_refused_in_plain_words_that_name_who_can_help():
    verdict = check(parse_case(demo_case("CP-70", "B09", "T5", 4)))
    assert verdict.overall == "refused"
    ratio = next(check for check in verdict.checks if check.id == "edge_ratio")
    assert "refused above 2.00" in ratio.sentence
    assert "person certified to size" in ratio.sentence


def test_an_unknown_measure_of_the_wrinkle_cannot_be_put_in():
    case = demo_case("SF-17", "A05", "T1", 4)
    with pytest.raises(ValueError, match="severity is not a known"):
        parse_case({**case, "severity": 4})
