"""Where the records of rollers are shown."""

from collections.abc import Callable

from django.db.models import Model
from django.urls import reverse

from plant.audit.subjects import page_of
from plant.floor.models import Position
from rollers.models import Body, Gauge, Mounting, TapeFact, TapeStock

BY_NUMBER = {
    "recipeversion": "rollers:recipe",
    "productsheet": "rollers:sheet",
    "run": "rollers:run",
    "survey": "rollers:survey",
}
BY_CODE: dict[str, tuple[type[Model], str, str]] = {
    "body": (Body, "serial", "rollers:body"),
    "tapestock": (TapeStock, "code", "rollers:stock"),
    "gauge": (Gauge, "code", "rollers:gauge"),
    "mounting": (Mounting, "position__code", "rollers:mounting"),
    "tapefact": (TapeFact, "position__code", "rollers:position"),
    "position": (Position, "code", "rollers:position"),
}


def _by_number(name: str) -> Callable[[str], str]:
    return lambda key: reverse(name, args=[int(key)])


def _by_code(model: type[Model], field: str, name: str) -> Callable[[str], str]:
    def address(key: str) -> str:
        code = model._default_manager.filter(pk=int(key)).values_list(field, flat=True).first()
        return reverse(name, args=[code]) if code else ""

    return address


for kind, name in BY_NUMBER.items():
    page_of(kind)(_by_number(name))
for kind, found in BY_CODE.items():
    page_of(kind)(_by_code(*found))


@page_of("limitset")
def limits(key: str) -> str:
    """The limits and their history."""
    return reverse("rollers:limits")
