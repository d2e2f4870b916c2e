"""Holds on product: what is held and why, and QA's decision about every roll."""

from typing import Any

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from plant.errors import NotFound, Refused
from plant.people.models import Role
from plant.web.refusing import keep_on_form
from rollers.forms.line import CloseHoldForm, RollForm
from rollers.models import HeldRoll, Hold
from rollers.services.holds import close_hold, decide_roll
from rollers.views import shown


def hold_by_id(pk: int) -> Hold:
    """One hold."""
    found = Hold.objects.select_related("line", "application__position", "lot", "signature").filter(pk=pk).first()
    if found is None:
        raise NotFound("hold", str(pk), "Choose from the page of open work.")
    return found


@require_GET
def holds(request: HttpRequest) -> HttpResponse:
    """All holds, the open ones first."""
    zone = shown.zone_of(request)
    rows = Hold.objects.select_related("line").prefetch_related("rolls")
    shown_rows = [
        {
            "row": row,
            "opened": shown.brief_text(row.opened_at, zone),
            "closed": shown.brief_text(row.closed_at, zone),
            "waiting": sum(one.decision == HeldRoll.Decision.OPEN for one in row.rolls.all()),
            "rolls": len(row.rolls.all()),
        }
        for row in rows[:200]
    ]
    shown_rows.sort(key=lambda one: one["closed"] != "")
    context = {"rows": shown_rows, "trail": [("Open work", reverse("rollers:open-work")), ("Holds", "")]}
    return render(request, "rollers/line/holds.html", context)


def _page(request: HttpRequest, row: Hold, form: CloseHoldForm | None = None, status: int = 200) -> HttpResponse:
    zone = shown.zone_of(request)
    rolls = list(row.rolls.select_related("signature"))
    context: dict[str, Any] = {
        "hold": row,
        "rolls": rolls,
        "waiting": [one for one in rolls if one.decision == HeldRoll.Decision.OPEN],
        "since": shown.local_text(row.since, zone),
        "until": shown.local_text(row.until, zone),
        "opened": shown.local_text(row.opened_at, zone),
        "closed": shown.local_text(row.closed_at, zone),
        "is_qa": Role.QA in shown.roles_held(request),
        "form": form or CloseHoldForm(),
        "person": shown.person_of(request),
        "roles_text": shown.roles_text(request),
        "trail": [("Holds", reverse("rollers:holds")), (f"Line {row.line.code}", "")],
    }
    return render(request, "rollers/line/hold.html", context, status=status)


@require_GET
def hold(request: HttpRequest, pk: int) -> HttpResponse:
    """One hold with its rolls."""
    return _page(request, hold_by_id(pk))


@require_POST
def close(request: HttpRequest, pk: int) -> HttpResponse:
    """QA closes it."""
    row, form = hold_by_id(pk), CloseHoldForm(request.POST)
    status = 422
    if form.is_valid():
        try:
            confirmation = shown.confirm(request, form.cleaned_data["secret"])
            close_hold(row, reason=form.cleaned_data["reason"], confirmation=confirmation)
        except Refused as refusal:
            status = keep_on_form(form, refusal)
        else:
            messages.success(request, f"Closed: {row}.")
            return redirect("rollers:hold", pk)
    return _page(request, hold_by_id(pk), form, status)


@require_http_methods(["GET", "POST"])
def roll(request: HttpRequest, pk: int) -> HttpResponse:
    """QA decides about one roll, by itself."""
    held = HeldRoll.objects.select_related("hold__line", "signature").filter(pk=pk).first()
    if held is None:
        raise NotFound("held roll", str(pk), "Choose from the hold.")
    form, status = RollForm(request.POST if request.method == "POST" else None), 200
    if request.method == "POST":
        status = 422
        if form.is_valid():
            try:
                confirmation = shown.confirm(request, form.cleaned_data["secret"])
                decide_roll(
                    held,
                    decision=form.cleaned_data["decision"],
                    reason=form.cleaned_data["reason"],
                    confirmation=confirmation,
                )
            except Refused as refusal:
                status = keep_on_form(form, refusal)
            else:
                messages.success(request, f"{held.label}: {form.cleaned_data['decision']}.")
                return redirect("rollers:hold", held.hold_id)
    context = {
        "held": held,
        "form": form,
        "is_qa": Role.QA in shown.roles_held(request),
        "person": shown.person_of(request),
        "roles_text": shown.roles_text(request),
        "trail": [("Holds", reverse("rollers:holds")), ("Hold", reverse("rollers:hold", args=[held.hold_id])),
                  (held.label, "")],
    }  # fmt: skip
    return render(request, "rollers/line/roll.html", context, status=status)
