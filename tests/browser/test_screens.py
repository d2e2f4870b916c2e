"""Every main screen opens without complaint, passes axe against WCAG 2.2 A and AA, and does not scroll sideways."""

import pytest

from tests.browser.pictures import DESK, FIND, TABLET
from tests.browser.seats import Seat, sign_in

pytestmark = pytest.mark.browser
AT = "2026-03-24T10:05+01:00"


@pytest.fixture(scope="module")
def places(works) -> dict[str, str]:
    """Where planned and released runs and the waiting recipe are."""
    return dict(line.split("=") for line in works.manage("shell", "-v0", "-c", FIND).split())


@pytest.mark.parametrize("theme", ["light", "dark"])
@pytest.mark.parametrize("kind", ["desk", "tablet"])
def test_the_main_screens_are_accessible(browser, works, places, accessible, kind, theme):
    if kind == "tablet":
        options = {"viewport": {"width": 1280, "height": 800}, "has_touch": True, "is_mobile": True}
    else:
        options = {"viewport": {"width": 1440, "height": 900}}
    seat, sitting = Seat(browser, works, color_scheme=theme, **options), ""
    page = seat.page()
    for _, who, where in TABLET if kind == "tablet" else DESK:
        if who != sitting:
            sign_in(page, who)
            sitting = who
        answer = page.goto(where.format(**places))
        assert answer is not None and answer.ok, where
        accessible(page)
        wide = page.evaluate("[document.documentElement.scrollWidth, document.documentElement.clientWidth]")
        assert wide[0] <= wide[1], f"{where} scrolls sideways: {wide}"
    seat.close()
