"""Where the records of people are shown."""

from django.urls import reverse

from plant.audit.subjects import page_of


@page_of("person")
def person(key: str) -> str:
    """A person, by key."""
    return reverse("people:person", args=[int(key)])


@page_of("accessreview")
def access_review(key: str) -> str:
    """The reviews of access stand on one page."""
    return reverse("people:review")
