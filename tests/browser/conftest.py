"""What a browser test has: the works, served at a fixed moment; a desk and a tablet; axe."""

from collections.abc import Callable, Iterator

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Browser, Page

from tests.browser.seats import Seat
from tests.browser.works import Databases, Works

WEDNESDAY = "2026-03-25T09:00+01:00"
# WCAG 2.2, level A and AA, as axe-core tags its rules.
WCAG = ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa"]


@pytest.fixture(scope="session")
def databases() -> Iterator[Databases]:
    """Filled databases that the workers of a test run share."""
    made = Databases()
    made.join()
    yield made
    made.leave()


@pytest.fixture(scope="module")
def works(request: pytest.FixtureRequest, databases: Databases) -> Iterator[Works]:
    """The demo plant at the moment that the module names in `AT` (else Wednesday morning), served."""
    served = Works(databases, getattr(request.module, "AT", WEDNESDAY))
    try:
        yield served.start()
    finally:
        served.stop()


@pytest.fixture
def desk(browser: Browser, works: Works) -> Iterator[Seat]:
    seat = Seat(browser, works, viewport={"width": 1440, "height": 900})
    yield seat
    seat.close()


@pytest.fixture
def desk_page(desk: Seat) -> Page:
    return desk.page()


@pytest.fixture
def another_desk(browser: Browser, works: Works) -> Iterator[Page]:
    """A second person at another desk."""
    seat = Seat(browser, works, viewport={"width": 1440, "height": 900})
    yield seat.page()
    seat.close()


@pytest.fixture
def tablet_page(browser: Browser, works: Works) -> Iterator[Page]:
    """A ten-inch tablet, held across."""
    size = {"width": 1280, "height": 800}
    seat = Seat(browser, works, viewport=size, has_touch=True, is_mobile=True, device_scale_factor=1)
    yield seat.page()
    seat.close()


@pytest.fixture
def accessible() -> Callable[[Page], None]:
    """`accessible(page)` fails with what axe finds against WCAG 2.2 A and AA, each with its place."""

    def look(page: Page) -> None:
        options = {"runOnly": {"type": "tag", "values": WCAG}, "resultTypes": ["violations"]}
        found = Axe().run(page, options=options).response["violations"]
        assert [
            f"{rule['id']} ({rule['impact']}): {node['target']} {node['html'][:160]}"
            for rule in found
            for node in rule["nodes"]
        ] == []

    return look
