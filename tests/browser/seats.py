"""Where a person sits: a browser of the own, and signing in as somebody of the demo."""

from playwright.sync_api import Browser, BrowserContext, ConsoleMessage, Page

from rollers.demo.cast import DEMO_PASSWORD, GUEST, STAFF
from tests.browser.works import Works

NUMBERS = {member.key: member.staff_no for member in (*STAFF, GUEST)}


class Seat:
    """A browser context whose pages may not complain: a script error or a blocked resource fails the test."""

    def __init__(self, browser: Browser, works: Works, **options: object) -> None:
        self.complaints: list[str] = []
        self.context: BrowserContext = browser.new_context(
            base_url=works.url, locale="en-GB", timezone_id="Europe/Vienna", **options
        )
        self.context.set_default_timeout(15_000)
        self.context.on("console", self._heard)
        self.context.on("weberror", lambda error: self.complaints.append(str(error.error)))

    def _heard(self, message: ConsoleMessage) -> None:
        # A refusal answers with 4xx, which the browser reports as an error of its own; the tests read its sentence.
        # htmx reports a question that a newer one overtook the same way.
        harmless = ("status of 4", "htmx:sendAbort", "htmx:afterRequest")
        if message.type == "error" and not any(words in message.text for words in harmless):
            self.complaints.append(message.text)

    def page(self) -> Page:
        return self.context.new_page()

    def close(self) -> None:
        self.context.close()
        assert self.complaints == [], self.complaints


def sign_in(page: Page, key: str, path: str = "/") -> None:
    """As this person of the demo, whoever sat here before; then open a page."""
    page.context.clear_cookies()
    page.goto("/people/sign-in/")
    page.get_by_label("Staff number").fill(NUMBERS[key])
    page.get_by_label("Password").fill(DEMO_PASSWORD)
    page.get_by_role("button", name="Sign in").click()
    page.wait_for_url(lambda url: "sign-in" not in url)
    if path != "/":
        page.goto(path)
