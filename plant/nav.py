"""The navigation of the desk: what each role works with."""

from dataclasses import dataclass
from typing import Any

from django.http import HttpRequest
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext

from plant.floor.queries import shift_at
from plant.people.models import Person, Role
from plant.people.queries import role_words


@dataclass(frozen=True)
class Place:
    """A place in the navigation; `roles` empty means everybody."""

    label: str
    url_name: str
    roles: frozenset[str] = frozenset()


PLACES: tuple[Place, ...] = (
    Place("Lines", "home"),
    Place("Open work", "rollers:open-work", frozenset(Role) - {Role.GUEST}),
    Place("Recipes", "rollers:recipes"),
    Place("Product sheets", "rollers:sheets"),
    Place("Products", "floor:products"),
    Place("Plant", "rollers:registry"),
    Place("Store", "rollers:store", frozenset({Role.STOREKEEPER, Role.QA, Role.SUPERVISOR})),
    Place("Does it pay", "causes:pays", frozenset({Role.MANAGER, Role.ENGINEER, Role.QA})),
    Place("Who may", "training:grid", frozenset(Role) - {Role.GUEST}),
    Place("Due", "training:wall", frozenset(Role) - {Role.GUEST}),
    Place("Learning", "training:path", frozenset(Role) - {Role.GUEST}),
    Place("People", "people:list", frozenset(Role) - {Role.GUEST}),
    Place("Records", "records:trail", frozenset({Role.QA, Role.KEEPER, Role.MANAGER, Role.GUEST})),
)


def shell(request: HttpRequest) -> dict[str, Any]:
    """What the desk's frame shows: navigation for the roles of this request, plant, shift, time and person."""
    plant, at = getattr(request, "plant", None), getattr(request, "at", None)
    frame: dict[str, Any] = {"plant_name": plant.name if plant else ""}
    person = getattr(request, "user", None)
    if not isinstance(person, Person) or at is None:
        return frame
    shift = shift_at(at)
    return frame | {
        "nav": _entries(request),
        "shift_text": f"{shift.name}, {shift.date:%a} {shift.date.day} {shift.date:%b}"
        if shift
        else gettext("none planned"),
        "now_text": f"{timezone.localtime(at):%H:%M} (UTC{timezone.localtime(at).isoformat()[-6:]})",
        "person_name": person.name,
        "person_role": ", ".join(gettext(word) for word in role_words(request.roles)),  # type: ignore[attr-defined]
        "person_menu": [(gettext("My page"), reverse("people:me"))],
        "sign_out_url": reverse("people:sign-out"),
    }


def _entries(request: HttpRequest) -> list[tuple[str, str, bool]]:
    """Navigation entries as (label, url, is_current)."""
    roles: frozenset[str] = getattr(request, "roles", frozenset())
    shown = [
        (gettext(place.label), reverse(place.url_name)) for place in PLACES if not place.roles or place.roles & roles
    ]
    # A page lies in the nearest place above it, not in all of them.
    above = [url for _, url in shown if (request.path.startswith(url) if url != "/" else request.path == "/")]
    nearest = max(above, key=len, default="")
    return [(label, url, url == nearest) for label, url in shown]
