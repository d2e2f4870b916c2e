"""Where stored reports are shown."""

from django.urls import reverse

from plant.audit.subjects import page_of


@page_of("storedreport")
def stored_report(key: str) -> str:
    """A report that was asked for."""
    return reverse("reports:show", args=[int(key)])


@page_of("attachment")
def photo(key: str) -> str:
    """A photograph."""
    return reverse("reports:photo", args=[int(key)])
