"""The drawings of the span and of what follows from it: sound, in words, in figures, readable in grey."""

import math
import re
from dataclasses import replace
from xml.etree import ElementTree

import pytest

from plant.web import svg
from plant.web.gallery_drawings import span_drawings
from plant.web.svg.spanmap import level_of, level_words

NS = "{http://www.w3.org/2000/svg}"
ALONG, ACROSS = (0.0, 500.0, 1000.0), (-500.0, -250.0, 0.0, 250.0, 500.0)
MAP = svg.SpanMap(
    "Span of SF-17",
    along_mm=ALONG,
    across_mm=ACROSS,
    cd_kpa=((0.0,) * 5, (-60.0, -60.0, 80.0, 40.0, 20.0), (-90.0, 90.0, 90.0, 90.0, -90.0)),
    shift_mm=((0.0,) * 5, (-0.1, 0.0, 0.0, 0.0, 0.1), (-0.2, 0.0, 0.0, 0.0, 0.2)),
    taped=(svg.Taped(-500, -400), svg.Taped(400, 500)),
)
TORNADO = svg.Tornado(
    "What matters most for SF-17",
    12.0,
    (svg.Lever("MD modulus", "108", "132 MPa", -8.0, 30.0, "Edge ratio"), svg.Lever("Tension", "45", "55", 4, 20)),
)
LADDER = svg.Ladder(
    "Strain ladder", (svg.Rung("PT", 0.05, 0.04, 0.06, "refused"), svg.Rung("SF-17", 2.45, 2.2, 2.7, "fits")), 0.93
)
MARGIN = svg.MarginPlot(
    "Bare lane of SF-17", ((0.0, 94.0), (0.3, 93.0)), ((0.0, 0.0), (0.3, -0.4)), 0.07, -20.0, 0.0, 0.21
)


def read(drawn):
    return ElementTree.fromstring(drawn)


def every():
    for audience in ("desk", "tablet", "paper"):
        yield from (drawn for drawn, _, _ in span_drawings(audience))


@pytest.mark.parametrize("drawn", list(every()))
def test_each_is_sound_xml_with_words_and_has_a_grey_for_paper(drawn):
    root = read(drawn)
    assert root.find(NS + "title").text and len(root.find(NS + "desc").text) > 30
    assert "style=" not in drawn and "<script" not in drawn
    assert not re.search(r'="[^"]*\b(nan|inf)\b', drawn)
    for element in root.iter():
        if element.tag.rsplit("}", 1)[-1] in ("rect", "circle", "path", "text") and element.get("class"):
            assert element.get("fill") or element.get("stroke")


def test_each_drawing_has_its_figures_in_a_table_as_wide_as_its_heads():
    for _, table, _ in span_drawings():
        assert table.rows and table.caption
        assert {len(row) for row in table.rows} == {len(table.columns)}


def test_tension_across_is_a_tone_and_pressing_is_hatching():
    root = read(svg.span_map(MAP))
    levels = {int(e.get("data-level")): e for e in root.iter() if e.get("data-level")}
    assert max(levels) >= 3 and min(levels) < 0
    tones = [float(levels[level].get("fill-opacity")) for level in sorted(levels) if level > 0]
    assert tones == sorted(tones)
    pressed = [e for e in root.iter(NS + "path") if e.get("class") == "d-press"]
    assert pressed and all(e.get("fill") == "none" for e in pressed)


def test_the_sideways_movement_is_exaggerated_by_the_factor_that_is_said():
    drawn = svg.span_map(MAP)
    factor = float(re.search(r"drawn (\d+) times", drawn).group(1))
    edges = [e.get("d") for e in read(drawn).iter(NS + "path") if e.get("data-part") == "edge"]
    still = [e.get("d") for e in read(drawn).iter(NS + "path") if e.get("class") == "d-ext"]
    start, end = (float(re.findall(r"[ML]([\d.]+) ", edges[0])[at]) for at in (0, -1))
    width = abs(float(re.search(r"M([\d.]+)", still[1]).group(1)) - float(re.search(r"M([\d.]+)", still[0]).group(1)))
    assert start - end == pytest.approx(0.2 * factor * width / 1000, abs=0.1)
    assert end < start, "an outward movement of the operator edge goes to the left"


@pytest.mark.parametrize(("value", "level"), [(2, 0), (-2, 0), (8, 1), (15, 2), (99, 4), (-8, -1), (-15, -2)])
def test_steps_of_tone_follow_the_value(value, level):
    assert level_of(value, 10.0) == level
    assert level_words(level, 10.0)


def test_a_map_without_any_stress_or_with_gaps_is_still_drawn():
    nothing = replace(MAP, cd_kpa=((0.0,) * 5,) * 3, shift_mm=((0.0,) * 5,) * 3)
    gaps = replace(MAP, cd_kpa=((math.nan,) * 5,) * 3)
    for drawing in (nothing, gaps):
        assert "nan" not in svg.span_map(drawing).replace("nance", "")


def test_the_lever_that_refuses_crosses_the_line_at_nought():
    root = read(svg.tornado(TORNADO))
    stop = next(e for e in root.iter(NS + "path") if "d-stop" in e.get("class", ""))
    zero = float(re.match(r"M([\d.]+)", stop.get("d")).group(1))
    bars = {e.get("data-end"): e for e in root.iter(NS + "rect") if e.get("data-end")}
    assert float(bars["108"].get("x")) < zero < float(bars["45"].get("x")) + 1
    assert "Edge ratio" in svg.tornado_table(TORNADO).rows[0]


def test_a_lever_without_any_margin_left_says_so():
    lost = replace(TORNADO, levers=(svg.Lever("Friction", "0.1", "0.5", None, 40.0),))
    assert "none left" in svg.tornado(lost) and "none left" in svg.tornado_table(lost).rows[0]


def test_the_ladder_stands_on_a_log_scale_with_the_step_between_the_products():
    root = read(svg.strain_ladder(LADDER))
    places = {}
    for element in root.iter(NS + "g"):
        if element.get("data-product"):
            at = re.search(r"translate\(([\d.]+)", ElementTree.tostring(element).decode())
            circle = element.find(NS + "circle")
            places[element.get("data-product")] = float(circle.get("cx") if circle is not None else at.group(1))
    step = next(e for e in root.iter(NS + "path") if e.get("data-part") == "step")
    at = float(re.match(r"M([\d.]+)", step.get("d")).group(1))
    assert places["PT"] < at < places["SF-17"]
    share = (at - places["PT"]) / (places["SF-17"] - places["PT"])
    assert share == pytest.approx(math.log(0.93 / 0.05) / math.log(2.45 / 0.05), abs=0.01)
    assert svg.ladder_table(LADDER).rows[0][4] == "18.60"


def test_the_margin_names_what_is_measured_and_where_the_web_wrinkles():
    drawn = svg.margin_plot(MARGIN)
    for words in ("measured 0.07 mm/m", "wrinkles on the roller below", "span troughs bare 0.21", "with tape"):
        assert words in drawn
    bare_only = svg.margin_plot(replace(MARGIN, taped=()))
    assert "with tape</text>" not in bare_only


def test_curves_differ_by_stroke_and_not_by_colour_alone():
    root = read(svg.margin_plot(MARGIN))
    strokes = {e.get("data-curve"): e.get("stroke-dasharray") for e in root.iter(NS + "path") if e.get("data-curve")}
    assert strokes["with tape"] is None and strokes["bare roller"]
