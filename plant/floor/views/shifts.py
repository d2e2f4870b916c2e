"""The shift plan: patterns, a week, and who works."""

from datetime import date, timedelta
from typing import Any

from django.contrib import messages
from django.core.exceptions import ValidationError
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.views.decorators.http import require_http_methods, require_safe

from plant.errors import Refused
from plant.floor import access, forms, queries
from plant.floor.models import ShiftPattern
from plant.floor.services import plan_shifts, set_crew, set_shift_patterns
from plant.people.gates import for_roles
from plant.people.models import Role
from plant.people.queries import active_people, roles_by_person
from plant.people.requests import PersonRequest
from plant.web.asking import ask
from plant.web.forms import within_reach
from plant.web.refusing import keep_on_form

PLANNERS = frozenset({Role.SUPERVISOR, Role.KEEPER})


def _day(text: str, otherwise: date) -> date:
    try:
        day = date.fromisoformat(text)
        within_reach(day)
    except (ValueError, ValidationError):
        return otherwise
    return day


@require_safe
def shifts(request: PersonRequest) -> HttpResponse:
    """A week of shifts with their crews."""
    today = request.at.astimezone(request.zone).date()
    monday, sunday = queries.week_of(_day(request.GET.get("day", ""), today))
    rows: dict[date, list[Any]] = {monday + timedelta(days=n): [] for n in range(7)}
    for shift in queries.shifts_between(monday, sunday):
        hours = (shift.ends_at - shift.starts_at).total_seconds() / 3600
        rows[shift.date].append({"shift": shift, "hours": hours, "now": shift.starts_at <= request.at < shift.ends_at})
    context = {
        "days": rows.items(),
        "patterns": ShiftPattern.objects.all(),
        "today": today,
        "monday": monday,
        "before": monday - timedelta(days=7),
        "after": monday + timedelta(days=7),
        "may_plan": bool(PLANNERS & request.roles),
        "trail": [("Start", reverse("home")), ("Shifts", "")],
    }
    return render(request, "floor/shifts.html", context)


def _trail(label: str) -> list[tuple[str, str]]:
    return [("Start", reverse("home")), ("Shifts", reverse("floor:shifts")), (label, "")]


@require_http_methods(["GET", "POST"])
@for_roles(Role.SUPERVISOR, Role.KEEPER, act="Setting the shifts of a day")
def patterns(request: PersonRequest) -> HttpResponse:
    """Which shifts a day has."""
    there = [{"name": p.name, "starts": p.starts, "ends": p.ends} for p in ShiftPattern.objects.all()]
    rows = forms.PatternSet(request.POST or None, prefix="shift", initial=there)
    refused, status = "", 200
    if request.method == "POST":
        status = 422
        if rows.is_valid():
            named = [row.cleaned_data for row in rows if row.cleaned_data.get("name")]
            try:
                set_shift_patterns(
                    [(row["name"], row["starts"], row["ends"]) for row in named], by=request.user, at=request.at
                )
            except Refused as refusal:
                refused = refusal.sentence
            else:
                messages.success(request, "The shifts of a day are set. Plan dates with them next.")
                return redirect("floor:plan-shifts")
    context = {
        "rows": rows,
        "refused": refused,
        "heading": "Shifts of a day",
        "trail": _trail("Shifts of a day"),
        "back": reverse("floor:shifts"),
    }
    return render(request, "floor/patterns.html", context, status=status)


@require_http_methods(["GET", "POST"])
@for_roles(Role.SUPERVISOR, Role.KEEPER, act="Planning shifts")
def plan(request: PersonRequest) -> HttpResponse:
    """Make the shifts of some dates."""
    today = request.at.astimezone(request.zone).date()
    monday, sunday = queries.week_of(today)
    form = forms.PlanShiftsForm(request.POST or None, initial={"first": monday, "last": sunday + timedelta(days=21)})

    def act(filled: forms.PlanShiftsForm) -> HttpResponse:
        given = filled.cleaned_data
        made = plan_shifts(given["first"], given["last"], by=request.user, at=request.at)
        messages.success(request, f"{len(made)} shifts stand from {given['first']} to {given['last']}.")
        return redirect(f"{reverse('floor:shifts')}?day={given['first']}")

    return ask(
        request,
        form,
        act,
        heading="Plan shifts",
        lede="A shift that has begun stays as it is; one to come keeps its crew. A night over midnight belongs to the "
        "day on which it starts, also when the clock changes.",
        trail=_trail("Plan shifts"),
        back=reverse("floor:shifts"),
        action="Plan",
    )


@require_http_methods(["GET", "POST"])
@for_roles(Role.SUPERVISOR, Role.KEEPER, act="Setting the crew of a shift")
def crew(request: PersonRequest, pk: int) -> HttpResponse:
    """Who works this shift."""
    shift = access.shift_by_pk(pk)
    form = forms.CrewForm(
        request.POST or None, people=active_people(shift.starts_at), initial={"crew": shift.crew.all()}
    )
    status = 200
    if request.method == "POST":
        status = 422
        if form.is_valid():
            try:
                set_crew(shift, form.cleaned_data["crew"], by=request.user, at=request.at)
            except Refused as refusal:
                status = keep_on_form(form, refusal)
            else:
                messages.success(request, f"Crew of {shift} is set.")
                return redirect(f"{reverse('floor:shifts')}?day={shift.date}")
    context = {
        "form": form,
        "shift": shift,
        "held": roles_by_person(request.at),
        "heading": f"Crew of {shift}",
        "trail": _trail(str(shift)),
        "back": f"{reverse('floor:shifts')}?day={shift.date}",
    }
    return render(request, "floor/form.html", context, status=status)
