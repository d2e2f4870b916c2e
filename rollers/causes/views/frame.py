"""What the views of causes share: the frame of the tablet, path and run of a line, moments in words."""

from typing import Any

from django.urls import reverse

from plant.errors import NotFound
from plant.floor.models import Line, PathStep, ProductVersion, WebPath
from plant.people.queries import role_words
from plant.people.requests import PersonRequest
from rollers.tablet import path_in_use, run_on


def tablet_frame(request: PersonRequest, back: str, label: str) -> dict[str, Any]:
    """Who holds the tablet, and the way back."""
    return {
        "back_url": back,
        "back_label": label,
        "person_name": request.user.name,
        "person_role": ", ".join(role_words(request.roles)),
        "sign_out_url": reverse("people:sign-out"),
    }


def path_on(line: Line) -> WebPath:
    """The path that the line runs or is threaded on.

    Raises
    ------
    NotFound
        Before a path is drawn.
    """
    run = run_on(line)
    path = run.path if run else path_in_use(line)
    if path is None:
        raise NotFound("web path on line", line.code, "The process engineer draws it on the line's page.")
    return path


def steps_on(path: WebPath) -> list[PathStep]:
    """Its rollers in web order."""
    return list(path.steps.select_related("position").order_by("order"))


def products_on(line: Line) -> Any:
    """The newest data of every product that the line runs."""
    rows = ProductVersion.objects.filter(current=True, product__lines=line).select_related("product")
    return rows.order_by("product__code")


def product_now(line: Line) -> ProductVersion | None:
    """The newest data of the product that runs or runs next."""
    run = run_on(line)
    if run is None:
        return None
    return products_on(line).filter(product=run.product_version.product_id).first()


def trail_of(line: Line, *more: tuple[str, str]) -> list[tuple[str, str]]:
    """Crumbs of a page about a line."""
    return [
        ("Lines", reverse("home")),
        (f"Line {line.code}", reverse("rollers:board", args=[line.code])),
        ("Wrinkles", reverse("causes:line", args=[line.code]) if more else ""),
        *more,
    ]
