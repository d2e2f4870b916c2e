"""Tape on and off at a tablet: step by step under lockout, counted, checked, restarted; and what goes wrong."""

import re

import pytest
from playwright.sync_api import Page, expect

from rollers.demo.cast import DEMO_PASSWORD
from tests.browser.seats import NUMBERS, sign_in
from tests.browser.tablet_hands import finish, job, lock_off, lock_out, measure, prepare_and_wind, press, take_off

pytestmark = pytest.mark.browser
AT = "2026-03-24T10:05+01:00"
SOON, LATER = "2026-03-24T10:20+01:00", "2026-03-24T10:25+01:00"


def blocks(page: Page, line: str, product: str) -> str:
    page.goto(f"/board/{line}/?product={product}")
    return page.locator("#answer").inner_text()


def test_a_full_taping_is_measured_only_under_lockout_and_verified_only_after_three_restart_steps(
    tablet_page, another_desk, works
):
    page = tablet_page
    sign_in(page, "ines")
    take_off(page, "A05", "SF-17")
    finish(page)
    job(page, "A05", "apply", "SF-17")
    expect(page.get_by_label(re.compile("Build at the"))).to_have_count(0)
    press(page, "Begin, lock out")
    expect(page.get_by_text("I know which energies this roller has").first).to_be_visible()
    expect(page.get_by_role("spinbutton")).to_have_count(0)
    for _ in range(6):
        expect(page.get_by_label(re.compile("Build|Temperature|Pieces"))).to_have_count(0)
        if page.get_by_label("Number of my own lock").count():
            page.get_by_label("Number of my own lock").fill("L-101")
        press(page, "Confirmed")
    prepare_and_wind(page, 8)
    expect(page.locator("svg [data-rotation='ccw']").first).to_be_visible()
    measure(page, build_operator="0.56", build_drive="0.56", edge_operator="600", edge_drive="600")
    expect(page.get_by_text(re.compile("let it rest 10 min more|let it rest 11 min more")).first).to_be_visible()
    works.set_clock(SOON)
    job(page, "A05", "apply", "SF-17")
    measure(page, build_operator="0.56", build_drive="0.46", edge_operator="600", edge_drive="600")
    expect(page.get_by_text("drive end 0.460 mm against 0.560 mm nominal").first).to_be_visible()
    page.get_by_label(re.compile("Build at the drive end")).fill("0.56")
    press(page, "Record it")
    page.get_by_label("Pieces on the roller").fill("7")
    page.get_by_label("Offcuts in the bag").fill("1")
    page.get_by_role("button", name="Record it").click()
    expect(page.get_by_text("8 pieces are recorded, you count 7").first).to_be_visible()
    page.get_by_label("Pieces on the roller").fill("8")
    press(page, "Record it")
    expect(page.get_by_text("Done. Take lock L-101 off.")).to_be_visible()
    lock_off(page)
    sign_in(page, "dara", "/tablet/roller/A05/check/?product=SF-17")
    page.get_by_label("Pieces counted").fill("8")
    page.get_by_role("radio", name=re.compile("^trails")).check()
    press(page, "Record it")
    sign_in(page, "ines")
    for step, speed, minutes in (("crawl", "30", "2"), ("half", "140", "5"), ("full", "280", "30")):
        page.goto("/tablet/roller/A05/?product=SF-17")
        expect(page.get_by_text(f"next step: {step}")).to_be_visible()
        page.get_by_role("link", name="Record the restart").click()
        page.get_by_label("Line speed now, m/min").fill(speed)
        page.get_by_label("Watched for, min").fill(minutes)
        page.get_by_role("group", name="Grade of the wrinkle now").get_by_role("radio", name=re.compile("^0")).check()
        page.get_by_label("I looked at the two rollers after it").check()
        press(page, "Record it")
    expect(page.get_by_text("done, verified")).to_be_visible()


def test_of_two_on_one_taping_one_wins_and_the_other_sees_what_changed(tablet_page, another_desk, works):
    works.set_clock(LATER)
    first, second = tablet_page, another_desk
    sign_in(first, "ines")
    sign_in(second, "dara")
    for page, number in ((first, "L-101"), (second, "L-120")):
        job(page, "A05", "remove", "SF-17")
        lock_out(page, number)
    press(first, "Begin to take off")
    second.get_by_role("button", name="Begin to take off").click()
    expect(second.get_by_text("Changed since you looked").first).to_be_visible()
    expect(second.get_by_text("Ines Varga recorded").first).to_be_visible()
    expect(second.get_by_text("8 on by the record").first).to_be_visible()


def test_one_of_two_bands_off_blocks_the_line_as_partial(tablet_page, another_desk, works):
    works.set_clock(LATER)
    sign_in(tablet_page, "tomas")
    take_off(tablet_page, "B09", "BO-35", end="operator")
    expect(tablet_page.get_by_text("4 on by the record").first).to_be_visible()
    tablet_page.get_by_text("Leave the rest on for now").click()
    tablet_page.get_by_label("Why does the rest stay on for now?").fill("The other end after the break")
    press(tablet_page, "Leave the rest on")
    job(tablet_page, "B09", "remove", "BO-35")
    sign_in(another_desk, "hanna")
    text = blocks(another_desk, "B", "BO-35")
    assert "NO" in text and "only part of the tape is on (4 pieces left)" in text.replace("Only", "only")


def test_a_missing_piece_in_the_medical_room_holds_what_ran_since_the_last_right_count(tablet_page, desk_page, works):
    works.set_clock(LATER)
    sign_in(tablet_page, "yuki")
    take_off(tablet_page, "C06", "ML-62", missing=1)
    expect(tablet_page.get_by_text(re.compile("1 missing: stop, search; QA was told")).first).to_be_visible()
    finish(tablet_page)
    tablet_page.goto("/tablet/roller/C06/")
    expect(tablet_page.get_by_text(re.compile("Missing: piece 4")).first).to_be_visible()
    asked = (
        "from rollers.models import Hold; h = Hold.objects.filter(why='missing-piece').latest('opened_at'); "
        "print(h.why, h.rolls.count(), h.since < h.until)"
    )
    told = works.manage("shell", "-v0", "-c", asked)
    assert told.split()[0] == "missing-piece" and told.split()[2] == "True" and int(told.split()[1]) >= 1
    sign_in(desk_page, "hanna")
    assert "missing" in blocks(desk_page, "C", "MP-75")


def test_tape_without_a_record_found_in_the_medical_room_is_critical_and_never_a_valid_taping(
    tablet_page, desk_page, works
):
    works.set_clock(LATER)
    sign_in(tablet_page, "yuki", "/tablet/roller/C09/found/")
    tablet_page.get_by_label("What did you find, and where on the roller?").fill("a crepe piece, drive end")
    press(tablet_page, "Record it")
    expect(tablet_page.get_by_text("QA was told").first).to_be_visible()
    asked = (
        "from rollers.models import Application, Deviation; d = Deviation.objects.get(code='found-tape'); "
        "print(d.severity, d.owner_role, Application.objects.filter(position__code='C09').count())"
    )
    assert works.manage("shell", "-v0", "-c", asked).split() == ["critical", "qa", "0"]
    sign_in(desk_page, "hanna")
    assert "C09" in blocks(desk_page, "C", "ML-62")


def test_torn_pieces_ask_a_second_person_for_the_own_password(tablet_page, works):
    works.set_clock(LATER)
    page = tablet_page
    sign_in(page, "tomas")
    job(page, "B04", "remove", "BO-35")
    lock_out(page, "L-102")
    press(page, "Begin to take off")
    page.get_by_role("group", name=re.compile("lane 1")).get_by_role("radio", name="in parts").check()
    page.get_by_role("button", name="Record it").click()
    expect(page.get_by_text(re.compile("a second person sees it")).first).to_be_visible()
    page.get_by_label("Second person: staff number").fill(NUMBERS["yuki"])
    page.get_by_label("Second person: own password").fill(DEMO_PASSWORD)
    press(page, "Record it")
    expect(page.get_by_text("2 on by the record").first).to_be_visible()


@pytest.mark.parametrize("path", ["A05/report", "A05/found", "B12/job/apply", "A05/job/remove"])
def test_the_screens_at_a_roller_pass_axe_and_keep_targets_large(tablet_page, accessible, works, path):
    works.set_clock(LATER)
    sign_in(tablet_page, "kwame", f"/tablet/roller/{path}/")
    accessible(tablet_page)
    small = tablet_page.evaluate(
        """() => [...document.querySelectorAll('main button, main a.button, main input, main select')]
        .filter(e => e.offsetParent && !['radio', 'checkbox', 'hidden'].includes(e.type))
        .filter(e => e.getBoundingClientRect().height < 48).map(e => e.outerHTML.slice(0, 80))"""
    )
    assert small == []
    assert not tablet_page.evaluate("document.documentElement.scrollWidth > innerWidth")
