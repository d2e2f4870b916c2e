"""The hunt for a cause on the shop floor and at the desk, counted in taps."""

import csv
import io
import re
import time

import pytest
from playwright.sync_api import Page, expect

from calcs.evidence import Minimum, Window, study
from tests.browser.seats import sign_in

pytestmark = pytest.mark.browser
ROLLERS_B = 14


class Taps:
    """A hand that counts."""

    def __init__(self, page: Page) -> None:
        self.page, self.count, self.began = page, 0, time.monotonic()

    def tap(self, locator) -> None:
        locator.tap()
        self.count += 1

    @property
    def seconds(self) -> float:
        return time.monotonic() - self.began


def pick(page: Page, legend: str, words: str):
    return page.get_by_role("group", name=legend).locator("label").filter(has_text=re.compile(f"{words}"))


def test_a_look_takes_a_minute_and_five_taps_and_looked_none_takes_one(tablet_page):
    sign_in(tablet_page, "ines", "/tablet/seen/A/")
    hand = Taps(tablet_page)
    hand.tap(pick(tablet_page, "Or tap what you see", "a crease that comes and goes"))
    hand.tap(pick(tablet_page, "Between which rollers?", "A04 to A05"))
    hand.tap(pick(tablet_page, "Where across the web?", "operator end"))
    hand.tap(pick(tablet_page, "How does it lie", "toward the drive end"))
    hand.tap(tablet_page.get_by_role("button", name="Record it"))
    expect(tablet_page.get_by_text("Recorded: grade 3")).to_be_visible()
    assert hand.count == 5
    assert hand.seconds < 60
    expect(tablet_page.get_by_role("heading", name="Walk the line")).to_be_visible()
    tablet_page.goto("/tablet/seen/A/")
    hand = Taps(tablet_page)
    hand.tap(tablet_page.get_by_role("button", name="Looked, none"))
    expect(tablet_page.get_by_text(re.compile("Recorded: looked.*none"))).to_be_visible()
    assert hand.count == 1


def test_fourteen_rollers_are_walked_with_a_tap_each_and_the_first_one_is_named(tablet_page, accessible):
    sign_in(tablet_page, "tomas", "/tablet/walk/B/")
    hand = Taps(tablet_page)
    hand.tap(pick(tablet_page, "At which roller do you see it?", "B14"))
    hand.tap(tablet_page.get_by_role("button", name="Start walking"))
    expect(tablet_page.get_by_role("heading", name="What does B14 show?")).to_be_visible()
    accessible(tablet_page)
    for number in range(ROLLERS_B, 0, -1):
        expect(tablet_page.get_by_role("heading", name=f"What does B{number:02d} show?")).to_be_visible()
        hand.tap(tablet_page.get_by_role("button", name="Crease" if number >= 9 else "Clean"))
    hand.tap(pick(tablet_page, "Does it change with speed?", "^\\s*yes"))
    hand.tap(tablet_page.get_by_role("button", name="Name the roller"))
    expect(tablet_page.get_by_text(re.compile("B09 starts it, with the span from B08 to B09"))).to_be_visible()
    expect(tablet_page.get_by_text(re.compile("air film and traction"))).to_be_visible()
    assert hand.count == ROLLERS_B + 4
    accessible(tablet_page)
    tablet_page.get_by_role("link", name="Open the walk and its cause checks").tap()
    expect(tablet_page.get_by_role("button", name="Check the causes at B09")).to_be_visible()


def test_clean_after_crease_is_said_and_offered_to_be_walked_again(tablet_page):
    sign_in(tablet_page, "ines", "/tablet/walk/A/")
    pick(tablet_page, "At which roller do you see it?", "A06").tap()
    tablet_page.get_by_role("button", name="Start walking").tap()
    for seen in ("Clean", "Crease", "Clean", "Clean", "Clean", "Clean"):
        tablet_page.get_by_role("button", name=seen).tap()
    tablet_page.get_by_role("button", name="Name the roller").tap()
    expect(tablet_page.get_by_text(re.compile("Clean at A06 after crease at A05"))).to_be_visible()
    expect(tablet_page.get_by_role("link", name=re.compile("again")).first).to_be_visible()


def test_what_was_not_checked_stays_visible_where_the_recipe_is_signed(desk_page):
    sign_in(desk_page, "hanna", "/positions/A05/")
    desk_page.get_by_role("link", name=re.compile("T1 × 4")).first.click()
    causes = desk_page.get_by_role("region", name="Causes")
    expect(causes).to_contain_text("Causes not checked at A05: Temperature across the face")
    expect(causes).to_contain_text("The surface pyrometer is at calibration")


def rows_of(text: str, measure: str, window: str) -> list[dict[str, str]]:
    lines = [line for line in text.lstrip("\ufeff").splitlines() if not line.lstrip('"').startswith("#")]
    found = csv.DictReader(io.StringIO("\n".join(lines)))
    return [row for row in found if row["measure"] == measure and row["window"] == window]


def test_the_manager_reads_whether_it_pays_and_works_the_figures_out_again_from_the_file(desk_page, accessible):
    sign_in(desk_page, "sol", "/")
    desk_page.get_by_role("link", name="Does it pay").click()
    expect(desk_page.get_by_role("row", name=re.compile("B09"))).to_contain_text("not enough evidence")
    desk_page.get_by_role("link", name="A05", exact=True).click()
    expect(desk_page.get_by_text(re.compile("46 events in 120,000 m before, 9 in 130,000 after"))).to_be_visible()
    expect(desk_page.get_by_text(re.compile("shorter than four weeks"))).to_be_visible()
    accessible(desk_page)
    with desk_page.expect_download() as asked:
        desk_page.get_by_role("link", name="Rows as CSV").click()
    text = asked.value.path().read_text(encoding="utf-8")
    windows = []
    for side in ("before", "after"):
        rolls = tuple((int(r["wrinkles"]), float(r["length_m"])) for r in rows_of(text, "wrinkles", side))
        windows.append(Window(sum(n for n, _ in rolls), sum(m for _, m in rolls), rolls))
    again = study(*windows, Minimum(20_000, 3), "m")
    shown = desk_page.locator(".stat", has_text="wrinkles per 10 000 m")
    expect(shown).to_contain_text(again.verdict)
    for figure in (again.ratio, again.low, again.high):
        expect(shown).to_contain_text(f"{figure:.2f}")


def test_a_guest_walks_and_proposes_but_decides_and_approves_nothing(desk_page):
    sign_in(desk_page, "pia", "/causes/roller/A05/")
    expect(desk_page.get_by_role("link", name="Decide", exact=True)).to_have_count(0)
    desk_page.get_by_label("What you propose or want to say").fill("One wrap less would do; look at A04 first.")
    desk_page.get_by_role("button", name="Keep it").click()
    expect(desk_page.get_by_text("One wrap less would do")).to_be_visible()
    answer = desk_page.goto("/causes/roller/A05/decide/")
    assert answer.status == 403
    answer = desk_page.goto("/causes/roller/A05/study/")
    assert answer.status == 403
    desk_page.goto("/tablet/walk/A/")
    desk_page.get_by_role("button", name="Start walking").click()
    expect(desk_page.get_by_role("button", name="Crease")).to_be_visible()


def test_the_map_the_sheet_and_the_history_pass_axe(desk_page, accessible):
    sign_in(desk_page, "dara", "/causes/line/A/")
    for path in ("/causes/line/A/", "/causes/line/A/what-if/", "/causes/roller/A05/", "/causes/roller/A05/decide/"):
        desk_page.goto(path)
        accessible(desk_page)
    desk_page.goto("/causes/roller/A05/")
    desk_page.get_by_role("link", name="Cause sheet", exact=True).click()
    accessible(desk_page)
