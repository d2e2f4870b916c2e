"""What a measured cause comes to, by the limits of the cause sheet."""

from dataclasses import replace

import pytest

from calcs.limits import DEFAULT, Limits
from rollers.causes import rules
from rollers.causes.causerows import BY_CODE, rows_for

FILM = rules.WebFacts(strain=0.0245, diameter=0.12, hold=0.9, family="stretch film")


@pytest.mark.parametrize(
    ("cause", "value", "outcome"),
    [
        ("misalignment", 0.10, "pass"),
        ("misalignment", -0.11, "caution"),
        ("misalignment", 0.18, "fail"),
        ("deflection", 0.12, "caution"),
        ("diameter", 0.03, "pass"),
        ("diameter", 0.031, "fail"),
        ("lane", 0.03, "pass"),
        ("lane", 0.04, "fail"),
        ("air", 0.9, "pass"),
        ("air", 2.0, "caution"),
        ("air", 3.0, "fail"),
        ("tension", -9, "pass"),
        ("tension", 11, "fail"),
        ("swing", 11, "fail"),
        ("temperature", 5, "pass"),
        ("temperature", 5.5, "fail"),
        ("drag", 4, "pass"),
        ("drag", 6, "caution"),
        ("drag", 95, "fail"),
    ],
)
def test_a_value_comes_to_pass_caution_or_fail(cause, value, outcome):
    assert rules.judge(BY_CODE[cause], value, DEFAULT, FILM).outcome == outcome


def test_a_stiff_web_takes_less_difference_in_diameter_than_the_fixed_limit():
    paper = replace(FILM, strain=0.0005, family="paper")
    found = rules.judge(BY_CODE["diameter"], 0.02, DEFAULT, paper)
    assert found.outcome == "fail" and found.fail == pytest.approx(0.006)


def test_paper_lanes_are_held_against_the_paper_limit():
    assert rules.judge(BY_CODE["lane"], 0.02, DEFAULT, replace(FILM, family="coated paper")).outcome == "fail"


def test_moisture_is_a_cause_of_paper_and_nonwoven_only():
    assert "moisture" in {row.code for row in rows_for("coated paper")}
    assert "moisture" in {row.code for row in rows_for("nonwoven")}
    assert "moisture" not in {row.code for row in rows_for("BOPP")}


def test_a_value_that_the_gauge_cannot_tell_from_its_limit_says_so():
    close = rules.judge(BY_CODE["misalignment"], 0.09, DEFAULT, FILM, uncertainty=0.02)
    clear = rules.judge(BY_CODE["misalignment"], 0.05, DEFAULT, FILM, uncertainty=0.02)
    assert "either side of the limit" in close.sentence and "either side" not in clear.sentence


def test_limits_are_the_plants_own_where_it_signed_some():
    own = Limits.from_dict({"version": "plant 1", "limits": {"cause_temperature": {"refuse": 3, "source": "trial"}}})
    found = rules.judge(BY_CODE["temperature"], 4, own, FILM)
    assert found.outcome == "fail" and found.source == "trial"


def test_every_row_names_limits_that_there_are():
    for row in BY_CODE.values():
        for name in row.limits:
            assert name in DEFAULT.values, name


GOOD = rules.Facts(
    never_taped=False,
    kind_words="idler",
    walked=True,
    sheet_closed=True,
    failed=(),
    not_checked=(),
    wrap_deg=120,
    span_mm=1400,
    width_mm=1500,
    taped_on_line=0,
    diagonal_at_one_end=True,
)


def against(emergency=False, **change):
    return " ".join(rules.against_tape(replace(GOOD, **change), one_end=False, emergency=emergency))


def warned(**change):
    return " ".join(rules.warnings_for_tape(replace(GOOD, **change)))


def test_nothing_speaks_against_a_good_roller_and_nothing_is_warned_of():
    assert against() == "" and warned() == ""


@pytest.mark.parametrize(("wrap", "refused", "said"), [(44, True, False), (45, False, True), (59, False, True)])
def test_wrap_is_refused_below_45_degrees_and_warned_of_below_60(wrap, refused, said):
    assert ("tape has no hold" in against(wrap_deg=wrap)) is refused
    assert ("below 60°" in warned(wrap_deg=wrap)) is said


def test_sixty_degrees_of_wrap_need_no_warning():
    assert warned(wrap_deg=60) == ""


@pytest.mark.parametrize(("span", "said"), [(749, True), (750, False)])
def test_a_span_shorter_than_half_the_web_is_warned_of(span, said):
    assert ("half the web width" in warned(span_mm=span)) is said


def test_the_fourth_taped_roller_is_warned_of_by_the_plants_own_cap():
    assert "3 are allowed" in warned(taped_on_line=3) and warned(taped_on_line=2) == ""
    assert "1 are allowed" in warned(taped_on_line=1, tape_cap=1)


def test_a_walk_and_a_sheet_of_long_ago_do_not_speak_for_tape_now():
    assert "is 31 days old" in against(walk_days=31) and "Walk the line again" in against(walk_days=31)
    assert "Check the causes again" in against(sheet_days=45)
    assert against(walk_days=30, sheet_days=30) == ""
    assert against(walk_days=31, emergency=True) == ""


def test_where_no_tape_of_the_plant_may_sit_tape_is_not_decided():
    said = against(fitting_stocks=0, place_words="it is a medical room, and a surface at 140 °C asks for 160 °C")
    assert "No tape of the plant may sit here: it is a medical room" in said
    assert against(fitting_stocks=None) == "" and against(fitting_stocks=1) == ""


def test_a_next_run_of_another_product_is_named_with_what_it_asks():
    assert "CP-70" in warned(next_product="CP-70") and "off between the runs" in warned(next_product="CP-70")
