"""From the class to the certificate, its renewal, a lapse, and the way back; through the screens."""

import re
from datetime import datetime

import pytest
from playwright.sync_api import Page, expect

from rollers.demo.cast import DEMO_PASSWORD
from tests.browser.seats import sign_in
from training.content_files import questions

pytestmark = pytest.mark.browser
LEARNING = "/training/learning/"
# A shorter validity than the plant's own, so that renewal and lapse fall into the life of the assessor's papers.
SHORT = "from training.models import Skill; Skill.objects.filter(code='apply').update(valid_months=2)"
TOKEN = (
    "from training.models import CertificateCard as C; "
    "print('TOKEN', C.objects.filter(certificate__person__name='Tilda Roos').latest('pk').token)"
)


def person_page(page: Page, key: str) -> str:
    """The address of the trainee's certificates, found the way a person finds it."""
    sign_in(page, key, "/training/?everybody=1")
    page.get_by_role("link", name="Tilda Roos").first.click()
    page.wait_for_url("**/people/*/")
    return page.url


def attend_class(works, page: Page) -> None:
    sign_in(page, "greta", f"{LEARNING}classes/plan/")
    page.get_by_label("For", exact=True).select_option("apply")
    page.get_by_label("Title", exact=True).fill("Removal and count, once more")
    page.get_by_label("Begins", exact=True).fill("2026-03-25T09:30")
    page.get_by_label("Ends", exact=True).fill("2026-03-25T10:30")
    page.get_by_label("Place", exact=True).fill("Training room")
    page.get_by_label("Trainer", exact=True).select_option(label="Greta Munro (150)")
    page.get_by_label("Tilda Roos (106)").check()
    page.get_by_role("button", name="Plan it").click()
    expect(page.get_by_text("Attendance can be recorded once the class has begun")).to_be_visible()
    works.set_clock("2026-03-25T10:35+01:00")
    page.reload()
    page.get_by_role("button", name="Record Tilda Roos").click()
    expect(page.get_by_text("Recorded: Tilda Roos was there 60 min.")).to_be_visible()


def read_what_is_left(page: Page) -> None:
    """The modules that the path names, one after another, until it names none."""
    for _ in range(16):
        page.goto(LEARNING)
        apply = page.locator("section").filter(has=page.get_by_role("heading", name="Apply", exact=True))
        named = re.search(r"Read module (\d+),", apply.inner_text())
        if named is None:
            return
        page.goto(f"{LEARNING}modules/{named[1]}/")
        # The module on hazards is signed.
        if page.get_by_label("Your password again").count():
            page.get_by_label("Your password again").fill(DEMO_PASSWORD)
        page.get_by_role("button", name="Read and understood").click()
        page.wait_for_url("**/modules/")
    raise AssertionError("the path still names a module")


def take_test(page: Page) -> None:
    """Every question answered rightly, by the text of the files; the page itself does not tell."""
    key = {row.text: row.options[row.answer] for row in questions() if row.lang == "en"}
    page.goto(f"{LEARNING}tests/apply/begin/")
    page.get_by_role("button", name="Begin the test").click()
    page.wait_for_url(re.compile(r"/tests/\d+/$"))
    papers = page.locator("fieldset.paper__question")
    assert papers.count() == 20
    for number in range(20):
        paper = papers.nth(number)
        text = paper.locator("legend").inner_text().split(maxsplit=1)[1].strip()
        paper.get_by_label(key[text], exact=True).check()
    expect(page.locator("#kept")).to_have_text("20 of 20 answered and kept")
    page.reload()
    assert page.locator("input:checked").count() == 20
    page.get_by_role("button", name="Hand in").click()
    expect(page.get_by_text("Handed in and marked.")).to_be_visible()
    expect(page.locator(".stats").get_by_text("passed")).to_be_visible()


def sign_job(page: Page, when: str) -> None:
    person_page(page, "ines")
    page.get_by_role("link", name="Sign practice").click()
    page.get_by_label("Roller, line or product").fill("A05")
    page.get_by_label("Done at", exact=True).fill(when)
    page.get_by_label("went well", exact=True).check()
    page.get_by_label("What was done", exact=True).fill("Four lanes wound, tails trail, counted eight of eight")
    page.get_by_label("Your password again").fill(DEMO_PASSWORD)
    page.get_by_role("button", name="Sign the practice").click()
    expect(page.get_by_text("Signed: supervised job of Tilda Roos at A05.")).to_be_visible()


def refused_to_assess(page: Page, key: str) -> str:
    """What somebody reads who has a tie to the trainee."""
    address = person_page(page, key)
    answer = page.goto(address + "../../learning/people/" + address.rstrip("/").split("/")[-1] + "/assess/apply/")
    assert answer is not None and answer.status == 403
    return page.locator("main").inner_text()


def watch_fifteen_steps(page: Page) -> None:
    person_page(page, "dara")
    page.get_by_role("link", name="Path", exact=True).click()
    apply = page.locator("section").filter(has=page.get_by_role("heading", name="Apply", exact=True))
    apply.get_by_role("link", name="Assess").click()
    page.get_by_role("button", name="Begin").click()
    page.get_by_role("link", name="Begin with step 1").click()
    for step in range(1, 16):
        page.wait_for_url(f"**/step/{step}/")
        page.get_by_role("button", name="not seen" if step == 6 else "done", exact=True).click()
    page.get_by_role("link", name="All steps are marked: end and sign").click()
    page.get_by_label("Your password again").fill(DEMO_PASSWORD)
    page.get_by_role("button", name="Sign as assessor").click()
    page.get_by_label("Password of the person assessed").fill(DEMO_PASSWORD)
    page.get_by_role("button", name="Sign", exact=True).click()
    expect(page.get_by_text("Signed by Tilda Roos. The practical counts now.")).to_be_visible()


def issue(page: Page) -> None:
    person_page(page, "yuki")
    page.get_by_role("link", name="Certificate from the path").click()
    page.get_by_label("Your password again").fill(DEMO_PASSWORD)
    page.get_by_role("button", name="Sign and issue").click()
    expect(page.get_by_text(re.compile("Apply certificate C-106-[0-9]+ is issued to Tilda Roos"))).to_be_visible()


def may_i(page: Page) -> str:
    sign_in(page, "tilda", "/tablet/roller/A05/")
    return page.locator("section").filter(has=page.get_by_role("heading", name="May I?")).inner_text()


def test_a_trainee_earns_renews_loses_and_earns_again(works, desk_page, tablet_page, another_desk):
    works.manage("shell", "-c", SHORT)
    assert "You may not tape this roller" in may_i(tablet_page)
    attend_class(works, desk_page)
    sign_in(another_desk, "tilda", LEARNING)
    read_what_is_left(another_desk)
    take_test(another_desk)
    sign_job(desk_page, "2026-03-25T10:00")
    assert "Greta Munro taught Tilda Roos" in refused_to_assess(desk_page, "greta")
    assert "Dara Whitlow may assess" in refused_to_assess(desk_page, "greta")
    assert "Assess certificate to assess anybody" in refused_to_assess(desk_page, "ines")
    watch_fifteen_steps(tablet_page)
    issue(desk_page)
    assert "You may tape this roller" in may_i(tablet_page)

    token = re.search(r"TOKEN (\S+)", works.manage("shell", "-c", TOKEN))
    assert token is not None
    card = f"/training/card/{token[1]}/"
    another_desk.context.clear_cookies()
    another_desk.goto(card)
    said = another_desk.locator("main").inner_text()
    assert re.search(r"\bvalid\b", said) and "20" not in re.sub(r"\d{4}|\d{1,2}:\d{2}", "", said)

    works.set_clock("2026-05-18T09:00+02:00")
    works.manage("tick")
    works.manage("tick")
    sign_in(another_desk, "tilda", "/training/learning/")
    another_desk.get_by_role("link", name="Certificates and dues").click()
    notes = another_desk.locator("section").filter(has=another_desk.get_by_role("heading", name="Notes to you"))
    told = [line for line in notes.inner_text().splitlines() if "Apply" in line and "25 May 2026" in line]
    assert len(told) == 1, notes.inner_text()

    works.set_clock("2026-05-20T09:00+02:00")
    sign_in(another_desk, "tilda", LEARNING)
    take_test(another_desk)
    issue(desk_page)
    expect(desk_page.get_by_text("25 Jul 2026").first).to_be_visible()

    works.set_clock("2026-07-30T09:00+02:00")
    assert re.search("lapsed", may_i(tablet_page))
    another_desk.context.clear_cookies()
    another_desk.goto(card)
    assert "not valid" in another_desk.locator("main").inner_text()
    sign_in(another_desk, "tilda", LEARNING)
    expect(another_desk.get_by_text("What it takes after a lapse of up to 30 days:")).to_be_visible()
    take_test(another_desk)
    watch_fifteen_steps(tablet_page)
    issue(desk_page)
    assert "You may tape this roller" in may_i(tablet_page)
    assert datetime.fromisoformat(works.clock.read_text()).year == 2026


@pytest.mark.parametrize("path", ["", "modules/", "modules/6/", "tests/apply/begin/", "classes/", "practicals/"])
def test_the_pages_of_learning_are_read_by_everybody(desk_page, accessible, path):
    sign_in(desk_page, "greta", LEARNING + path)
    accessible(desk_page)


@pytest.mark.parametrize("path", ["figures/", "questions/", "classes/plan/"])
def test_the_pages_of_the_trainer_are_read_by_everybody(tablet_page, accessible, path):
    sign_in(tablet_page, "greta", LEARNING + path)
    accessible(tablet_page)
