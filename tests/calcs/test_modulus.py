"""The modulus at line strain, from curves and from the table."""

from __future__ import annotations

from datetime import date

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from calcs.case import CaseError, Interval, parse_case
from calcs.modulus import MOST_AGE, line_strain_rows, read_strip, secant_modulus, table_modulus
from calcs.verdict import check
from tests.calcs.cases import demo_case

HEAD = """# direction: MD
# temperature_c: 23
# date: 2026-03-10
# gauge_length_mm: 100
# width_mm: 15
# thickness_um: 20
"""


def curve(modulus=2.0e9, bend=0.0, steps=40, most=0.01, head=HEAD, scale=1.0):
    """A strip of 15 mm x 20 um x 100 mm whose stress is E e (1 - bend e)."""
    rows = []
    for strain in np.linspace(0, most, steps):
        force = modulus * strain * (1 - bend * strain) * 15e-3 * 20e-6 * scale
        rows.append(f"{strain * 100:.9f},{force:.9f}")
    return head + "extension_mm,force_n\n" + "\n".join(rows) + "\n"


LINE = Interval.point(120.0)


def test_a_straight_curve_gives_its_slope_at_the_line_strain():
    found = secant_modulus([read_strip(curve())], LINE)
    assert found.measured.value == pytest.approx(2.0e9, rel=1e-6)
    assert found.strain == pytest.approx(120 / (2.0e9 * 20e-6), rel=1e-6)
    assert (found.direction, found.day, found.temperature) == ("MD", date(2026, 3, 10), 296.15)
    assert not found.table


def test_a_bent_curve_gives_the_secant_where_the_line_runs_not_the_steep_start():
    strip = read_strip(curve(bend=40.0, steps=2000))
    found = secant_modulus([strip], LINE)
    # stress 6 MPa = E e (1 - 40 e)
    strain = (1 - np.sqrt(1 - 4 * 40 * 6e6 / 2e9)) / 80
    assert found.strain == pytest.approx(strain, rel=1e-4)
    assert found.measured.value == pytest.approx(6e6 / strain, rel=1e-4)
    moduli = [modulus for _, _, modulus in line_strain_rows(strip, [60, 120, 180])]
    assert moduli == sorted(moduli, reverse=True)
    assert max(moduli) < 2.0e9


@given(st.floats(1e7, 7e10))
def test_any_straight_curve_gives_its_slope(modulus):
    text = curve(modulus, most=3 * 6e6 / modulus)
    assert secant_modulus([read_strip(text)], LINE).measured.value == pytest.approx(modulus, rel=1e-4)


def test_a_preload_takes_a_slack_start_out():
    """A start that stretches without force shifts the curve; secant between preload and line force ignores it."""
    text = curve()
    head, rows = text.split("extension_mm,force_n\n")
    shifted = [f"{float(row.split(',')[0]) + 0.2:.9f},{row.split(',')[1]}" for row in rows.split()]
    slack = head + "# preload_n: 0.05\nextension_mm,force_n\n0,0\n" + "\n".join(shifted)
    found = secant_modulus([read_strip(slack)], LINE)
    assert found.measured.value == pytest.approx(2.0e9, rel=1e-6)
    assert found.strain == pytest.approx(0.003, rel=1e-6)


def test_the_thickness_of_a_thin_web_leads_the_budget():
    """1 um on 20 um is 5 %, over sqrt(3)."""
    found = secant_modulus([read_strip(curve())], LINE)
    lines = {part.name: part.u / found.measured.value for part in found.measured.parts}
    assert lines["thickness"] == pytest.approx(0.05 / np.sqrt(3), rel=1e-6)
    assert max(lines, key=lambda name: lines[name]) == "thickness"
    assert "Assumed, not given" in found.flags[-1]
    closer = curve(head=HEAD + "# thickness_error_um: 0.2\n")
    assert secant_modulus([read_strip(closer)], LINE).measured.u < found.measured.u / 2


def test_several_strips_add_their_scatter_and_a_tension_range_its_bend():
    strips = [read_strip(curve(scale=scale, bend=20, steps=500)) for scale in (0.97, 1.0, 1.03)]
    one = secant_modulus(strips[1:2], LINE)
    several = secant_modulus(strips, LINE)
    ranged = secant_modulus(strips, Interval(80, 120, 160))
    assert one.flags[0].startswith("One strip only")
    assert not several.flags[0].startswith("One strip only")
    assert {part.name for part in several.measured.parts} > {part.name for part in one.measured.parts}
    assert one.measured.u < several.measured.u < ranged.measured.u


def test_the_answer_goes_into_a_case_as_mean_and_sd():
    spread = secant_modulus([read_strip(curve())], LINE).as_input()
    assert spread["mean"] == pytest.approx(2000, rel=1e-6)
    assert 50 < spread["sd"] < 80
    verdict = check(parse_case(demo_case("BO-20", "B09", "T5", 1, web__modulus_md_mpa=spread)))
    ratio = next(found for found in verdict.checks if found.id == "edge_ratio")
    assert ratio.worst > ratio.value


def test_a_table_value_is_a_wide_band_and_flagged():
    found = table_modulus("PET")
    assert found.as_input() == [pytest.approx(0.7 * 4500), pytest.approx(1.3 * 4500)]
    assert found.table and found.measured is None
    assert "not measured on this product" in found.flags[0]
    wide = check(parse_case(demo_case("BO-20", "B09", "T5", 2, web__modulus_md_mpa=table_modulus("BOPP").as_input())))
    assert wide.overall == "cannot tell"


def test_a_curve_from_another_temperature_or_long_ago_is_flagged():
    strip = read_strip(curve())
    hot = secant_modulus([strip], LINE, web_temperature=333.15, at=date(2026, 3, 20))
    assert "pulled at 23 °C but the web runs at 60 °C" in hot.flags[0]
    old = secant_modulus([strip], LINE, web_temperature=296.15, at=date(2027, 3, 11))
    assert (date(2027, 3, 11) - strip.day).days == MOST_AGE + 1
    assert "older than a year" in old.flags[0]


def test_semicolons_with_decimal_commas_read_the_same():
    plain = curve()
    head, rows = plain.split("extension_mm,force_n\n")
    european = head + "extension_mm;force_n\n" + rows.replace(",", ";").replace(".", ",")
    assert read_strip(european).force == read_strip(plain).force


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("", "direction is missing"),
        (HEAD, "no columns"),
        (curve(head=HEAD.replace("MD", "left")), "write MD or CD"),
        (curve(head=HEAD.replace("2026-03-10", "10.3.26")), "year-month-day"),
        (curve(head=HEAD.replace("15", "0")), "above zero"),
        (curve(head=HEAD.replace("15", "wide")), "'wide', which is no number"),
        (curve(head=HEAD + "# colour: blue\n"), "colour is not known"),
        (HEAD + "extension_mm\n0\n", "column force_n is missing"),
        (HEAD + "extension_mm,force_n\n0,0\n1,1\n", "at least 4"),
        (HEAD + "extension_mm,force_n\n0,0\n1,1\n1,2\n2,3\n", "must rise"),
        (HEAD + "extension_mm,force_n\n0,0\n1\n2,2\n3,3\n", "row with 1 entries"),
        (HEAD + "extension_mm,force_n\n0,0\n1,nan\n2,2\n3,3\n", "no number"),
    ],
)
def test_a_file_that_is_no_curve_gets_a_sentence(text, words):
    with pytest.raises(CaseError, match=words):
        read_strip(text)


def test_a_curve_that_cannot_answer_is_refused_with_what_to_do():
    with pytest.raises(CaseError, match="pull the strip further"):
        secant_modulus([read_strip(curve(most=0.002))], LINE)
    with pytest.raises(CaseError, match="needs strips cut along it"):
        secant_modulus([read_strip(curve(head=HEAD.replace("MD", "CD")))], LINE)
    with pytest.raises(CaseError, match="smaller preload"):
        secant_modulus([read_strip(curve(head=HEAD + "# preload_n: 1.5\n"))], LINE)
    with pytest.raises(CaseError, match="at least one strip"):
        secant_modulus([], LINE)
    with pytest.raises(CaseError, match="not in the table"):
        table_modulus("granite")
