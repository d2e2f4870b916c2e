"""The pictures of the lessons: sound XML with words, words in every language, nothing that runs off the sheet."""

import re
from functools import cache
from pathlib import Path
from xml.etree import ElementTree

import pytest
from fontTools.ttLib import TTFont

from training.drawings import DRAWINGS, LETTER, WIDTH, NoDrawing, draw, names, words_of
from training.drawings.sheet import drawing, english_words

NS = "{http://www.w3.org/2000/svg}"
LANGUAGES = ("en", "de")
FONT = Path(__file__).resolve().parents[2] / "plant/static/vendor/sofia-sans-semi-condensed"
SPARE = 1.03


@cache
def widths(weight):
    """Widths of letters as shares of their height, from the font that the pages ship."""
    font = TTFont(FONT / f"latin-{weight}.woff2")
    units, glyphs = font["head"].unitsPerEm, font.getBestCmap()
    return {chr(code): font["hmtx"][glyph][0] / units for code, glyph in glyphs.items()}


def wide_px(text, words, size):
    weight = {"d-loud": 800, "d-firm": 600}.get(text.get("class"), 400)
    return sum(widths(weight).get(letter, 0.6) for letter in words) * size * SPARE


def read(name, language):
    return ElementTree.fromstring(draw(name, language))


every = pytest.mark.parametrize("language", LANGUAGES)
picture = pytest.mark.parametrize("name", names())


def needs_words(english):
    """Clock times, ratios and speeds read the same in every language."""
    return bool(re.search(r"[A-Za-z]{2,}", english.replace("m/min", "")))


def test_there_are_at_least_eighteen_pictures():
    assert len(names()) >= 18


@every
@picture
def test_a_picture_is_sound_xml_with_its_title_and_description(name, language):
    root = read(name, language)
    title, desc = root.find(NS + "title"), root.find(NS + "desc")
    assert title is not None and len(title.text or "") >= 8
    assert desc is not None and len(desc.text or "") >= 40
    assert root.get("role") == "img"
    assert root.get("aria-labelledby") == title.get("id") and root.get("aria-describedby") == desc.get("id")


@every
@picture
def test_letters_are_large_enough_and_stay_on_the_sheet(name, language):
    root = read(name, language)
    assert float(root.get("width")) == WIDTH
    for text in root.iter(NS + "text"):
        size, x, y = (float(text.get(key)) for key in ("font-size", "x", "y"))
        assert size >= LETTER - 1
        wide = wide_px(text, "".join(text.itertext()), size)
        left = x - {"middle": wide / 2, "end": wide}.get(text.get("text-anchor"), 0)
        assert left >= 0 and left + wide <= WIDTH, (name, "".join(text.itertext()), left, left + wide)
        assert 0 < y <= float(root.get("height")) - 4, (name, "".join(text.itertext()))


@picture
def test_a_picture_needs_no_style_no_script_and_no_address(name):
    drawn = draw(name)
    assert "style=" not in drawn and "<script" not in drawn and "href" not in drawn
    assert "nan" not in re.sub(r"[a-z]*nan[a-z]+", "", drawn.lower())


@picture
def test_every_shape_has_a_grey_for_paper(name):
    for shape in read(name, "en").iter():
        if shape.tag.rsplit("}", 1)[-1] in ("rect", "circle", "path", "text") and shape.get("class"):
            assert shape.get("fill") or shape.get("stroke"), shape.attrib


@picture
def test_every_word_of_a_picture_is_there_in_german_with_as_many_lines(name):
    german = words_of("de")
    for english in english_words(name):
        if needs_words(english):
            assert english in german, english
            assert german[english].count("|") == english.count("|"), english


def test_no_german_word_is_left_over_from_a_picture_that_changed():
    said = {english for name in names() for english in english_words(name)}
    assert set(words_of("de")) <= said


def test_two_of_one_picture_on_a_page_can_have_ids_of_their_own():
    first, second = draw("grades"), draw("grades", key="second")
    ids = re.findall(r' id="([^"]+)"', first + second)
    assert len(ids) == len(set(ids)) == 4


def test_a_name_that_nobody_drew_is_refused_with_the_names_there_are():
    with pytest.raises(NoDrawing, match="tail-trailing"):
        draw("nothing-like-it")


def test_a_language_of_a_country_is_read_as_its_language():
    assert draw("grades", "en-gb") == draw("grades", "en")
    assert "Wellen" in draw("grades", "de-at") and "Wellen" not in draw("grades", "en-gb")


def test_a_language_without_words_falls_back_to_english():
    assert draw("grades", "fi") == draw("grades")


def test_no_two_pictures_share_a_name():
    with pytest.raises(ValueError, match="two drawings"):
        drawing("grades", "again", "again")(DRAWINGS["grades"].drawn_by)


def test_the_trailing_tail_points_against_the_travel_and_the_leading_tail_with_it():
    """The tail is the last straight strip; the roller turns clockwise on the sheet, so its surface moves by (-y, x)."""
    assert tail_along_travel("tail-trailing") < 0 < tail_along_travel("tail-leading")


def tail_along_travel(name):
    centre = next(c for c in read(name, "en").iter(NS + "circle") if c.get("class") == "d-metal")
    cx, cy = float(centre.get("cx")), float(centre.get("cy"))
    strips = [p.get("d") for p in read(name, "en").iter(NS + "path") if p.get("class") == "d-tail"]
    (x1, y1), (x2, y2) = [tuple(map(float, pair.split())) for pair in re.findall(r"[-\d.]+ [-\d.]+", strips[-1])]
    return (x2 - x1) * -(y1 - cy) + (y2 - y1) * (x1 - cx)


def test_lanes_and_bands_are_to_scale_along_the_axis():
    root = read("lanes-and-bands", "en")
    tape = [r for r in root.iter(NS + "rect") if r.get("class") == "d-tape"]
    face = max((r for r in root.iter(NS + "rect") if r.get("class") == "d-metal"), key=lambda r: float(r.get("width")))
    scale = float(face.get("width")) / 1800
    assert len(tape) == 2
    for band in tape:
        assert float(band.get("width")) == pytest.approx((792 - 600) * scale, abs=0.5)
    middle = float(face.get("x")) + float(face.get("width")) / 2
    inner = max(float(tape[0].get("x")) + float(tape[0].get("width")), 0)
    assert middle - inner == pytest.approx(600 * scale, abs=0.5)


def test_the_taped_edges_bend_outward_and_a_slipping_web_bends_inward():
    assert outermost_shift("ends-spread") > 0 > outermost_shift("gathers")


def outermost_shift(name):
    """How far the line nearest to the drive end moves to the drive end on its way up."""
    lines = [p.get("d") for p in read(name, "en").iter(NS + "path") if p.get("class") == "d-webline"]
    ends = []
    for d in lines:
        numbers = [float(n) for n in re.findall(r"-?[\d.]+", d)]
        ends.append((numbers[0], numbers[-2]))
    start, end = max(ends)
    return end - start
