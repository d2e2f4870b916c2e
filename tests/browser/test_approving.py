"""Who signs a recipe: the author once, others after; a second tab and a direct request change nothing."""

import re

import pytest
from playwright.sync_api import Page, expect

from rollers.demo.cast import DEMO_PASSWORD
from tests.browser.seats import sign_in

pytestmark = pytest.mark.browser
DRAFT = "/sizing/A08/?products=SF-17&stock=T1&ends=both&inner=600&outer=792"


@pytest.fixture(scope="module")
def drafted() -> dict[str, str]:
    """The address of the recipe, once it is drafted by the first test."""
    return {}


def sign(page: Page, button: str) -> None:
    form = page.locator("form.sign").filter(has=page.get_by_role("button", name=button))
    form.get_by_label("Your password, again").fill(DEMO_PASSWORD)
    form.get_by_role("button", name=button).click()


def test_the_author_drafts_and_signs_and_the_page_then_says_who_else_must(desk_page, drafted):
    sign_in(desk_page, "dara", DRAFT)
    desk_page.get_by_label("Title of the recipe").fill("Stretch, second roller")
    desk_page.get_by_role("button", name="Draft this recipe").click()
    expect(desk_page.get_by_text("Draft: holds nowhere until it is signed")).to_be_visible()
    drafted["url"] = desk_page.url
    sign(desk_page, "Sign as author")
    expect(desk_page.get_by_text("Signed by its author, waits for approval")).to_be_visible()
    expect(desk_page.get_by_text("a shift supervisor who is not the author")).to_be_visible()
    expect(desk_page.get_by_text("You are the author of this version, so others approve it.")).to_be_visible()


def test_the_author_finds_no_way_to_approve_in_a_second_tab_nor_by_a_direct_request(desk, drafted):
    first, second = desk.page(), desk.page()
    sign_in(first, "dara", drafted["url"])
    second.goto(drafted["url"])
    for page in (first, second):
        expect(page.get_by_role("button", name=re.compile("approve", re.IGNORECASE))).to_have_count(0)
    token = next(cookie["value"] for cookie in desk.context.cookies() if cookie["name"] == "csrftoken")
    for meaning in ("approved", "second size", "QA approved"):
        answer = second.request.post(
            drafted["url"] + "approve/",
            form={"csrfmiddlewaretoken": token, "meaning": meaning, "secret": DEMO_PASSWORD},
            headers={"Referer": drafted["url"]},
        )
        assert answer.status in (403, 409, 422)
        assert "Dara Whitlow is the author of this version and cannot approve it" in answer.text()
    first.reload()
    expect(first.get_by_text("Signed by its author, waits for approval")).to_be_visible()


def test_a_wrong_password_signs_nothing(desk_page, drafted):
    sign_in(desk_page, "hanna", drafted["url"])
    form = desk_page.locator("form.sign").first
    form.get_by_label("Your password, again").fill("not my password at all")
    form.get_by_role("button").click()
    expect(desk_page.get_by_text(re.compile("This is not your password. 4 tries left")).first).to_be_visible()
    expect(desk_page.get_by_text("Signed by its author, waits for approval")).to_be_visible()


def test_a_supervisor_approves_and_the_recipe_is_in_force(desk_page, another_desk, drafted):
    """The other supervisor looked at the same page before; the second signature reads that it is done."""
    sign_in(another_desk, "babak", drafted["url"])
    sign_in(desk_page, "hanna", drafted["url"])
    button = desk_page.locator("form.sign").get_by_role("button").inner_text()
    sign(desk_page, button)
    expect(desk_page.get_by_text("In force", exact=True).first).to_be_visible()
    expect(desk_page.get_by_text("Hanna Lindqvist").nth(1)).to_be_visible()
    sign(another_desk, button)
    expect(another_desk.get_by_text(re.compile("This version is in force")).first).to_be_visible()


def test_the_lid_of_the_medical_room_waits_for_a_second_person_with_size(desk_page):
    sign_in(desk_page, "hanna", "/recipes/")
    desk_page.get_by_role("link", name=re.compile("T5 × 1, both ends, v2 .Pouch webs")).first.click()
    expect(desk_page.get_by_text("another person with Size")).to_be_visible()
    expect(desk_page.get_by_text("Kept at one wrap so that pouch webs and lids run on the same tape")).to_be_visible()
