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
