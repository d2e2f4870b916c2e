"""Sizing in a browser: the suggested wraps, what is refused and why, what changes when the line runs otherwise."""

import re

import pytest
from playwright.sync_api import Page, expect

from tests.browser.seats import sign_in

pytestmark = pytest.mark.browser


@pytest.fixture
def page(desk_page: Page) -> Page:
    sign_in(desk_page, "dara")
    return desk_page


def size(page: Page, position: str, product: str, tape: str, inner: int, outer: int, wraps: str = "") -> None:
    """Fill in the sizing page the way a person does, and wait for the answer."""
    page.goto(f"/sizing/{position}/")
    trial = page.locator("#trial")
    for box in trial.get_by_role("checkbox").all():
        box.uncheck()
    trial.get_by_role("checkbox", name=re.compile(rf"^{product} ")).check()
    tapes = trial.get_by_label("Tape", exact=True)
    tapes.select_option(value=tapes.locator("option", has_text=re.compile(rf"^{tape} ")).get_attribute("value"))
    trial.get_by_label("Taped").select_option("both")
    trial.get_by_label("Inner edge from centre", exact=True).fill(str(inner))
    trial.get_by_label("Outer edge from centre", exact=True).fill(str(outer))
    trial.get_by_role("spinbutton", name=re.compile("^Wraps")).fill(wraps)
    # Every change asks at once; only the answer to the last question, with everything filled in, counts.
    with page.expect_response(lambda answer: f"outer={outer}&" in answer.url and f"wraps={wraps}&" in answer.url):
        trial.get_by_role("button", name="Compute").click()
    expect(page.locator(".htmx-request")).to_have_count(0)
    expect(row_of(page, product)).to_be_visible()


def row_of(page: Page, product: str):
    table = page.get_by_role("table", name=re.compile("product by product"))
    return table.get_by_role("row").filter(has=page.get_by_role("rowheader", name=product, exact=True))


def cells(page: Page, product: str) -> dict[str, str]:
    """Column by column, what the answer says of a product."""
    table = page.get_by_role("table", name=re.compile("product by product"))
    heads = table.get_by_role("columnheader").all_inner_texts()[1:]
    values = row_of(page, product).get_by_role("cell").all_inner_texts()
    return dict(zip(heads, [value.strip() for value in values], strict=True))


@pytest.mark.parametrize(
    ("position", "product", "tape", "edges", "suggested", "ratio", "loss"),
    [
        ("A05", "SF-17", "T1", (600, 792), "T1 × 4", "1.30", "8"),
        ("B09", "BO-20", "T5", (640, 840), "T5 × 1", "1.24", "6"),
        ("B09", "CP-70", "T5", (640, 840), "Bare", "1.00", "0"),
    ],
)
def test_the_suggested_wraps_and_figures_are_those_worked_out_by_hand(
    page, position, product, tape, edges, suggested, ratio, loss
):
    """Closed form n = 0.3 e0 r / ((1 - f) t), worked out by hand from elementary mechanics."""
    size(page, position, product, tape, *edges)
    expect(page.locator("#answer .answer")).to_contain_text(re.compile(suggested, re.IGNORECASE))
    found = cells(page, product)
    assert (found["Edge ratio"], found["Centre loss, %"], found["Verdict"]) == (ratio, loss, "fits")


def test_how_bad_the_wrinkle_is_is_not_asked_and_the_page_says_why(page):
    size(page, "A05", "SF-17", "T1", 600, 792)
    labels = " ".join(page.locator("#trial label, #trial legend").all_inner_texts()).lower()
    assert not re.search("grade|severity|how bad|wrinkle", labels)
    expect(page.get_by_text("Why how bad the wrinkle is, is not asked")).to_be_visible()
    expect(page.get_by_text("Start value. Not a safety or product-release decision.").first).to_be_visible()


def test_four_wraps_on_coated_paper_are_refused_with_the_reason_in_plain_words(page):
    size(page, "B09", "CP-70", "T5", 640, 840, wraps="4")
    assert cells(page, "CP-70")["Verdict"] == "refused"
    expect(page.get_by_text(re.compile("Edge ratio. The taped lanes carry 6.61 times the mean strain"))).to_be_visible()
    page.get_by_label("Title of the recipe").fill("Four wraps on paper")
    page.get_by_role("button", name="Draft this recipe").click()
    expect(page.get_by_text("Draft that breaks a hard limit: it cannot be signed")).to_be_visible()
    expect(page.get_by_role("button", name="Sign as author")).to_have_count(0)


def test_less_tension_makes_the_same_tape_relatively_more_and_the_screen_says_so(page):
    """At 70 % of the tension: line strain 0.21 %, edge ratio 1 + 0.8 * 0.09 % / 0.21 % = 1.34."""
    size(page, "B09", "BO-20", "T5", 640, 840)
    before = float(cells(page, "BO-20")["used"])
    page.locator("#trial").get_by_label("Tension", exact=True).fill("-30")
    moved = page.locator(".moved")
    expect(moved).to_contain_text("tension -30 %")
    found = cells(page, "BO-20")
    assert found["Edge ratio"].splitlines() == ["1.34", "was 1.24"]
    assert float(found["used"].splitlines()[0]) > before
    page.get_by_text("Every check of BO-20 in figures and words").click()
    expect(page.get_by_text("Lower tension makes this tape relatively more").first).to_be_visible()


def test_a_recipe_copied_to_another_roller_is_sized_for_that_roller(page):
    page.goto("/recipes/")
    page.get_by_role("link", name=re.compile("T5 × 1, both ends, v1 .BOPP films")).first.click()
    page.get_by_role("link", name="Size it for another roller").click()
    rollers = page.get_by_label("Other roller")
    value = rollers.locator("option", has_text=re.compile("B12")).first.get_attribute("value")
    rollers.select_option(value=value)
    page.get_by_role("button", name="Size it there").click()
    diameters = page.get_by_role("row", name=re.compile("^Diameter")).get_by_role("cell").all_inner_texts()
    assert [text.split()[0] for text in diameters] == ["200", "160"]
    expect(page.get_by_text(re.compile("the formula asks for 1.00 and"))).to_be_visible()


def test_a_figure_that_is_none_is_named_and_nothing_typed_is_lost(page):
    page.goto("/sizing/A05/?products=SF-17&stock=T1&ends=both&inner=600&outer=792")
    page.get_by_label("Inner edge from centre", exact=True).fill("six hundred")
    page.get_by_role("button", name="Compute").click()
    expect(page.locator("#answer")).to_contain_text(re.compile("six hundred"))
    expect(page.get_by_label("Inner edge from centre", exact=True)).to_have_value("six hundred")
    expect(page.get_by_label("Outer edge from centre", exact=True)).to_have_value("792")
