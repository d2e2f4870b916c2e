"""From an empty installation to a line that can be asked: by the guided pages alone."""

import re

import pytest
from playwright.sync_api import Page, expect

from tests.browser.seats import NUMBERS, sign_in

pytestmark = pytest.mark.browser
AT = ""
OWN = "tarn hollow is invented"
# Diameter mm, wrap degrees, span before it mm (typed in metres, as the page offers), kind.
ROLLERS = [
    (250, 180, 800, "chill"),
    (120, 60, 900, "idler"),
    (120, 90, 1100, "idler"),
    (150, 45, 700, "load-cell"),
    (120, 120, 1400, "idler"),
    (120, 35, 600, "idler"),
    (200, 180, 500, "nip"),
    (120, 80, 900, "idler"),
    (120, 75, 700, "idler"),
    (300, 160, 400, "winder-drum"),
]


def save(page: Page, button: str = "Save") -> None:
    page.locator("main").get_by_role("button", name=button, exact=True).click()
    page.wait_for_load_state()
    said = page.locator("main .wrong, main .field__error, main .wrong-cell, main .errorlist").all_inner_texts()
    assert said == [], "\n".join(said)


def next_step(page: Page, action: str) -> None:
    """The guided page names what comes next; follow it."""
    page.goto("/")
    page.locator("main").get_by_role("link", name=action, exact=True).first.click()


def type_in(page: Page, figures: dict[str, str]) -> None:
    for label, value in figures.items():
        page.get_by_label(label, exact=True).fill(value)


def test_the_first_keeper_signs_in_with_the_starter_code_and_chooses_a_password(works, desk_page):
    printed = works.manage("first_keeper", "Noor Adeyemi", NUMBERS["noor"])
    code = re.search(r"starter code\s+(\S+)", printed).group(1)
    desk_page.goto("/")
    type_in(desk_page, {"Staff number": NUMBERS["noor"]})
    desk_page.get_by_label("Password").fill(code)
    desk_page.get_by_role("button", name="Sign in").click()
    type_in(desk_page, {"New password": OWN, "New password again": OWN})
    desk_page.get_by_role("button", name="Set password").click()
    expect(desk_page.get_by_text("Your password is set.")).to_be_visible()
    desk_page.goto("/")
    expect(desk_page.get_by_text("0 of 9 steps done; next: the plant and its clock")).to_be_visible()


def test_the_guided_pages_lead_to_a_line_with_ten_rollers_a_stock_and_a_product(desk_page):
    page = desk_page
    sign_in(page, "noor")
    next_step(page, "Set up the plant")
    type_in(page, {"Short code": "TH", "Name of the plant": "Tarn Hollow Works"})
    page.get_by_label("Clock of the plant").select_option("Europe/Vienna")
    save(page, "Set up")
    next_step(page, "Enter a room")
    type_in(page, {"Room code": "G1", "Name of the room": "Winding hall", "Class holds since": "2026-01-05"})
    page.get_by_label("Class", exact=True).select_option("general")
    save(page)
    next_step(page, "Enter a line")
    type_in(page, {"Line code": "A", "Name of the line": "Stretch film winding"})
    page.get_by_label("Control of zone 1").select_option("tension")
    save(page)
    enter_rollers(page)
    next_step(page, "Enter a tape stock")
    type_in(page, {"Stock code": "T1", "What it is": "Crepe paper tape", "Thickness of one layer": "0.14"})
    type_in(page, {"Width": "48", "Roughness Rq of the backing": "25"})
    page.get_by_label("general", exact=True).check()
    save(page)
    enter_product(page)
    page.goto("/")
    expect(page.get_by_text(re.compile("6 of 9 steps done"))).to_be_visible()


def enter_rollers(page: Page) -> None:
    next_step(page, "Enter rollers")
    page.get_by_label("Room", exact=True).select_option("G1")
    type_in(page, {"Face length of all": "1800", "Roughness Rq of all": "40"})
    for number, (diameter, wrap, span, kind) in enumerate(ROLLERS, start=1):
        row = {
            "Position": f"A{number:02d}",
            "Serial number": f"TH-{300 + number}",
            "Diameter": str(diameter),
            "Wrap, degrees": str(wrap),
            "Span before it": str(span / 1000),
        }
        type_in(page, {f"{label} of row {number}": value for label, value in row.items()})
        page.get_by_label(f"Kind of row {number}", exact=True).select_option(kind)
        page.get_by_label(f"Rotation of row {number}", exact=True).select_option("cw" if number % 2 else "ccw")
        page.get_by_label(f"Web side of row {number}", exact=True).select_option("A" if number % 2 else "B")
    save(page, "Look at it")
    expect(page.get_by_text("Nothing is saved yet.")).to_be_visible()
    save(page, "Save these rollers")


def enter_product(page: Page) -> None:
    next_step(page, "Enter a product")
    type_in(page, {"Product code": "SF-17", "Name of the product": "Stretch film 17 µm"})
    page.get_by_label("A", exact=True).check()
    figures = {"Narrowest width": "1500", "Widest width": "1500", "Thickness": "17"}
    figures |= {"Modulus, machine direction": "120", "Friction on the roller": "0.35"}
    figures |= {f"{word} tension": "50" for word in ("Lowest", "Usual", "Highest")}
    figures |= {f"{word} speed": "280" for word in ("Lowest", "Usual", "Highest")}
    type_in(page, figures)
    save(page)


def test_the_line_can_be_asked_and_says_what_is_undecided_and_unknown(desk_page):
    sign_in(desk_page, "noor", "/board/A/")
    products = desk_page.get_by_label("Product", exact=True)
    products.select_option(value=products.locator("option", has_text="SF-17").get_attribute("value"))
    expect(desk_page.locator("#answer .answer")).to_contain_text("SF-17")
    expect(desk_page.get_by_role("table", name="Every roller on the path").get_by_role("row")).to_have_count(11)
    expect(desk_page.get_by_text(re.compile("A05.*not known|undecided for this product")).first).to_be_visible()
