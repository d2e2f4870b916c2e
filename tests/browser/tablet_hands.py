"""What hands do at a tablet beside a roller: lock out, wind, take off, lock off."""

import re

from playwright.sync_api import Page

READY = ("The face is clean", "The face is dry", "No old residue is on it", "The lanes are marked from the centre")


def press(page: Page, name: str) -> None:
    """Send it and wait for the answer, so that another desk sees it."""
    with page.expect_navigation():
        page.get_by_role("button", name=name, exact=True).click()


def lock_out(page: Page, number: str = "L-101") -> None:
    """The six steps, each confirmed by itself."""
    press(page, "Begin, lock out")
    for _ in range(6):
        if page.get_by_label("Number of my own lock").count():
            page.get_by_label("Number of my own lock").fill(number)
        press(page, "Confirmed")


def job(page: Page, position: str, track: str, product: str) -> None:
    page.goto(f"/tablet/roller/{position}/job/{track}/?product={product}")


def take_off(page: Page, position: str, product: str, *, end: str = "", missing: int = 0) -> None:
    """Lock out, begin, and every piece of an end into the bag; some missing."""
    job(page, position, "remove", product)
    if page.get_by_role("button", name="Begin, lock out").count():
        lock_out(page)
    press(page, "Begin to take off")
    all_into_the_bag(page, end=end, missing=missing)


def all_into_the_bag(page: Page, *, end: str = "", missing: int = 0) -> None:
    """Every piece of an end, or of both, recorded; the last so many as missing."""
    if not page.get_by_label("Label of the bag").input_value():
        press(page, "Open a new bag")
    groups = page.get_by_role(
        "group", name=re.compile(f"{end} end, lane", re.IGNORECASE) if end else re.compile("lane")
    )
    count = groups.count()
    for index in range(count):
        answer = "missing" if index >= count - missing else "in the bag, intact"
        groups.nth(index).get_by_role("radio", name=answer).check()
    press(page, "Record it")


def finish(page: Page, residue: str = "none") -> None:
    """The face looked at, the lock off."""
    page.get_by_role("radio", name=residue).check()
    if residue != "stays":
        page.get_by_label("I looked at the face: clean, dry, no damage").check()
    press(page, "Record it")
    lock_off(page)


def lock_off(page: Page) -> None:
    page.get_by_label("Tools and people are clear of the roller, guards are back").check()
    page.get_by_label("Everybody who works here was told").check()
    press(page, "My lock is off")


def prepare_and_wind(page: Page, pieces: int) -> None:
    for words in READY:
        page.get_by_label(words).check()
    page.get_by_label("Temperature of the face, °C").fill("22")
    press(page, "Record it")
    page.get_by_label("Label of the reel").fill(page.locator("b.code").first.inner_text())
    page.get_by_label("Pieces wound on").fill(str(pieces))
    page.get_by_role("radio", name=re.compile("^trails")).check()
    page.get_by_label("Each lane finishes over its start, within 2 mm").check()
    press(page, "Record it")


def measure(page: Page, **figures: str) -> None:
    for label, value in figures.items():
        kind, end = label.split("_")
        words = {"build": f"Build at the {end} end", "edge": f"Inner edge at the {end} end"}[kind]
        page.get_by_label(re.compile(words)).fill(value)
    page.get_by_role("button", name="Record it").click()
