"""From film to paper: two rollers stand against it by name, come off one by one, and a supervisor releases."""

import re

import pytest
from playwright.sync_api import Page, expect

from rollers.demo.cast import DEMO_PASSWORD
from tests.browser.seats import sign_in

pytestmark = pytest.mark.browser
AT = "2026-03-24T10:05+01:00"
NO = re.compile(r"NO. Line B may not run CP-70 now: (\d) things? stops? it")


def planned_run(page: Page) -> None:
    page.goto("/board/B/")
    page.get_by_role("link", name=re.compile("CP-70 planned")).click()


def blocks(page: Page) -> list[str]:
    """The positions that stand against the run."""
    planned_run(page)
    return page.get_by_role("link", name=re.compile(r"^Open B\d\d$")).all_inner_texts()


def lock_out(page: Page, number: str) -> None:
    for box in page.get_by_role("checkbox").all():
        box.check()
    page.get_by_label("Number of my own lock").fill(number)
    page.get_by_role("button", name="The lockout is on, go on").click()


def record(page: Page) -> None:
    """Send it and wait for the answer, so that another desk sees it."""
    with page.expect_navigation():
        page.get_by_role("button", name="Record it").click()


def take_off(page: Page, position: str, pieces: int, residue: str) -> None:
    page.goto(f"/tablet/roller/{position}/?product=CP-70")
    page.get_by_role("link", name="Take the tape off").click()
    lock_out(page, "L-102")
    page.get_by_label("Pieces counted").fill(str(pieces))
    page.get_by_role("radio", name=residue).check()
    record(page)


def test_the_planned_paper_is_blocked_by_both_rollers_by_name(desk_page):
    sign_in(desk_page, "hanna")
    assert blocks(desk_page) == ["Open B04", "Open B09"]
    expect(desk_page.get_by_text(NO)).to_be_visible()
    expect(desk_page.get_by_text("The taped lanes carry 2.40 times the mean strain")).to_be_visible()
    expect(desk_page.get_by_text("The taped lanes carry 2.99 times the mean strain")).to_be_visible()
    expect(desk_page.get_by_text("Not while a block stands.")).to_be_visible()
    expect(desk_page.get_by_role("button", name="Sign and release")).to_have_count(0)


def test_no_piece_can_be_typed_before_the_lockout_is_confirmed_step_by_step(tablet_page):
    sign_in(tablet_page, "tomas", "/tablet/roller/B09/?product=CP-70")
    tablet_page.get_by_role("link", name="Take the tape off").click()
    expect(tablet_page.get_by_label("Pieces counted")).to_have_count(0)
    steps = tablet_page.get_by_role("checkbox").all()
    assert len(steps) == 6
    for box in steps[:5]:
        box.check()
    tablet_page.get_by_label("Number of my own lock").fill("L-102")
    tablet_page.get_by_role("button", name="The lockout is on, go on").click()
    expect(tablet_page.get_by_text("I tried to start it and nothing moved").first).to_be_visible()
    expect(tablet_page.get_by_label("Pieces counted")).to_have_count(0)


def test_a_wrong_count_is_refused_and_one_of_two_bands_off_blocks_as_partial(tablet_page, another_desk):
    sign_in(tablet_page, "tomas")
    take_off(tablet_page, "B09", 9, "No, clean and dry")
    expect(tablet_page.get_by_text("8 pieces were on, you count 9").first).to_be_visible()
    take_off(tablet_page, "B09", 4, "No, clean and dry")
    sign_in(another_desk, "hanna")
    assert blocks(another_desk) == ["Open B04", "Open B09"]
    expect(another_desk.get_by_text("only part of the tape is on (4 pieces left)").first).to_be_visible()


def test_the_blocks_clear_one_by_one(tablet_page, another_desk):
    sign_in(another_desk, "hanna")
    sign_in(tablet_page, "tomas")
    take_off(tablet_page, "B09", 4, "No, clean and dry")
    assert blocks(another_desk) == ["Open B04"]
    take_off(tablet_page, "B04", 3, "Yes, residue is left")
    assert blocks(another_desk) == ["Open B04"]
    expect(another_desk.get_by_text("residue is on the face", exact=False).first).to_be_visible()
    tablet_page.goto("/tablet/roller/B04/?product=CP-70")
    tablet_page.get_by_role("link", name=re.compile("[Cc]lean")).click()
    tablet_page.get_by_label("Approved cleaning agent").fill("isopropanol wipe")
    record(tablet_page)
    assert blocks(another_desk) == []
    expect(another_desk.get_by_text("What stops it, one by one")).to_have_count(0)


@pytest.mark.parametrize("person", ["tomas", "dara", "yuki", "sol"])
def test_nobody_but_a_supervisor_finds_the_release(desk_page, person):
    sign_in(desk_page, person)
    planned_run(desk_page)
    expect(desk_page.get_by_text("Releasing a line takes the role shift supervisor.")).to_be_visible()
    expect(desk_page.get_by_role("button", name="Sign and release")).to_have_count(0)


def test_the_supervisor_releases_and_what_was_seen_is_kept(desk_page):
    sign_in(desk_page, "hanna")
    planned_run(desk_page)
    desk_page.get_by_label("Your password, again").fill(DEMO_PASSWORD)
    desk_page.get_by_role("button", name="Sign and release").click()
    expect(desk_page.get_by_text("Released and running")).to_be_visible()
    kept = desk_page.get_by_role("table", name="What was released, position by position")
    assert kept.get_by_role("row").count() == 15
    expect(kept.get_by_role("row", name=re.compile("^B09"))).to_contain_text("bare")
    expect(desk_page.get_by_text("Hanna Lindqvist").nth(1)).to_be_visible()
    desk_page.goto("/board/B/")
    expect(desk_page.get_by_text("CP-70 runs")).to_be_visible()
