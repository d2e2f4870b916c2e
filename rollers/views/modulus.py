"""The modulus a web has at its line strain: from pulled strips, and what a table would say."""

from typing import Any

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from calcs.modulus import line_strain_rows, table_modulus
from calcs.units import MPA, PCT
from plant.errors import Refused
from plant.floor import rules as floor_rules
from plant.floor.access import product_by_code
from plant.floor.models import Product, ProductVersion
from plant.floor.queries import current_version, plant_date
from plant.floor.services import revise_product
from plant.people.models import Role
from plant.people.requests import PersonRequest
from plant.web.refusing import keep_on_form
from plant.web.svg import Curve, CurvePlot, Post, curve_plot, curve_table
from plant.web.svg.curves import Stroke
from rollers.forms.modulus import StripsForm, TableForm, TakeOverForm
from rollers.services.files import kept
from rollers.strips import EXAMPLE, Found, found_in, strips_of

STROKES: tuple[Stroke, ...] = ("firm", "broken", "dotted")
BUILDERS = frozenset({Role.ENGINEER, Role.KEEPER})
FIELDS = [*floor_rules.PRODUCT_BOUNDS, "modulus_direction", "modulus_method", "modulus_on", "porous", "contact_side"]


def _curves(found: Found, version: ProductVersion) -> CurvePlot:
    """Every strip as stress over strain, with the line's own strain."""
    curves = tuple(
        Curve(
            strip.name,
            tuple(
                (place / strip.gauge_length / PCT, force / (strip.width * strip.thickness) / MPA)
                for place, force in zip(strip.extension, strip.force, strict=True)
            ),
            STROKES[number],
        )
        for number, strip in enumerate(found.strips[:3])
    )
    return CurvePlot(
        title="Stress over strain of the strips",
        curves=curves,
        x_name="strain, %",
        y_name="stress, MPa",
        posts=(Post(found.strain_pct, f"line strain {found.strain_pct:.3g} %"),),
        said=f"{len(found.strips)} strips; the first {len(curves)} are drawn.",
        audience="desk",
    )


def _table(form: TableForm) -> dict[str, Any]:
    if not form.is_valid() or not form.cleaned_data["material"]:
        return {}
    found = table_modulus(form.cleaned_data["material"])
    return {
        "low": found.span.low / MPA,
        "high": found.span.high / MPA,
        "flags": [flag.replace("*", "") for flag in found.flags],
    }


def _page(
    request: PersonRequest,
    product: Product,
    form: StripsForm,
    *,
    found: Found | None = None,
    take: TakeOverForm | None = None,
    status: int = 200,
) -> HttpResponse:
    version = current_version(product)
    table_form = TableForm(request.GET)
    context: dict[str, Any] = {
        "product": product,
        "version": version,
        "form": form,
        "take": take,
        "found": found,
        "table_form": table_form,
        "table": _table(table_form),
        "may_take": bool(BUILDERS & request.roles),
        "trail": [
            ("Start", reverse("home")),
            ("Products", reverse("floor:products")),
            (product.code, reverse("floor:product", args=[product.code])),
            ("Modulus", ""),
        ],
    }
    if found is not None:
        plot = _curves(found, version)
        pulls = [version.tension_min_n_per_m, version.tension_set_n_per_m, version.tension_max_n_per_m]
        context |= {
            "drawing": curve_plot(plot),
            "drawing_table": curve_table(plot),
            "over": [
                (tension, strain / PCT, modulus / MPA)
                for tension, strain, modulus in line_strain_rows(found.strips[0], sorted(set(pulls)))
            ],
            "change_pct": 100 * (found.value_mpa / version.modulus_md_mpa - 1),
        }
    return render(request, "rollers/modulus.html", context, status=status)


@require_http_methods(["GET", "POST"])
def modulus(request: PersonRequest, code: str) -> HttpResponse:
    """The page; files sent here are only looked at, and kept aside for a day."""
    product = product_by_code(code)
    if request.method != "POST":
        return _page(request, product, StripsForm())
    form = StripsForm(request.POST, request.FILES)
    if not form.is_valid():
        return _page(request, product, form, status=422)
    given = form.cleaned_data
    files = [(" ".join(str(one.name).split()), one.read()) for one in given["strips"]]
    try:
        found = found_in(
            strips_of(files),
            current_version(product),
            direction=given["direction"],
            web_temperature_c=given["web_temperature_c"],
            at=plant_date(request.at),
        )
    except Refused as refusal:
        return _page(request, product, form, status=keep_on_form(form, refusal))
    digests = [kept.keep(content, request.user, request.at) for _, content in files]
    first = {
        "digests": " ".join(digests),
        "names": "\n".join(name for name, _ in files),
        "direction": given["direction"],
        "web_temperature_c": given["web_temperature_c"],
        "seen_version": current_version(product).number,
        "reason": f"Modulus measured on {found.modulus.day}: {found.method}",
    }
    return _page(request, product, form, found=found, take=TakeOverForm(initial=first))


def _again(request: PersonRequest, product: Product, take: TakeOverForm) -> Found:
    """The files that were looked at, worked out again."""
    given = take.cleaned_data
    digests = given["digests"].split()
    names = given["names"].splitlines()
    if not digests or len(names) != len(digests):
        raise Refused("file-gone", "The files you looked at are not here any more. Choose them again.")
    files = [(name, kept.fetch(request.user, digest)) for name, digest in zip(names, digests, strict=True)]
    return found_in(
        strips_of(files),
        current_version(product),
        direction=given["direction"],
        web_temperature_c=given["web_temperature_c"],
        at=plant_date(request.at),
    )


@require_POST
def take_over(request: PersonRequest, code: str) -> HttpResponse:
    """Write the measured modulus as the next version of the product."""
    product, take = product_by_code(code), TakeOverForm(request.POST)
    found: Found | None = None
    status = 422
    if take.is_valid():
        try:
            found = _again(request, product, take)
            made = revise_product(
                product,
                values=found.values(current_version(product), FIELDS),
                reason=take.cleaned_data["reason"],
                confirmed=take.cleaned_data["confirmed"],
                seen_version=take.cleaned_data["seen_version"],
                by=request.user,
                at=request.at,
            )
        except Refused as refusal:
            status = keep_on_form(take, refusal)
        else:
            messages.success(request, f"{product.code} has version {made.number} with the measured modulus.")
            return redirect("floor:product", product.code)
    return _page(request, product, StripsForm(), found=found, take=take, status=status)


@require_safe
def example(request: PersonRequest, code: str) -> HttpResponse:
    """A file as it should look; the figures are invented."""
    response = HttpResponse(EXAMPLE, content_type="text/csv; charset=utf-8")
    response.headers["Content-Disposition"] = 'attachment; filename="strip-example.csv"'
    return response
