"""Products and their versions."""

from typing import Any

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.views.decorators.http import require_http_methods, require_safe

from plant.floor import access, forms, queries, rules
from plant.floor.models import Line, ProductVersion
from plant.floor.services import enter_product, revise_product
from plant.floor.views.lines import units_of
from plant.floor.views.rooms import BUILDERS
from plant.people.gates import for_roles
from plant.people.models import Role
from plant.people.requests import PersonRequest
from plant.web.asking import ask
from plant.web.forms import as_typed
from plant.web.quantities import shown_digits, stored_unit, typed_of, unit_sign


def strains(version: ProductVersion) -> tuple[float, float]:
    """Line strain at lowest and highest tension, percent."""
    low, high = version.tension_min_n_per_m, version.tension_max_n_per_m
    stiff, thick = version.modulus_md_mpa, version.thickness_um
    return rules.line_strain_pct(low, stiff, thick), rules.line_strain_pct(high, stiff, thick)


@require_safe
def products(request: PersonRequest) -> HttpResponse:
    """Every product with its present figures."""
    versions = queries.current_versions().prefetch_related("product__lines")
    context = {
        "rows": [{"version": version, "strain": strains(version)} for version in versions],
        "may_build": bool(BUILDERS & request.roles),
        "has_lines": Line.objects.exists(),
        "trail": [("Start", reverse("home")), ("Products", "")],
    }
    return render(request, "floor/products.html", context)


def _figure_rows(version: ProductVersion) -> list[tuple[str, str, str]]:
    """Label, figure in its stored unit, and what was typed where that differs."""
    rows = []
    for field, label in forms.ProductForm.figures.items():
        number, typed = getattr(version, field), typed_of(version, field)
        unit = unit_sign(stored_unit(field)[1])
        shown = f"{shown_digits(number)} {unit}".strip() if number is not None else ""
        as_typed_text = f"{typed.value} {unit_sign(typed.unit)}".strip() if typed else ""
        rows.append((label, shown, as_typed_text if as_typed_text != shown else ""))
    return rows


@require_safe
def product(request: PersonRequest, code: str) -> HttpResponse:
    """A product: its figures, what is doubtful, and its versions."""
    found = access.product_by_code(code)
    versions = list(found.versions.order_by("-number"))
    wanted = request.GET.get("version", "")
    version = next((v for v in versions if str(v.number) == wanted), versions[0])
    context = {
        "product": found,
        "version": version,
        "versions": versions,
        "figures": _figure_rows(version),
        "strain": strains(version),
        "notes": queries.version_notes(version, request.at),
        "may_build": bool(BUILDERS & request.roles),
        "trail": [("Start", reverse("home")), ("Products", reverse("floor:products")), (found.code, "")],
    }
    return render(request, "floor/product.html", context)


@require_http_methods(["GET", "POST"])
@for_roles(Role.ENGINEER, Role.KEEPER, act="Entering a product")
def new_product(request: PersonRequest) -> HttpResponse:
    """Enter a product."""
    form = forms.NewProductForm(request.POST or None, units=units_of(request))

    def act(filled: forms.NewProductForm) -> HttpResponse:
        given = filled.cleaned_data
        version = enter_product(
            **{name: given[name] for name in ("code", "name", "family", "confirmed")},
            lines=list(given["lines"]),
            values=filled.version_values(),
            by=request.user,
            at=request.at,
        )
        messages.success(request, f"Product {version.product.code} is entered.")
        return redirect("floor:product", version.product.code)

    trail = [("Start", reverse("home")), ("Products", reverse("floor:products")), ("New product", "")]
    back = reverse("floor:products")
    return ask(request, form, act, heading="New product", trail=trail, back=back)


@require_http_methods(["GET", "POST"])
@for_roles(Role.ENGINEER, Role.KEEPER, act="Changing a product")
def revise(request: PersonRequest, code: str) -> HttpResponse:
    """Changed figures become the next version; the old one stays."""
    found = access.product_by_code(code)
    version = queries.current_version(found)
    first: dict[str, Any] = {name: getattr(version, name) for name in forms.ProductForm.TEXTS}
    first |= as_typed(version, forms.ProductForm.figures)
    first |= {"lines": found.lines.all(), "seen_version": version.number}
    form = forms.ReviseProductForm(request.POST or None, units=units_of(request), initial=first)

    def act(filled: forms.ReviseProductForm) -> HttpResponse:
        given = filled.cleaned_data
        made = revise_product(
            found,
            values=filled.version_values(),
            lines=list(given["lines"]),
            confirmed=given["confirmed"],
            seen_version=given["seen_version"],
            reason=given["reason"],
            by=request.user,
            at=request.at,
        )
        messages.success(request, f"{found.code} has version {made.number} now; version {version.number} is kept.")
        return redirect("floor:product", found.code)

    return ask(
        request,
        form,
        act,
        heading=f"Change {found.code}",
        lede=f"Saving makes version {version.number + 1}. Every recipe that uses {found.code} then needs a re-check.",
        trail=[("Start", reverse("home")), ("Products", reverse("floor:products")), (found.code, "")],
        back=reverse("floor:product", args=[found.code]),
        action="Save as a new version",
    )
