"""A supplier takes a lot back at night: one page with live, past, runs, rolls and reels, and it prints. And the store
receives, releases and issues by label."""

import re

import pytest
from playwright.sync_api import expect

from rollers.demo.cast import DEMO_PASSWORD
from tests.browser.seats import sign_in

pytestmark = pytest.mark.browser
AT = "2026-03-26T23:57+01:00"  # two minutes after the supplier called
REASON = "Letter of the supplier: the liner frays"


def test_the_store_receives_a_lot_qa_releases_it_and_a_reel_is_issued_by_its_label(desk_page, another_desk, accessible):
    sign_in(desk_page, "edda", "/store/")
    accessible(desk_page)
    desk_page.get_by_role("link", name="Receive a lot").click()
    desk_page.get_by_label("Tape stock").select_option("T5")
    desk_page.get_by_label("Supplier's lot number").fill("2604-C")
    desk_page.get_by_label("Reels of this length").fill("2")
    desk_page.get_by_label("Length of each reel", exact=True).fill("33")
    desk_page.get_by_role("button", name="Receive it").click()
    expect(desk_page.get_by_role("heading", name="Lot 2604-C of T5")).to_be_visible()
    desk_page.get_by_role("link", name="Measure").click()
    desk_page.get_by_label("Measured thickness of one layer", exact=True).fill("0.091")
    desk_page.get_by_role("button", name="Save").click()
    expect(desk_page.get_by_text("Who releases it")).to_be_visible()
    label = desk_page.get_by_role("link", name=re.compile(r"^R-\w{6}$")).first.inner_text()

    sign_in(another_desk, "yuki", "/store/lots/?status=quarantined")
    another_desk.get_by_role("link", name="2604-C").click()
    another_desk.get_by_label("Your password, again").fill(DEMO_PASSWORD)
    another_desk.get_by_role("button", name="Sign and release").click()
    expect(another_desk.get_by_text("Lot 2604-C is released.")).to_be_visible()

    desk_page.goto("/store/")
    desk_page.get_by_label("Scan or type a label").fill(label.lower())
    desk_page.get_by_role("button", name="Open it").click()
    desk_page.get_by_role("link", name="Issue").click()
    desk_page.get_by_label("For room").select_option("M1")
    desk_page.get_by_role("button", name="Issue it").click()
    expect(desk_page.get_by_text(re.compile(rf"Reel {label} is issued to .* for M1"))).to_be_visible()
    expect(desk_page.get_by_text("room M1").first).to_be_visible()


def test_a_recall_shows_live_past_runs_rolls_and_reels_on_one_page_and_its_pdf_prints(
    desk_page, another_desk, accessible
):
    sign_in(desk_page, "babak", "/store/recalls/")
    desk_page.get_by_role("link", name="2602-B").click()
    expect(desk_page.get_by_text("Recalled: it contaminates")).to_be_visible()
    expect(desk_page.get_by_text("adhesive of this lot goes over to the film")).to_be_visible()
    live = desk_page.get_by_role("heading", name=re.compile("C06 line C, room M1, medical"))
    expect(live).to_have_count(2)  # on the roller now, and the taping before it
    expect(desk_page.get_by_role("heading", name=re.compile("D04 line D, room G2, general")).first).to_be_visible()
    for past in ("B09", "B04"):
        expect(desk_page.get_by_role("heading", name=re.compile(f"{past} line B, room F1, food")).first).to_be_visible()
    expect(desk_page.get_by_text("ML-62").first).to_be_visible()
    expect(desk_page.get_by_text(re.compile(r"^and \d+ more$")).first).to_be_attached()
    expect(desk_page.get_by_role("region", name="Reels left")).to_be_visible()
    expect(desk_page.get_by_text("bring it back").first).to_be_visible()
    accessible(desk_page)

    sign_in(another_desk, "yuki", "/store/recalls/")
    another_desk.get_by_role("link", name="2602-B").click()
    another_desk.get_by_role("button", name="Hold its product of B09").first.click()
    expect(another_desk.get_by_text(re.compile("rolls or parts are held"))).to_be_visible()
    another_desk.get_by_role("button", name="Print", exact=True).click()
    link = another_desk.get_by_role("link", name="Open the PDF")
    for _ in range(40):
        if link.count():
            break
        another_desk.wait_for_timeout(500)
        another_desk.reload()
    answer = another_desk.request.get(link.first.get_attribute("href") or "")
    assert answer.body().startswith(b"%PDF")

    another_desk.goto("/board/C/")
    expect(another_desk.get_by_text(re.compile("recalled")).first).to_be_visible()


def test_a_supervisor_recalls_a_lot_and_must_say_whether_it_contaminates(desk_page):
    sign_in(desk_page, "babak", "/store/lots/?status=released")
    desk_page.get_by_role("link", name="CR-0117").click()
    desk_page.get_by_role("link", name="Recall", exact=True).click()
    desk_page.get_by_label("Why, and who told it").fill(REASON)
    desk_page.get_by_role("button", name="Recall it").click()
    expect(desk_page.get_by_text("Where nobody knows, choose yes").first).to_be_visible()
    desk_page.get_by_role("radio", name=re.compile("^No")).check()
    desk_page.get_by_role("button", name="Recall it").click()
    expect(desk_page.get_by_text("Recalled: no contamination")).to_be_visible()
    expect(desk_page.get_by_role("heading", name=re.compile("A05 line A, room G1, general")).first).to_be_visible()
