"""The recipes of a roller position, and the list of all recipes."""

from typing import Any

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.urls import reverse
from django.views.decorators.http import require_GET

from plant.floor.models import Line
from plant.web.svg import roller_drawing
from rollers import queries
from rollers.access import position_by_code
from rollers.models import Mounting, RecipeProduct, RecipeVersion
from rollers.pictures import roller_picture
from rollers.rooms import room_kinds
from rollers.views import shown

OPEN = (RecipeVersion.State.DRAFT, RecipeVersion.State.CHECKED)


def _served(version: RecipeVersion) -> list[RecipeProduct]:
    """The products a version is for; of one in force, those that no later recipe took over."""
    in_force = version.state == RecipeVersion.State.IN_FORCE
    return [row for row in version.products.all() if row.in_force or not in_force]


def _verdicts(rows: list[RecipeProduct]) -> list[tuple[str, str]]:
    """Every verdict once; with the products it is about where they differ."""
    by_verdict: dict[str, list[str]] = {}
    for row in rows:
        if row.calculation:
            by_verdict.setdefault(row.calculation.verdict, []).append(row.product.code)
    many = len(by_verdict) > 1
    return [(verdict, ", ".join(codes) if many else "") for verdict, codes in sorted(by_verdict.items())]


def _rows(request: HttpRequest, versions: Any) -> list[dict[str, Any]]:
    zone = shown.zone_of(request)
    found = versions.select_related("recipe__position__line", "stock", "author")
    found = found.prefetch_related("bands", "products__product", "products__calculation")
    return [
        {
            "version": row,
            "label": queries.label_of(row),
            "products": ", ".join(each.product.code for each in _served(row)),
            "verdicts": _verdicts(_served(row)),
            "since": shown.local_text(row.in_force_at or row.drafted_at, zone),
        }
        for row in found
    ]


def _now_on(position: Any, mounting: Mounting | None, versions: list[Any]) -> tuple[Any, str]:
    """What is on the roller now, and its drawing."""
    if mounting is None:
        return None, ""
    fact = queries.newest_facts([mounting.body]).get(mounting.body_id)
    on = queries.on_roller(fact)
    step = position.steps.filter(path__in_use=True).select_related("position", "path").first()
    recipe = fact.recipe_version if fact and on.state == "taped" else None
    if step is None or on.state not in ("taped", "bare"):
        return on, ""
    picture = roller_picture(
        step,
        mounting.body,
        stock=recipe.stock if recipe else None,
        shapes=list(recipe.bands.all()) if recipe else [],
        versions=versions,
    )
    return on, roller_drawing(picture)


@require_GET
def position(request: HttpRequest, code: str) -> HttpResponse:
    """One position: what is on it, which recipes hold, which wait."""
    here = position_by_code(code)
    mounting = queries.mounted([here]).get(here.pk)
    mine = RecipeVersion.objects.filter(recipe__position=here)
    in_force = RecipeProduct.objects.filter(position=here, in_force=True)
    served = [
        row.calculation.product_version
        for row in in_force.select_related("calculation__product_version__product")
        if row.calculation
    ]
    on, drawing = _now_on(here, mounting, served)
    context = {
        "position": here,
        "mounting": mounting,
        "on": on,
        "drawing": drawing,
        "room_kind": room_kinds({here.room_id}, shown.moment_at(request))[here.room_id],
        "in_force": _rows(request, mine.filter(state=RecipeVersion.State.IN_FORCE)),
        "waiting": _rows(request, mine.filter(state__in=OPEN)),
        "past": _rows(request, mine.exclude(state__in=[*OPEN, RecipeVersion.State.IN_FORCE]).order_by("-pk")[:20]),
        "trail": [
            ("Lines", reverse("home")),
            (f"Line {here.line.code}", reverse("rollers:board", args=[here.line.code])),
            (here.code, ""),
        ],
    }
    return render(request, "rollers/recipes/position.html", context)


@require_GET
def recipes(request: HttpRequest) -> HttpResponse:
    """All recipes in force and all that wait, by line."""
    lines = list(Line.objects.all())
    chosen = request.GET.get("line", "")
    rows = RecipeVersion.objects.filter(state__in=[*OPEN, RecipeVersion.State.IN_FORCE])
    if chosen:
        rows = rows.filter(recipe__position__line__code=chosen)
    rows = rows.order_by("recipe__position__line", "recipe__position__order", "recipe__title", "-number")
    found = _rows(request, rows)
    context = {
        "lines": lines,
        "chosen": chosen,
        "in_force": [row for row in found if row["version"].state == RecipeVersion.State.IN_FORCE],
        "waiting": [row for row in found if row["version"].state in OPEN],
        "trail": [("Lines", reverse("home")), ("Recipes", "")],
    }
    return render(request, "rollers/recipes/list.html", context)
