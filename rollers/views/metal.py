"""Tape to metal: the profile that stands for a recipe in force, the table for the lathe, and why not to cut."""

from dataclasses import dataclass, replace
from typing import Any

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.urls import reverse
from django.views.decorators.http import require_GET

from calcs.case import CaseError, parse_case
from calcs.lathe import lathe_csv, lathe_rows
from calcs.metal import SHAPES, Cut, Metal, sentences, tape_to_metal
from calcs.metal import STANDING as METAL_STANDING
from calcs.units import MM, UM
from plant.errors import Refused
from plant.floor.models import ProductVersion
from plant.floor.queries import current_versions
from plant.web.svg import lathe_profile, lathe_table
from rollers import access
from rollers.cases import case_for
from rollers.metal import Proof, lathe_picture
from rollers.models import RecipeVersion, TapeFact
from rollers.queries import label_of
from rollers.readiness import present_limits
from rollers.services.recipes import case_of, current_version
from rollers.views import shown


@dataclass(frozen=True)
class Worked:
    """The answer for one recipe version and one of its products."""

    proven: ProductVersion
    metal: Metal
    cut: Cut
    gates: list[str]


def proof_of(version: RecipeVersion, request: HttpRequest) -> Proof:
    """What the shop floor's record says."""
    facts = TapeFact.objects.filter(recipe_version=version)
    return Proof(
        version.in_force_at,
        version.state == RecipeVersion.State.IN_FORCE,
        facts.filter(kind=TapeFact.Kind.APPLIED).count(),
        facts.filter(kind=TapeFact.Kind.MEASURED).count(),
        shown.moment_at(request),
    )


def _proven(version: RecipeVersion, code: str) -> ProductVersion:
    """The product whose web is matched: the one asked for, else the first that the version serves."""
    products = [row.product for row in version.products.all()]
    chosen = next((product for product in products if product.code == code), products[0] if products else None)
    if chosen is None:
        raise Refused("no-product", "This recipe serves no product, so there is nothing to match. Draft one that does.")
    return current_version(chosen)


def worked_out(request: HttpRequest, version: RecipeVersion) -> Worked:
    """Profiles for the recipe, judged over every product permitted on the line.

    Raises
    ------
    Refused
        The recipe is bare, one-ended, or something is missing; the sentence says what.
    """
    position = version.recipe.position
    if version.stock is None:
        raise Refused("bare", "A bare recipe has no profile: there is nothing to turn into metal.")
    proven = _proven(version, request.GET.get("product", ""))
    case = case_of(proven, version.step, stock=version.stock, bands=version.bands.all())
    body = access.mounting_at(position).body
    others = list(current_versions().filter(product__lines=position.line).exclude(product=proven.product))
    tilt = case["roller"].get("misalignment_mm_per_m")
    cases = [case_for(other, version.step, body, misalignment=tilt) for other in others]
    try:
        metal = tape_to_metal(
            parse_case(case),
            [parse_case(other) for other in cases],
            present_limits(),
            names=[one.product.code for one in (proven, *others)],
        )
        shape = request.GET.get("shape") or metal.best.shape
        cut = metal.cut(shape)
    except CaseError as trouble:
        raise Refused("cannot-compute", trouble.sentence) from None
    return Worked(proven, metal, cut, proof_of(version, request).reasons)


def _shapes(found: Worked) -> list[dict[str, Any]]:
    return [
        {
            "cut": cut,
            "is_best": cut is found.metal.best,
            "is_here": cut is found.cut,
            "rise_um": cut.rise / UM,
            "edge_pct": 100 * cut.edge_strain,
            "loss_pct": 100 * cut.centre_loss,
            "cd_kpa": cut.cd_mean / 1e3,
            "cd_rms_kpa": cut.cd_rms / 1e3,
            "strain_rms_pct": 100 * cut.strain_rms,
        }
        for cut in found.metal.cuts
    ]


def _answer(request: HttpRequest, version: RecipeVersion) -> dict[str, Any]:
    found = worked_out(request, version)
    metal, cut = found.metal, found.cut
    picture = lathe_picture(version.recipe.position.code, metal, cut)
    against = list(metal.against)
    if against:
        word, plate = "Do not cut a profile for this roller", "refused"
    elif found.gates:
        word, plate = f"Not yet: {cut.shape} would be {cut.verdict}", "caution"
    else:
        word, plate = f"{cut.shape.capitalize()}: {cut.verdict}", cut.verdict
    return {
        "found": found,
        "plate": plate,
        "plate_word": word,
        "against": [(sentence, "refused") for sentence in against]
        + [(sentence, "caution") for sentence in found.gates],
        "said": [sentence for sentence in sentences(metal) if sentence not in against],
        "shapes": _shapes(found),
        "tape": {
            "edge_pct": 100 * metal.tape_edge_strain,
            "loss_pct": 100 * metal.tape_centre_loss,
            "cd_kpa": metal.tape_cd_mean / 1e3,
        },
        "drawing": lathe_profile(picture),
        "table": lathe_table(picture),
        "words": [{"word": word, "strain_pct": 100 * word.line_strain} for word in cut.products],
        "rows": [tuple(f"{value / MM:.3f}" for value in row) for row in lathe_rows(metal, cut)],
        "tolerance_mm": metal.tolerance / MM,
        "products": [row.product.code for row in version.products.all()],
        "product": found.proven.product.code,
        "shape": cut.shape,
        "standing": METAL_STANDING,
    }


@require_GET
def metal(request: HttpRequest, pk: int) -> HttpResponse:
    """The page."""
    version = access.recipe_version(pk)
    position = version.recipe.position
    context: dict[str, Any] = {
        "version": version,
        "position": position,
        "label": label_of(version),
        "shape_names": SHAPES,
        "trail": [
            ("Recipes", reverse("rollers:recipes")),
            (position.code, shown.roller_url(position.code)),
            (f"{version.recipe.title} v{version.number}", reverse("rollers:recipe", args=[pk])),
            ("Into metal", ""),
        ],
    }
    try:
        context |= _answer(request, version)
    except Refused as refusal:
        context |= {"why_not": refusal.sentence}
    return render(request, "rollers/metal.html", context)


@require_GET
def lathe(request: HttpRequest, pk: int) -> HttpResponse:
    """The table for the lathe as CSV, with every reason against cutting on top."""
    version = access.recipe_version(pk)
    found = worked_out(request, version)
    text = lathe_csv(replace(found.metal, against=(*found.metal.against, *found.gates)), found.cut)
    response = HttpResponse(text, content_type="text/csv; charset=utf-8")
    name = f"{version.recipe.position.code}-{found.cut.shape}-v{version.number}.csv"
    response.headers["Content-Disposition"] = f'attachment; filename="{name}"'
    return response
