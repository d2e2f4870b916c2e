"""A recipe for another roller: sized anew, old and new side by side."""

from dataclasses import replace
from typing import Any

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.views.decorators.http import require_http_methods

from calcs.case import parse_case
from calcs.verdict import check_many
from plant.errors import Refused
from plant.floor.models import PathStep
from plant.web.refusing import keep_on_form
from plant.web.svg import roller_drawing
from rollers import access
from rollers.cases import TypedBand
from rollers.forms.copying import CopyForm
from rollers.models import RecipeVersion
from rollers.pictures import case_picture
from rollers.queries import label_of
from rollers.readiness import present_limits
from rollers.services import recipes as recipe_services
from rollers.views import shown


def _steps(version: RecipeVersion) -> list[PathStep]:
    """Rollers that may carry tape, on lines that run the recipe's products."""
    products = [row.product_id for row in version.products.all()]
    steps = PathStep.objects.filter(path__in_use=True, path__line__products__in=products)
    steps = steps.exclude(position=version.recipe.position).select_related("position", "path__line").distinct()
    return [step for step in steps.order_by("path__line", "order") if not step.position.never_taped]


def _beside(version: RecipeVersion, step: PathStep) -> dict[str, Any]:
    """Old and new, product by product; the new one computed now for that roller."""
    bands, suggestion = recipe_services.copy_to_position(version, step)
    stock = version.stock if bands else None
    rows = list(version.products.all())
    cases = [
        recipe_services.case_of(recipe_services.current_version(row.product), step, stock=stock, bands=bands)
        for row in rows
    ]
    results = [found.as_dict() for found in check_many([parse_case(case) for case in cases], present_limits())]
    old = next((row.calculation for row in rows if row.calculation), None)
    return {
        "step": step,
        "bands": bands,
        "suggestion": suggestion,
        "new_label": f"{version.stock.code} × {suggestion.wraps}" if bands and version.stock else "bare",
        "pairs": [
            {"row": row, "old": row.calculation.result if row.calculation else None, "new": result}
            for row, result in zip(rows, results, strict=True)
        ],
        "old_case": old.case if old else None,
        "new_case": cases[0],
        "old_drawing": _drawing(version.step, old.case, version, list(version.bands.all()), "old") if old else "",
        "new_drawing": _drawing(step, cases[0], version, bands, "new"),
    }


def _drawing(step: PathStep, case: dict[str, Any], version: RecipeVersion, bands: list[Any], key: str) -> str:
    picture = case_picture(step, case, stock=version.stock, shapes=bands, key=f"copy-{key}")
    return roller_drawing(replace(picture, audience="tablet"))


def _draft(request: HttpRequest, version: RecipeVersion, step: PathStep, title: str) -> RecipeVersion:
    bands: list[TypedBand]
    bands, _ = recipe_services.copy_to_position(version, step)
    return recipe_services.draft_recipe(
        step=step,
        title=title,
        products=[row.product for row in version.products.all()],
        stock=version.stock if bands else None,
        bands=bands,
        by=shown.person_of(request),
        at=shown.moment_at(request),
        note=f"Sized anew from {version.recipe.position}, version {version.number}.",
    )


@require_http_methods(["GET", "POST"])
def copy(request: HttpRequest, pk: int) -> HttpResponse:
    """Choose the roller, look at both, draft there."""
    version = access.recipe_version(pk)
    steps = _steps(version)
    sent = request.POST if request.method == "POST" else request.GET if "step" in request.GET else None
    form = CopyForm(sent, steps=steps)
    context: dict[str, Any] = {
        "version": version,
        "label": label_of(version),
        "form": form,
        "steps": steps,
        "trail": [
            ("Recipes", reverse("rollers:recipes")),
            (f"{version.recipe.position.code}: {version.recipe.title}", reverse("rollers:recipe", args=[pk])),
            ("For another roller", ""),
        ],
    }
    status = 200
    if sent is not None:
        status = 200 if request.method == "GET" else 422
        if form.is_valid():
            try:
                step = next((one for one in steps if one.pk == form.cleaned_data["step"]), None)
                if step is None:
                    raise Refused("no-step", "Choose a roller from the list.", field="step")
                context |= _beside(version, step)
                context["title"] = form.cleaned_data["title"] or version.recipe.title
                if request.method == "POST":
                    made = _draft(request, version, step, form.cleaned_data["title"])
                    messages.success(request, f"Drafted for {step.position}. It holds nowhere until it is signed.")
                    return redirect("rollers:recipe", made.pk)
            except Refused as refusal:
                status = keep_on_form(form, refusal)
    return render(request, "rollers/recipes/copy.html", context, status=status)
