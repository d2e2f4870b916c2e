"""The navigation of the desk: what each role works with."""

from dataclasses import dataclass
from typing import Any

from django.http import HttpRequest
from django.urls import reverse



@dataclass(frozen=True)
class Place:
    """A place in the navigation; `roles` empty means everybody."""

    label: str
    url_name: str
    roles: frozenset[str] = frozenset()


PLACES: tuple[Place, ...] = ()


def shell(request: HttpRequest) -> dict[str, Any]:
    """Navigation entries as (label, url, is_current) for the roles of this request."""
    roles = getattr(request, "roles", frozenset())
    entries = []
    for place in PLACES:
        if place.roles and not place.roles & roles:
            continue
        url = reverse(place.url_name)
        entries.append((place.label, url, request.path.startswith(url) if url != "/" else request.path == "/"))
    return {"nav": entries}
