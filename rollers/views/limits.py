"""The limits in force, each with its source; engineer and QA change them together."""

from typing import Any

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.views.decorators.http import require_GET, require_http_methods

from calcs.case import parse_case
from calcs.limits import DEFAULT, Limits
from calcs.verdict import check_many
from plant.audit.services import Confirmation
from plant.errors import Refused
from plant.people.access import person_by_number
from plant.people.gates import for_roles
from plant.people.models import Role
from plant.people.services import confirm_secret
from plant.web.refusing import keep_on_form
from rollers.forms.limits import LEVELS, LimitsForm
from rollers.models import LimitSet, RecipeProduct
from rollers.readiness import present_limits
from rollers.services.calculations import set_limits
from rollers.views import shown

TOGETHER = frozenset({Role.ENGINEER, Role.QA})


def fall_out(limits: Limits) -> list[dict[str, Any]]:
    """Recipes in force that the present limits would judge worse than when they were signed."""
    rows = RecipeProduct.objects.filter(in_force=True, calculation__isnull=False)
    found = list(rows.select_related("calculation", "product", "position", "version__recipe"))
    cases = [parse_case(row.calculation.case) for row in found if row.calculation]
    order = ("fits", "caution", "cannot tell", "refused")
    return [
        {"row": row, "then": row.calculation.verdict, "now": fresh.overall}
        for row, fresh in zip(found, check_many(cases, limits), strict=True)
        if row.calculation and order.index(fresh.overall) > order.index(row.calculation.verdict)
    ]


def _history(request: HttpRequest) -> list[dict[str, Any]]:
    """Every set the plant signed, newest first, with what changed against the one before."""
    zone, rows = shown.zone_of(request), []
    before = DEFAULT.as_dict()["limits"]
    for made in LimitSet.objects.select_related("engineer_signature", "qa_signature"):
        stored = made.limits["limits"]
        changes = [
            f"{limit['title']}, {word}: {before.get(name, {}).get(level)} became {limit[level]}"
            for name, limit in stored.items()
            for level, word in LEVELS
            if before.get(name, {}).get(level) != limit[level]
        ]
        content = {"limits": made.limits, "reason": made.reason}
        given = [one for one in (made.engineer_signature, made.qa_signature) if one is not None]
        rows.append(
            {
                "made": made,
                "when": shown.local_text(made.at, zone),
                "changes": changes,
                "signatures": shown.signed(given, content),
            }
        )
        before = stored
    return rows[::-1]


@require_GET
def limits(request: HttpRequest) -> HttpResponse:
    """The page to read."""
    present = present_limits()
    context = {
        "limits": present,
        "rows": present.values.items(),
        "history": _history(request),
        "fall_out": fall_out(present),
        "may_change": bool(TOGETHER & shown.roles_held(request)),
        "trail": [("Recipes", reverse("rollers:recipes")), ("Limits", "")],
    }
    return render(request, "rollers/limits/limits.html", context)


def _both(request: HttpRequest, form: LimitsForm) -> tuple[Confirmation, Confirmation]:
    """Engineer and QA, in this order; each typed the own secret just now."""
    mine = shown.confirm(request, form.cleaned_data["secret"])
    other = person_by_number(form.cleaned_data["other_staff_no"])
    try:
        theirs = confirm_secret(
            other,
            form.cleaned_data["other_secret"],
            at=shown.moment_at(request),
            time_zone=shown.zone_of(request).key,
        )
    except Refused as refusal:
        raise Refused(refusal.code, f"{other.name}: {refusal.sentence}", field="other_secret") from None
    return (mine, theirs) if Role.ENGINEER in shown.roles_held(request) else (theirs, mine)


@require_http_methods(["GET", "POST"])
@for_roles(Role.ENGINEER, Role.QA, act="Changing limits")
def change(request: HttpRequest) -> HttpResponse:
    """The page to change them, both persons at one desk."""
    present, status = present_limits(), 200
    form = LimitsForm(request.POST if request.method == "POST" else None, limits=present.values)
    if request.method == "POST":
        status = 422
        if form.is_valid():
            try:
                engineer, qa = _both(request, form)
                made = set_limits(
                    form.changes,
                    reason=form.cleaned_data["reason"],
                    engineer=engineer,
                    qa=qa,
                    at=shown.moment_at(request),
                )
            except Refused as refusal:
                status = keep_on_form(form, refusal)
            else:
                messages.success(request, f"Signed by both. {made} hold from now; stored verdicts keep theirs.")
                return redirect("rollers:limits")
    context = {
        "form": form,
        "limits": present,
        "rows": [(limit, [form[f"{name}-{level}"] for level, _ in LEVELS]) for name, limit in form.limits.items()],
        "may_change": bool(TOGETHER & shown.roles_held(request)),
        "person": shown.person_of(request),
        "roles_text": shown.roles_text(request),
        "trail": [("Limits", reverse("rollers:limits")), ("Change", "")],
    }
    return render(request, "rollers/limits/change.html", context, status=status)
