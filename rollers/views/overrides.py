"""Letting one rule pass on one line for a short time: two persons sign at one desk."""

from datetime import timedelta
from zoneinfo import ZoneInfo

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.views.decorators.http import require_http_methods

from plant.errors import Refused
from plant.floor.access import line_by_code
from plant.floor.models import Line, Position
from plant.floor.queries import shift_at
from plant.people.gates import for_roles
from plant.people.models import Role
from plant.web.refusing import keep_on_form
from rollers.access import position_by_code
from rollers.control import controls
from rollers.forms.line import OverrideForm
from rollers.models import Block, Override
from rollers.queries_overrides import passed_before
from rollers.rooms import room_kinds
from rollers.rules import STRICT
from rollers.rules_overrides import PASSABLE, end_of, why_not
from rollers.services.overrides import grant_override
from rollers.views import shown
from rollers.views.together import both


def _kinds(request: HttpRequest, line: Line, position: Position | None) -> set[str]:
    rooms = {position.room_id} if position else set(line.positions.values_list("room", flat=True))
    return set(room_kinds(rooms, shown.moment_at(request)).values())


@require_http_methods(["GET", "POST"])
@for_roles(Role.SUPERVISOR, act="Letting a rule pass")
def override(request: HttpRequest, code: str) -> HttpResponse:
    """The page of one override: the block, why it may or may not be passed, two signatures."""
    line, at, zone = line_by_code(code), shown.moment_at(request), shown.zone_of(request)
    sent = request.POST if request.method == "POST" else request.GET
    rule, where = sent.get("code", ""), sent.get("position", "")
    position = position_by_code(where) if where else None
    kinds = _kinds(request, line, position)
    shift = shift_at(at)
    end = end_of(at, at + timedelta(days=1), shift.ends_at if shift else None, controls()["override_hours"])
    form = (
        OverrideForm(request.POST)
        if request.method == "POST"
        else OverrideForm(
            initial={
                "code": rule,
                "position": where,
                "ends_at": end.astimezone(ZoneInfo(zone.key)).replace(tzinfo=None),
            }
        )
    )
    status = 200
    if request.method == "POST":
        status = 422
        if form.is_valid():
            try:
                supervisor, second = both(request, form)
                made = grant_override(
                    line,
                    rule,
                    position=position,
                    reason_code=form.cleaned_data["reason_code"],
                    reason=form.cleaned_data["reason"],
                    ends_at=form.cleaned_data["ends_at"],
                    supervisor=supervisor,
                    second=second,
                    at=at,
                )
            except Refused as refusal:
                status = keep_on_form(form, refusal)
            else:
                until = shown.brief_text(made.ends_at, zone)
                messages.success(request, f"Signed by both. It ends by itself {until}; then the block is back.")
                return redirect("rollers:open-work")
    context = {
        "line": line,
        "rule": PASSABLE.get(rule, rule),
        "never": why_not(rule, kinds),
        "block": Block.objects.filter(line=line, position=position, code=rule, cleared_at=None).first(),
        "second_role": "QA" if any(kind in STRICT for kind in kinds) else "a process engineer",
        "before": passed_before(line, rule, at),
        "latest": shown.local_text(end, zone),
        "form": form,
        "person": shown.person_of(request),
        "roles_text": shown.roles_text(request),
        "trail": [("Open work", reverse("rollers:open-work")), (f"Override on line {line.code}", "")],
    }
    return render(request, "rollers/line/override.html", context, status=status)


def overrides(request: HttpRequest) -> HttpResponse:
    """Every override, the newest first."""
    zone = shown.zone_of(request)
    rows = Override.objects.select_related("line", "position", "supervisor_signature", "second_signature")
    context = {
        "rows": [
            (
                row,
                PASSABLE.get(row.code, row.code),
                shown.local_text(row.begins_at, zone),
                shown.local_text(row.ends_at, zone),
            )
            for row in rows[:300]
        ],
        "now": shown.moment_at(request),
        "trail": [("Open work", reverse("rollers:open-work")), ("Overrides", "")],
    }
    return render(request, "rollers/line/overrides.html", context)
