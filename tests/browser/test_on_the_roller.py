"""What a narrow web, a tape at one end and a turned roller do to the answer."""

import re

import pytest
from playwright.sync_api import Page, expect

from tests.browser.seats import sign_in

pytestmark = pytest.mark.browser
AT = "2026-03-24T10:05+01:00"


def ask(page: Page, line: str, product: str) -> None:
    """Choose a product on the ready board and wait for the answer."""
    page.goto(f"/board/{line}/")
    products = page.get_by_label("Product", exact=True)
    products.select_option(value=products.locator("option", has_text=f"{product} ").get_attribute("value"))
    expect(page.locator("#answer .answer")).to_contain_text(product)


def test_a_narrow_web_that_would_ride_the_step_is_blocked_under_that_name(desk_page):
    sign_in(desk_page, "hanna")
    ask(desk_page, "B", "CP-110")
    expect(desk_page.get_by_text(re.compile("may not run CP-110 now"))).to_be_visible()
    expect(desk_page.get_by_text(re.compile("web edge close to that step rides it and creases")).first).to_be_visible()


def test_a_narrow_web_inside_the_bands_is_told_not_blocked(desk_page):
    sign_in(desk_page, "hanna")
    ask(desk_page, "A", "SF-30")
    expect(desk_page.locator("#answer .answer")).to_contain_text("YES")
    desk_page.get_by_text(re.compile(r"\d+ notice")).click()
    expect(desk_page.get_by_text(re.compile("not touched|no effect")).first).to_be_visible()


def test_tape_at_one_end_is_drawn_at_that_end_and_says_where_the_web_steers(tablet_page):
    sign_in(tablet_page, "tomas", "/tablet/roller/B04/?product=BO-35")
    words = tablet_page.locator("svg text")
    place = {
        text: words.filter(has_text=re.compile(f"^{text}")).first.bounding_box()
        for text in ("operator end", "drive end")
    }
    wraps = words.filter(has_text=re.compile("1 wrap"))
    assert wraps.count() == 1
    tape = wraps.first.bounding_box()
    assert place["operator end"]["x"] < place["drive end"]["x"]
    assert abs(tape["x"] - place["operator end"]["x"]) < abs(tape["x"] - place["drive end"]["x"])
    expect(tablet_page.get_by_text(re.compile("steer.*operator end")).first).to_be_visible()
    expect(words.filter(has_text="operator end at your left").first).to_be_visible()


def test_the_roller_turned_end_for_end_blocks_until_it_is_turned_back(desk_page, another_desk):
    sign_in(another_desk, "hanna")
    ask(another_desk, "B", "BO-35")
    expect(another_desk.locator("#answer .answer")).to_contain_text("YES")
    sign_in(desk_page, "kwame", "/mounting/B04/")
    turn = desk_page.get_by_role("button", name=re.compile("[Tt]urn"))
    with desk_page.expect_navigation():
        turn.click()
    ask(another_desk, "B", "BO-35")
    expect(another_desk.locator("#answer .answer")).to_contain_text("NO")
    expect(another_desk.get_by_text(re.compile("turned end for end since")).first).to_be_visible()
    desk_page.goto("/mounting/B04/")
    with desk_page.expect_navigation():
        turn.click()
    ask(another_desk, "B", "BO-35")
    expect(another_desk.locator("#answer .answer")).to_contain_text("YES")
