"""From the subject of an event to its page. Each application names the pages of its records in its `links.py`."""

from collections.abc import Callable

Page = Callable[[str], str]
PAGES: dict[str, Page] = {}


def page_of(*kinds: str) -> Callable[[Page], Page]:
    """Register `address(id) -> url, or nothing where the record is gone` for kinds of records."""

    def register(address: Page) -> Page:
        for kind in kinds:
            if kind in PAGES:
                raise ValueError(f"two pages are named for {kind}")
            PAGES[kind] = address
        return address

    return register


def address_of(kind: str, key: str) -> str:
    """The page of a record, or nothing."""
    return PAGES[kind](key) if kind in PAGES else ""
