"""From film to paper: two rollers stand against it by name, come off one by one, and a supervisor releases."""

import re

import pytest
from playwright.sync_api import Page, expect

from rollers.demo.cast import DEMO_PASSWORD
from tests.browser.seats import sign_in
from tests.browser.tablet_hands import all_into_the_bag, finish, job, lock_off, lock_out, press, take_off

pytestmark = pytest.mark.browser
AT = "2026-03-24T10:05+01:00"
NO = re.compile(r"NO. Line B may not run CP-70 now: (\d) things? stops? it")


def planned_run(page: Page) -> None:
    page.goto("/board/B/")
    page.get_by_role("link", name=re.compile("CP-70 planned")).first.click()


def blocks(page: Page) -> list[str]:
    """The positions that stand against the run."""
    planned_run(page)
    return page.get_by_role("link", name=re.compile(r"^Open B\d\d$")).all_inner_texts()


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
    press(tablet_page, "Begin, lock out")
    for _ in range(6):
        expect(tablet_page.get_by_role("radio")).to_have_count(0)
        expect(tablet_page.get_by_role("button", name="Begin to take off")).to_have_count(0)
        if tablet_page.get_by_label("Number of my own lock").count():
            tablet_page.get_by_label("Number of my own lock").fill("L-102")
        press(tablet_page, "Confirmed")
    expect(tablet_page.get_by_role("button", name="Begin to take off")).to_be_visible()


def test_one_of_two_bands_off_blocks_as_partial(tablet_page, another_desk):
    sign_in(tablet_page, "tomas")
    take_off(tablet_page, "B09", "CP-70", end="operator")
    sign_in(another_desk, "hanna")
    assert set(blocks(another_desk)) == {"Open B04", "Open B09"}  # also: the lock is on, the job is open
    expect(another_desk.get_by_text("only part of the tape is on (4 pieces left)").first).to_be_visible()


def test_the_blocks_clear_one_by_one(tablet_page, another_desk):
    sign_in(another_desk, "hanna")
    sign_in(tablet_page, "tomas")
    job(tablet_page, "B09", "remove", "CP-70")
    all_into_the_bag(tablet_page)
    finish(tablet_page)
    assert blocks(another_desk) == ["Open B04"]
    take_off(tablet_page, "B04", "CP-70")
    finish(tablet_page, residue="stays")
    assert blocks(another_desk) == ["Open B04"]
    expect(another_desk.get_by_text("residue is on the face", exact=False).first).to_be_visible()
    job(tablet_page, "B04", "clean", "CP-70")
    lock_out(tablet_page, "L-102")
    tablet_page.get_by_label("Approved cleaning agent").fill("isopropanol wipe")
    tablet_page.get_by_label("I looked at the face: clean, dry, no damage").check()
    press(tablet_page, "Record it")
    lock_off(tablet_page)
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
