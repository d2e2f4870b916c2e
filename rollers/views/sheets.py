"""Product sheets: the supervisor's one document per product and path."""

from typing import Any

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from plant.audit.models import Signature
from plant.errors import Refused
from plant.floor.access import product_by_code
from plant.floor.models import Position, Product, WebPath
from plant.floor.queries import path_steps
from plant.people.gates import for_roles
from plant.people.models import Role
from plant.web.refusing import keep_on_form
from rollers import access
from rollers.forms.sheets import SheetForm
from rollers.forms.signing import ReasonForm, SecretForm
from rollers.models import ProductSheet, RecipeProduct, RecipeVersion
from rollers.queries import label_of
from rollers.services import sheets as sheet_services
from rollers.views import shown

LIVE = (ProductSheet.State.DRAFT, ProductSheet.State.IN_FORCE)


@require_GET
def sheets(request: HttpRequest) -> HttpResponse:
    """Every product on every path it may run, with its sheet."""
    live = ProductSheet.objects.filter(state__in=LIVE).select_related("author")
    by_place: dict[tuple[int, int], dict[str, ProductSheet]] = {}
    for sheet in live:
        by_place.setdefault((sheet.product_id, sheet.path_id), {})[sheet.state] = sheet
    zone = shown.zone_of(request)
    rows = []
    for path in WebPath.objects.filter(in_use=True).select_related("line").prefetch_related("line__products"):
        for product in path.line.products.all():
            here = by_place.get((product.pk, path.pk), {})
            in_force = here.get(ProductSheet.State.IN_FORCE)
            rows.append(
                {
                    "path": path,
                    "product": product,
                    "in_force": in_force,
                    "draft": here.get(ProductSheet.State.DRAFT),
                    "since": shown.local_text(in_force.in_force_at, zone) if in_force else "",
                }
            )
    context = {
        "rows": rows,
        "may_draft": Role.SUPERVISOR in shown.roles_held(request),
        "trail": [("Lines", reverse("home")), ("Product sheets", "")],
    }
    return render(request, "rollers/sheets/list.html", context)


def _offers(product: Product, path: WebPath) -> dict[Position, list[tuple[RecipeVersion, str]]]:
    """The recipes in force for this product, by position of the path that may carry tape."""
    rows = RecipeProduct.objects.filter(product=product, in_force=True).select_related(
        "version__recipe", "version__stock"
    )
    by_position: dict[int, list[tuple[RecipeVersion, str]]] = {}
    for row in rows.prefetch_related("version__bands"):
        by_position.setdefault(row.position_id, []).append((row.version, label_of(row.version)))
    return {
        step.position: by_position.get(step.position_id, [])
        for step in path_steps(path)
        if not step.position.never_taped
    }


def _last_said(product: Product, path: WebPath) -> dict[int, RecipeVersion] | None:
    """What the draft or the sheet in force says, by position."""
    last = (
        ProductSheet.objects.filter(product=product, path=path, state__in=LIVE)
        .order_by("-number")
        .prefetch_related(
            "lines__recipe_version__recipe", "lines__recipe_version__stock", "lines__recipe_version__bands"
        )
        .first()
    )
    return {line.position_id: line.recipe_version for line in last.lines.all()} if last else None


def _as_it_was(
    said: dict[int, RecipeVersion] | None, offers: dict[Position, list[tuple[RecipeVersion, str]]]
) -> dict[str, str]:
    """What was said last, where it still holds; where it does not, the recipe that came in its place."""
    chosen = {}
    for position, rows in offers.items():
        last = said.get(position.pk) if said else None
        held = {version.pk for version, _ in rows}
        if last is not None and last.pk in held:
            chosen[f"position-{position.pk}"] = str(last.pk)
        elif rows and (said is None or last is not None):
            chosen[f"position-{position.pk}"] = str(rows[0][0].pk)
    return chosen


def _gone(
    said: dict[int, RecipeVersion] | None, offers: dict[Position, list[tuple[RecipeVersion, str]]]
) -> dict[int, str]:
    """Recipes that were said last and do not hold any more, by position."""
    held = {version.pk for rows in offers.values() for version, _ in rows}
    return {place: label_of(last) for place, last in (said or {}).items() if last.pk not in held}


@require_http_methods(["GET", "POST"])
@for_roles(Role.SUPERVISOR, act="Assigning recipes to a product")
def edit(request: HttpRequest, code: str, path_pk: int) -> HttpResponse:
    """Choose for every position, and draft the sheet."""
    product, path = product_by_code(code), access.path(path_pk)
    offers, said, status = _offers(product, path), _last_said(product, path), 200
    if request.method == "POST":
        form = SheetForm(request.POST, offers=offers)
        status = 422
        if form.is_valid():
            try:
                sheet = sheet_services.draft_sheet(
                    product=product,
                    path=path,
                    choices=form.choices,
                    by=shown.person_of(request),
                    at=shown.moment_at(request),
                )
            except Refused as refusal:
                status = keep_on_form(form, refusal)
            else:
                messages.success(request, "Drafted. It holds once it is signed below.")
                return redirect("rollers:sheet", sheet.pk)
    else:
        form = SheetForm(offers=offers, initial=_as_it_was(said, offers))
    gone = _gone(said, offers)
    rows = [
        {
            "step": step,
            "gone": gone.get(step.position_id, ""),
            "bound": form[f"position-{step.position_id}"] if not step.position.never_taped else None,
            "has_recipe": bool(offers.get(step.position)),
        }
        for step in path_steps(path)
    ]
    context = {
        "product": product,
        "path": path,
        "form": form,
        "rows": rows,
        "may_draft": Role.SUPERVISOR in shown.roles_held(request),
        "trail": [
            ("Product sheets", reverse("rollers:sheets")),
            (f"{product} on {path}", ""),
        ],
    }
    return render(request, "rollers/sheets/edit.html", context, status=status)


def _page(
    request: HttpRequest,
    sheet: ProductSheet,
    *,
    sign_form: SecretForm | None = None,
    withdraw_form: ReasonForm | None = None,
    status: int = 200,
) -> HttpResponse:
    zone, roles = shown.zone_of(request), shown.roles_held(request)
    lines = {line.position_id: line.recipe_version for line in sheet.lines.all()}
    rows: list[dict[str, Any]] = [
        {
            "position": step.position,
            "version": lines.get(step.position_id),
            "label": label_of(lines[step.position_id]) if step.position_id in lines else "bare",
            "outdated": step.position_id in lines and lines[step.position_id].state != RecipeVersion.State.IN_FORCE,
        }
        for step in path_steps(sheet.path)
    ]
    signatures = Signature.objects.filter(subject_type="productsheet", subject_id=str(sheet.pk))
    is_draft = sheet.state == ProductSheet.State.DRAFT
    others = ProductSheet.objects.filter(product=sheet.product, path=sheet.path).select_related("author")
    context = {
        "sheet": sheet,
        "rows": rows,
        "signatures": shown.signed(signatures, sheet_services.content_of(sheet)),
        "is_draft": is_draft,
        "may_sign": is_draft and Role.SUPERVISOR in roles,
        "may_withdraw": sheet.state in LIVE and bool({Role.SUPERVISOR, Role.QA} & roles),
        "sign_form": sign_form or SecretForm(),
        "withdraw_form": withdraw_form or ReasonForm(auto_id="id_withdraw_%s"),
        "person": shown.person_of(request),
        "roles_text": shown.roles_text(request),
        "drafted": shown.local_text(sheet.drafted_at, zone),
        "in_force_since": shown.local_text(sheet.in_force_at, zone),
        "ended": shown.local_text(sheet.ended_at, zone),
        "versions": [
            {
                "sheet": other,
                "in_force": shown.local_text(other.in_force_at, zone),
                "ended": shown.local_text(other.ended_at, zone),
            }
            for other in others
        ],
        "trail": [
            ("Product sheets", reverse("rollers:sheets")),
            (
                f"{sheet.product} on {sheet.path}",
                reverse("rollers:edit-sheet", args=[sheet.product.code, sheet.path_id]),
            ),
            (f"version {sheet.number}", ""),
        ],
    }
    return render(request, "rollers/sheets/sheet.html", context, status=status)


@require_GET
def sheet(request: HttpRequest, pk: int) -> HttpResponse:
    """One version of a sheet."""
    return _page(request, access.sheet(pk))


@require_POST
def sign(request: HttpRequest, pk: int) -> HttpResponse:
    """The supervisor signs; one document, one signature."""
    found, form, status = access.sheet(pk), SecretForm(request.POST), 422
    if form.is_valid():
        try:
            confirmation = shown.confirm(request, form.cleaned_data["secret"])
            sheet_services.sign_sheet(found, confirmation=confirmation)
        except Refused as refusal:
            status = keep_on_form(form, refusal)
        else:
            messages.success(request, "Signed. The sheet is in force.")
            return redirect("rollers:sheet", pk)
    return _page(request, access.sheet(pk), sign_form=form, status=status)


@require_POST
def withdraw(request: HttpRequest, pk: int) -> HttpResponse:
    """Out of force, with the reason; the positions are undecided until a new sheet is signed."""
    found, form = access.sheet(pk), ReasonForm(request.POST, auto_id="id_withdraw_%s")
    if not form.is_valid():
        return _page(request, found, withdraw_form=form, status=422)
    try:
        sheet_services.withdraw_sheet(
            found,
            reason=form.cleaned_data["reason"],
            by=shown.person_of(request),
            at=shown.moment_at(request),
        )
    except Refused as refusal:
        return _page(request, access.sheet(pk), withdraw_form=form, status=keep_on_form(form, refusal))
    messages.success(request, "Withdrawn. The positions of this path are undecided for the product now.")
    return redirect("rollers:sheet", pk)
