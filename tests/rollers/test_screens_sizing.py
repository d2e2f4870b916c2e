"""The sizing page: suggestion, outcomes, what-if and the draft. The figures are those of the demo products."""

from typing import Any

import pytest
from django.urls import reverse

from plant.web import clock
from rollers.models import RecipeVersion
from tests import make
from tests.rollers.desk import Coating, coating

pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def wednesday(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(clock, "now", lambda: make.AT)


@pytest.fixture
def line_b(cast: Any) -> Coating:
    made = coating(cast)
    make.product("BO-20", made.path.line, width=1600, thickness=20, modulus=2000, tension=120, speed=250, friction=0.3)
    return made


@pytest.fixture
def stretch(cast: Any) -> None:
    make.plant()
    line = make.line("A")
    make.position("A05", path=make.web_path(line), room=make.room("G1"))
    make.product("SF-17", line, width=1500, thickness=17, modulus=120, tension=50, speed=280, friction=0.35)
    make.product("SF-23", line, width=1500, thickness=23, modulus=130, tension=65, speed=260, friction=0.35)
    make.stock("T1")


def asked(code: str, **query: Any) -> tuple[str, dict[str, Any]]:
    return reverse("rollers:sizing", args=[code]), query


def test_the_page_opens_with_the_usual_band_and_the_suggestion(stretch, cast, signed_in) -> None:
    page = signed_in(cast.dara).get(reverse("rollers:sizing", args=["A05"]))
    tried = page.context["tried"]
    assert [(band.inner_mm, band.outer_mm, band.wraps) for band in tried.bands] == [(600, 792, 4), (600, 792, 4)]
    row = tried.products[0]
    assert round(row.formula, 2) == 3.94
    assert round(row.result["edge_ratio"], 2) == 1.30
    assert round(100 * row.result["centre_loss"]) == 8
    assert "Start value. Not a safety or product-release decision." in page.content.decode()


def test_several_products_get_one_number_of_wraps_and_each_its_own(stretch, cast, signed_in) -> None:
    url, query = asked("A05", products=["SF-17", "SF-23"], stock="T1")
    page = signed_in(cast.dara).get(url, query)
    tried = page.context["tried"]
    assert tried.wraps == 4
    assert [row.suggested for row in tried.products] == [4, 3]
    assert [round(row.result["edge_ratio"], 2) for row in tried.products] == [1.30, 1.34]


def test_thirty_percent_less_tension_says_which_way_and_why(line_b, signed_in) -> None:
    url, query = asked("B09", products="BO-20", stock="T5", tension_change="-30")
    page = signed_in(line_b.cast.dara).get(url, query, headers={"HX-Request": "true"})
    row, text = page.context["tried"].products[0], page.content.decode()
    assert row.result["verdict"] == "fits" and row.shown["verdict"] == "caution"
    assert round(row.shown["edge_ratio"], 2) == 1.34
    assert round(row.shown["hold_used"], 2) == 0.83
    assert "goes from fits to <b>caution</b>" in text
    assert "Lower tension, more speed or less wrap use more" in text


def test_paper_is_bare_and_four_wraps_on_it_are_refused_with_the_reason(line_b, signed_in) -> None:
    client = signed_in(line_b.cast.dara)
    url, query = asked("B09", products="CP-70", stock="T5", inner="640", outer="840")
    assert client.get(url, query).context["tried"].wraps == 0
    page = client.get(url, query | {"wraps": "4"})
    assert page.context["tried"].verdict == "refused"
    assert "refused above 2.00" in page.content.decode()
    answer = client.post(
        reverse("rollers:draft-recipe", args=["B09"]), query | page_step(line_b) | {"wraps": "4", "title": "paper"}
    )
    assert answer.status_code == 302  # a draft may be refused; it can never be signed
    text = client.get(answer["Location"]).content.decode()
    assert "it cannot be signed" in text and "Sign as author</button>" not in text


def page_step(world: Coating) -> dict[str, Any]:
    return {"step": world.path.steps.get(position=world.b09).pk, "ends": "both"}


def test_one_end_tape_says_that_it_steers(line_b, signed_in) -> None:
    url, query = asked("B04", products="BO-35", stock="T5", ends="operator", inner="700", outer="850")
    text = signed_in(line_b.cast.dara).get(url, query).content.decode()
    assert "The web will steer toward the taped end" in text
    assert "operator end only" in text


@pytest.mark.parametrize(
    ("field", "value", "said"),
    [
        ("inner", "abc", "abc"),
        ("inner", "-5", "inner_mm"),
        ("inner", "nan", "nan"),
        ("outer", "10", "further from the roller centre"),
        ("outer", "", "type a figure"),
        ("wraps", "1.5", "whole number"),
        ("wraps", "-1", "less there is not"),
        ("tension_change", "-95", "from -60 to +60"),
        ("stock", "T99", "is no tape stock"),
        ("products", "XX-1", "not permitted on this line"),
    ],
)
def test_input_that_cannot_be_used_is_named_and_everything_typed_stays(line_b, signed_in, field, value, said) -> None:
    url, query = asked("B09", products="BO-35", stock="T5", inner="641", outer="839", wraps="2")
    page = signed_in(line_b.cast.dara).get(url, query | {field: value})
    text = page.content.decode()
    assert page.status_code == 200
    assert "tried" not in page.context
    assert said in text
    assert "Nothing you typed is lost." in text
    for name, kept in (("inner", "641"), ("outer", "839"), ("wraps", "2")):
        assert page.context["form"][name].value() == (value if name == field else kept)


def test_how_bad_the_wrinkle_is_changes_nothing(line_b, signed_in) -> None:
    client = signed_in(line_b.cast.dara)
    url, query = asked("B09", products="BO-20", stock="T5")
    plain, worse = client.get(url, query), client.get(url, query | {"severity": "4", "grade": "4"})
    assert plain.context["tried"].suggestion == worse.context["tried"].suggestion
    assert "is not asked" in plain.content.decode()


def test_a_draft_takes_what_the_page_showed_without_the_what_if(line_b, signed_in) -> None:
    client = signed_in(line_b.cast.dara)
    answer = client.post(
        reverse("rollers:draft-recipe", args=["B09"]),
        page_step(line_b)
        | {
            "products": "BO-20",
            "stock": "T5",
            "inner": "640",
            "outer": "840",
            "title": "BOPP",
            "tension_change": "-60",
        },
    )
    version = RecipeVersion.objects.get()
    assert answer["Location"] == reverse("rollers:recipe", args=[version.pk])
    assert {(band.end, band.wraps) for band in version.bands.all()} == {("operator", 1), ("drive", 1)}
    assert version.products.get().calculation.case["state"]["tension_n_per_m"] == 120


def test_an_inch_edge_is_shown_in_the_stored_unit_before_anything_is_drafted(line_b, signed_in) -> None:
    url, query = asked("B09", products="BO-20", stock="T5", inner="25.25", inner_unit="in", outer="33", outer_unit="in")
    page = signed_in(line_b.cast.dara).get(url, query)
    assert page.context["tried"].bands[0].inner_mm == pytest.approx(641.35)
    assert "641.4" in page.content.decode() or "641.35" in page.content.decode()


def test_a_draft_without_a_title_keeps_the_note_and_says_so(line_b, signed_in) -> None:
    answer = signed_in(line_b.cast.dara).post(
        reverse("rollers:draft-recipe", args=["B09"]),
        page_step(line_b)
        | {"products": "BO-20", "stock": "T5", "inner": "640", "outer": "840", "title": " ", "note": "after the trial"},
    )
    text = answer.content.decode()
    assert answer.status_code == 422
    assert "Give the recipe a title" in text and "after the trial" in text
    assert not RecipeVersion.objects.exists()


def test_who_may_not_size_may_try_but_is_told_why_not_to_draft(line_b, signed_in) -> None:
    client = signed_in(line_b.cast.tomas)
    url, query = asked("B09", products="BO-20", stock="T5")
    text = client.get(url, query).content.decode()
    assert "You may look and try, not draft." in text and "never been certified for Size" in text
    answer = client.post(
        reverse("rollers:draft-recipe", args=["B09"]),
        page_step(line_b) | {"products": "BO-20", "stock": "T5", "inner": "640", "outer": "840", "title": "BOPP"},
    )
    assert answer.status_code == 403
    assert "never been certified for Size" in answer.content.decode()
    assert not RecipeVersion.objects.exists()


def test_a_roller_that_is_bare_by_type_is_not_sized(line_b, signed_in) -> None:
    text = signed_in(line_b.cast.dara).get(reverse("rollers:sizing", args=["B11"])).content.decode()
    assert "Bare by its type: this roller is never taped." in text
