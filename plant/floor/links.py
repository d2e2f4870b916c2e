"""Where the records of the floor are shown."""

from django.urls import reverse

from plant.audit.subjects import page_of
from plant.floor.models import Line, Product, WebPath


@page_of("line")
def line(key: str) -> str:
    """A line."""
    code = Line.objects.filter(pk=int(key)).values_list("code", flat=True).first()
    return reverse("floor:line", args=[code]) if code else ""


@page_of("webpath")
def path(key: str) -> str:
    """A path stands on the page of its line."""
    code = WebPath.objects.filter(pk=int(key)).values_list("line__code", flat=True).first()
    return reverse("floor:line", args=[code]) if code else ""


@page_of("product")
def product(key: str) -> str:
    """A product."""
    code = Product.objects.filter(pk=int(key)).values_list("code", flat=True).first()
    return reverse("floor:product", args=[code]) if code else ""


@page_of("room", "roomclass")
def room(key: str) -> str:
    """Rooms stand on one page."""
    return reverse("floor:rooms")


@page_of("plant")
def plant(key: str) -> str:
    """The plant."""
    return reverse("floor:plant")


@page_of("shift")
def shift(key: str) -> str:
    """A shift and its crew."""
    return reverse("floor:crew", args=[int(key)])
