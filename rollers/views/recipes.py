"""Recipe versions: what they say, what is still needed, and each signature with the secret typed again."""

from collections.abc import Iterable
from typing import Any

from django.contrib import messages
from django.db.models import Prefetch
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.views.decorators.http import require_GET, require_POST

from plant.errors import Refused
from plant.people.models import Role
from plant.people.queries import people_with_role
from plant.web.refusing import keep_on_form
from plant.web.svg import bars, roller_drawing
from rollers import access, rules, web_in_span
from rollers.differences import differences, shape_of
from rollers.forms.signing import ApproveForm, ReasonForm, ReasonsForm
from rollers.models import RecipeProduct, RecipeVersion
from rollers.pictures import case_picture, check_bars
from rollers.queries import label_of
from rollers.rooms import room_kinds
from rollers.services import approving
from rollers.services import recipes as recipe_services
from rollers.slots import said_of
from rollers.views import shown
from training.queries import is_certified, who_may

LIVE = (RecipeVersion.State.DRAFT, RecipeVersion.State.CHECKED, RecipeVersion.State.IN_FORCE)
ACTS = {
    rules.SECOND: "Sign as second person with Size",
    rules.APPROVED: "Approve for use",
    rules.QA_APPROVED: "Approve as QA",
}


def _kind(request: HttpRequest, version: RecipeVersion) -> str:
    room = version.recipe.position.room_id
    return room_kinds({room}, shown.moment_at(request))[room]


def asked_reasons(version: RecipeVersion) -> dict[str, dict[str, dict[str, Any]]]:
    """Checks whose caution needs a reason: product code, check id, check. A bare roller needs none."""
    if version.stock is None:
        return {}
    found = {
        row.product.code: {
            check["id"]: check
            for check in (row.calculation.result["checks"] if row.calculation else [])
            if check["verdict"] in approving.OPEN_VERDICTS
        }
        for row in version.products.all()
    }
    return {code: checks for code, checks in found.items() if checks}


def _needed(request: HttpRequest, version: RecipeVersion, given: frozenset[str]) -> list[dict[str, Any]]:
    """What is still needed, who can, and whether the person signed in may."""
    at, person, kind = shown.moment_at(request), shown.person_of(request), _kind(request, version)
    roles, signers = shown.roles_held(request), {row.person_id for row in approving.given_signatures(version).values()}
    rows = []
    for needed in rules.signatures_needed(
        room_kind=kind,
        cautions=bool(version.reasons or asked_reasons(version)),
        bare=version.stock is None,
        given=given,
    ):
        able = {
            rules.AUTHORED: lambda: person.pk == version.author_id,
            rules.SECOND: lambda: is_certified(person, "size", kind, at),
            rules.APPROVED: lambda: Role.SUPERVISOR in roles,
            rules.QA_APPROVED: lambda: Role.QA in roles,
        }[needed.meaning]
        other = needed.meaning != rules.AUTHORED
        free = not other or (person.pk != version.author_id and person.pk not in signers)
        rows.append(
            {
                "meaning": needed.meaning,
                "who": needed.who,
                "names": _names(needed.meaning, version, kind, request),
                "mine": free and able(),
            }
        )
    return rows


def _names(meaning: str, version: RecipeVersion, kind: str, request: HttpRequest) -> str:
    at = shown.moment_at(request)
    if meaning == rules.AUTHORED:
        people: Iterable[Any] = [version.author]
    elif meaning == rules.SECOND:
        people = who_may("size", kind, at, excluding=[version.author])
    else:
        role = Role.SUPERVISOR if meaning == rules.APPROVED else Role.QA
        people = [one for one in people_with_role(role, at=at) if one.pk != version.author_id]
    return ", ".join(one.name for one in people) or "nobody on this shift"


def _product_parts(version: RecipeVersion) -> list[dict[str, Any]]:
    parts = []
    for number, row in enumerate(version.products.all()):
        result = row.calculation.result if row.calculation else None
        reasons = version.reasons.get(row.product.code, {})
        checks = result["checks"] if result else []
        parts.append(
            {
                "row": row,
                "result": result,
                "check_rows": shown.check_rows(result) if result else [],
                "span": web_in_span.stored_parts(row.product.code, result),
                "bars": bars(check_bars(row.product.code, result, key=f"bars-{number}")) if result else "",
                "open": [
                    check | {"reason": reasons.get(check["id"], "")}
                    for check in checks
                    if check["verdict"] in approving.OPEN_VERDICTS
                ],
                "refused": [check for check in checks if check["verdict"] == "refused"],
                "is_outdated": bool(row.calculation and not row.calculation.product_version.current),
            }
        )
    return parts


def _drawing(version: RecipeVersion, key: str = "") -> str:
    row: RecipeProduct | None = next((row for row in version.products.all() if row.calculation), None)
    if row is None or row.calculation is None:
        return ""
    picture = case_picture(
        version.step,
        row.calculation.case,
        stock=version.stock,
        shapes=list(version.bands.all()),
        product=row.product.code,
        key=key,
    )
    return roller_drawing(picture)


def _history(request: HttpRequest, version: RecipeVersion) -> list[dict[str, Any]]:
    rows = RecipeVersion.objects.filter(recipe=version.recipe_id).select_related("stock", "author", "recipe")
    rows = rows.prefetch_related("bands", Prefetch("products", RecipeProduct.objects.select_related("product")))
    found, zone = list(rows.order_by("-number")), shown.zone_of(request)
    history = []
    for row, before in zip(found, [*found[1:], None], strict=True):
        changed = differences(shape_of(before), shape_of(row)) if before else []
        history.append(
            {
                "version": row,
                "label": label_of(row),
                "drafted": shown.local_text(row.drafted_at, zone),
                "in_force": shown.local_text(row.in_force_at, zone),
                "ended": shown.local_text(row.ended_at, zone),
                "changes": changed
                or (["first version"] if before is None else ["nothing but the data it was computed from"]),
                "is_here": row.pk == version.pk,
            }
        )
    return history


def _page(
    request: HttpRequest,
    version: RecipeVersion,
    *,
    author_form: ReasonsForm | None = None,
    approve_form: ApproveForm | None = None,
    withdraw_form: ReasonForm | None = None,
    status: int = 200,
) -> HttpResponse:
    position, person = version.recipe.position, shown.person_of(request)
    given = approving.given_signatures(version)
    needed = [] if version.state not in LIVE else _needed(request, version, frozenset(given))
    is_draft = version.state == RecipeVersion.State.DRAFT
    asks_me = [row for row in needed if row["mine"] and (row["meaning"] == rules.AUTHORED) == is_draft]
    parts = _product_parts(version)
    refused = [check for part in parts for check in part["refused"]] if version.stock else []
    reasons_form = author_form
    if reasons_form is None and is_draft and asks_me:
        reasons_form = ReasonsForm(asked=asked_reasons(version), initial=_typed_before(version))
    may_withdraw = version.state in LIVE and (
        bool({Role.SUPERVISOR, Role.QA, Role.ENGINEER} & shown.roles_held(request))
        or (is_draft and version.author_id == person.pk)
    )
    zone = shown.zone_of(request)
    context = {
        "version": version,
        "position": position,
        "label": label_of(version),
        "trail": [
            ("Recipes", reverse("rollers:recipes")),
            (position.code, shown.roller_url(position.code)),
            (f"{version.recipe.title} v{version.number}", ""),
        ],
        "drawing": _drawing(version),
        "drawing_cells": [
            ("Tape", f"{version.stock.code}, {version.stock.thickness_mm:g} mm" if version.stock else "none"),
            ("Path", version.step.path.name),
            ("Version", version.number),
        ],
        "products": parts,
        "bands": sorted(version.bands.all(), key=lambda band: (band.end != "operator", band.inner_mm)),
        "signatures": shown.signed(given.values(), approving.content_of(version)) if given else [],
        "needed": needed,
        "asks_me": asks_me,
        "is_refused": bool(refused),
        "author_form": reasons_form,
        "approve_form": approve_form,
        "approve_forms": [] if is_draft else _approve_forms(asks_me, approve_form),
        "withdraw_form": withdraw_form or ReasonForm(auto_id="id_withdraw_%s"),
        "may_withdraw": may_withdraw,
        "may_copy": version.stock is not None and Role.GUEST not in shown.roles_held(request),
        "is_author": version.author_id == person.pk,
        "person": person,
        "roles_text": shown.roles_text(request),
        "drafted": shown.local_text(version.drafted_at, zone),
        "in_force_since": shown.local_text(version.in_force_at, zone),
        "ended": shown.local_text(version.ended_at, zone),
        "history": _history(request, version),
        "said_of_place": said_of(position, [row.product for row in version.products.all()]),
    }
    return render(request, "rollers/recipes/version.html", context, status=status)


def _typed_before(version: RecipeVersion) -> dict[str, str]:
    return {
        f"reason-{code}-{check}": reason
        for code, reasons in version.reasons.items()
        for check, reason in reasons.items()
    }


def _approve_forms(asks_me: list[dict[str, Any]], sent: ApproveForm | None) -> list[dict[str, Any]]:
    forms = []
    for number, row in enumerate(asks_me):
        meaning = row["meaning"]
        mine = sent if sent is not None and sent.data.get("meaning") == meaning else None
        form = mine or ApproveForm(initial={"meaning": meaning}, auto_id=f"id_{number}_%s")
        forms.append({"meaning": meaning, "action": ACTS[meaning], "form": form})
    return forms


@require_GET
def recipe(request: HttpRequest, pk: int) -> HttpResponse:
    """One version."""
    return _page(request, access.recipe_version(pk))


@require_POST
def check(request: HttpRequest, pk: int) -> HttpResponse:
    """The author signs, with a reason for every caution."""
    version = access.recipe_version(pk)
    form, status = ReasonsForm(request.POST, asked=asked_reasons(version)), 422
    if form.is_valid():
        try:
            confirmation = shown.confirm(request, form.cleaned_data["secret"])
            approving.check_recipe(version, reasons=form.reasons, confirmation=confirmation)
        except Refused as refusal:
            status = keep_on_form(form, refusal)
        else:
            messages.success(request, "Signed as author. It waits for the signatures named below.")
            return redirect("rollers:recipe", pk)
    return _page(request, access.recipe_version(pk), author_form=form, status=status)


@require_POST
def approve(request: HttpRequest, pk: int) -> HttpResponse:
    """One more signature. Whoever may not gets the sentence, whatever the page offered."""
    version, form, status = access.recipe_version(pk), ApproveForm(request.POST), 422
    if form.is_valid():
        try:
            confirmation = shown.confirm(request, form.cleaned_data["secret"])
            signed = approving.approve_recipe(version, meaning=form.cleaned_data["meaning"], confirmation=confirmation)
        except Refused as refusal:
            status = keep_on_form(form, refusal)
        else:
            in_force = signed.state == RecipeVersion.State.IN_FORCE
            messages.success(request, "Signed. It is in force now." if in_force else "Signed. More signatures follow.")
            return redirect("rollers:recipe", pk)
    return _page(request, access.recipe_version(pk), approve_form=form, status=status)


@require_POST
def withdraw(request: HttpRequest, pk: int) -> HttpResponse:
    """Out of force, at once, with the reason."""
    version, form = access.recipe_version(pk), ReasonForm(request.POST, auto_id="id_withdraw_%s")
    if not form.is_valid():
        return _page(request, version, withdraw_form=form, status=422)
    try:
        recipe_services.withdraw_recipe(
            version,
            reason=form.cleaned_data["reason"],
            by=shown.person_of(request),
            at=shown.moment_at(request),
        )
    except Refused as refusal:
        return _page(request, access.recipe_version(pk), withdraw_form=form, status=keep_on_form(form, refusal))
    messages.success(request, "Withdrawn. It holds for no product any more.")
    return redirect("rollers:recipe", pk)
