"""May I touch this roller? Each no has its own reason, and says who can."""

import re

import pytest
from playwright.sync_api import Page, expect

from tests.browser.seats import sign_in

pytestmark = pytest.mark.browser
THURSDAY = "2026-03-26T09:00+01:00"


def told(page: Page, person: str, roller: str) -> str:
    """What the roller's page tells this person under May I?"""
    sign_in(page, person, f"/tablet/roller/{roller}/")
    panel = page.locator("section").filter(has=page.get_by_role("heading", name="May I?"))
    return panel.inner_text()


def test_a_certified_person_may(tablet_page):
    assert "You may tape this roller" in told(tablet_page, "ines", "A05")


def test_each_no_reads_differently_and_names_who_can_help(works, tablet_page, another_desk):
    never = told(tablet_page, "hanna", "A05")
    wrong_room = told(tablet_page, "ines", "B09")
    outside = told(tablet_page, "pia", "A05")
    suspend(another_desk, "Kwame Torres", "Apply")
    suspended = told(tablet_page, "kwame", "A05")
    works.set_clock(THURSDAY)
    lapsed = told(tablet_page, "rui", "A05")
    sayings = {
        "never": (never, "Hanna Lindqvist"),
        "lapsed": (lapsed, "25 Mar"),
        "suspended": (suspended, "suspended"),
        "wrong room": (wrong_room, "food room"),
        "outside": (outside, "outside firm|propose and comment"),
    }
    for reason, (text, words) in sayings.items():
        assert "You may not tape this roller" in text, (reason, text)
        assert re.search(words, text), (reason, text)
        assert re.search("can|[Aa]sk|may do it", text), (reason, text)
    assert len({text for text, _ in sayings.values()}) == len(sayings)
    for text in (never, suspended, lapsed, outside):
        assert "Ines Varga" in text
    assert "Tomas Brandl" in wrong_room


def suspend(page: Page, name: str, skill: str) -> None:
    """The trainer suspends a certificate."""
    sign_in(page, "greta", "/training/?everybody=1")
    page.get_by_role("link", name=name).first.click()
    row = page.get_by_role("row").filter(has=page.get_by_role("rowheader", name=skill, exact=True))
    row.get_by_role("link", name=re.compile("[Ss]uspend")).click()
    page.get_by_label("Reason").fill("Two wrong counts this week")
    page.get_by_role("button", name=re.compile("[Ss]uspend")).click()
    expect(page.get_by_text("suspended").first).to_be_visible()


def test_who_may_not_is_refused_at_the_act_itself_too(tablet_page):
    sign_in(tablet_page, "hanna", "/tablet/roller/A05/remove/")
    expect(tablet_page.get_by_text("You may not do this here.")).to_be_visible()
    expect(tablet_page.get_by_role("button", name="Record it")).to_have_count(0)
