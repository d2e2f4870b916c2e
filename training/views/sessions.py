"""Classes: the list, planning, and attendance, one person at a time."""

from datetime import timedelta

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from plant.errors import Refused
from plant.floor.queries import in_utc, plant_zone
from plant.people.access import person_by_id, require_insider, require_role
from plant.people.models import Person
from plant.people.queries import active_people
from plant.people.requests import PersonRequest
from plant.web.refusing import keep_on_form
from training import forms_learning as forms
from training.access_learning import session_by_id
from training.independence import session_trouble
from training.models import Attendance, Session
from training.services.teaching import PLANNERS, cancel_session, plan_session, record_attendance
from training.standard_skills import TEACH


@require_safe
def sessions(request: PersonRequest) -> HttpResponse:
    """Classes to come and those of the last half year."""
    require_insider(request.user, at=request.at)
    since = request.at - timedelta(days=183)
    rows = Session.objects.filter(ends_at__gte=since).select_related("skill", "trainer").prefetch_related("invited")
    context = {
        "coming": sorted((row for row in rows if row.ends_at >= request.at), key=lambda row: row.starts_at),
        "held": [row for row in rows if row.ends_at < request.at],
        "may_plan": bool(request.roles & set(PLANNERS)),
    }
    return render(request, "training/sessions.html", context)


@require_http_methods(["GET", "POST"])
def plan(request: PersonRequest) -> HttpResponse:
    """Plan a class."""
    require_role(request.user, *PLANNERS, at=request.at, act="Planning a class")
    people = active_people(request.at).exclude(employer=Person.Employer.OUTSIDE).order_by("name", "pk")
    trainers = people.filter(certificates__skill__code=TEACH).distinct()
    form = forms.PlanSession(request.POST or None, people=people, trainers=trainers)
    status = 200
    if request.method == "POST":
        status = 422
        if form.is_valid():
            given = form.cleaned_data
            for name in ("starts_at", "ends_at"):
                given[name] = in_utc(given[name].replace(tzinfo=None))
            try:
                made = plan_session(given.pop("skill"), **given, by=request.user, at=request.at)
            except Refused as refusal:
                status = keep_on_form(form, refusal)
            else:
                messages.success(request, f"Planned: {made.title}. Who is invited sees it on the own path.")
                return redirect("training:session", made.pk)
    return render(request, "training/session_plan.html", {"form": form}, status=status)


def _rows(session: Session, minutes: int) -> list[tuple[Person, Attendance | None, forms.Attend]]:
    said = {each.person_id: each for each in session.attendances.filter(corrected_by=None).select_related("by")}
    people = {person.pk: person for person in session.invited.all()}
    for each in session.attendances.select_related("person"):
        people.setdefault(each.person_id, each.person)
    rows = []
    for person in sorted(people.values(), key=lambda one: (one.name, one.pk)):
        there = said.get(person.pk)
        initial = {"minutes": there.minutes if there else minutes}
        rows.append((person, there, forms.Attend(initial=initial, auto_id=f"id_{person.pk}_%s")))
    return rows


@require_safe
def session(request: PersonRequest, key: int) -> HttpResponse:
    """One class, with who was there."""
    require_insider(request.user, at=request.at)
    return _page(request, session_by_id(key))


def _page(
    request: PersonRequest, found: Session, wrong: tuple[int, forms.Attend] | None = None, status: int = 200
) -> HttpResponse:
    minutes = int((found.ends_at - found.starts_at).total_seconds() // 60)
    rows = _rows(found, minutes)
    if wrong is not None:
        rows = [(who, there, wrong[1] if who.pk == wrong[0] else form) for who, there, form in rows]
    context = {
        "session": found,
        "minutes": minutes,
        "rows": rows,
        "trouble": session_trouble(found),
        "begun": request.at >= found.starts_at,
        "teaches": request.user.pk == found.trainer_id,
        "may_cancel": bool(request.roles & set(PLANNERS)) and not found.cancelled_at and not found.attendances.exists(),
        "zone": plant_zone(),
    }
    return render(request, "training/session.html", context, status=status)


@require_POST
def attend(request: PersonRequest, key: int, person: int) -> HttpResponse:
    """One person was there, or was not: an act of its own, there is no button for all."""
    found, whom = session_by_id(key), person_by_id(person)
    form = forms.Attend(request.POST, auto_id=f"id_{whom.pk}_%s")
    if not form.is_valid():
        return _page(request, found, (whom.pk, form), 422)
    try:
        made = record_attendance(found, whom, **form.cleaned_data, by=request.user, at=request.at)
    except Refused as refusal:
        status = keep_on_form(form, refusal)
        if whom.pk not in {who.pk for who, _, _ in _rows(found, 0)}:
            raise
        return _page(request, found, (whom.pk, form), status)
    words = f"was there {made.minutes} min" if made.minutes else "was not there"
    messages.success(request, f"Recorded: {whom.name} {words}.")
    return redirect("training:session", found.pk)


@require_http_methods(["GET", "POST"])
def cancel(request: PersonRequest, key: int) -> HttpResponse:
    """Call a class off."""
    require_role(request.user, *PLANNERS, at=request.at, act="Calling a class off")
    found = session_by_id(key)
    form, status = forms.Cancel(request.POST or None), 200
    if request.method == "POST":
        status = 422
        if form.is_valid():
            try:
                cancel_session(found, reason=form.cleaned_data["reason"], by=request.user, at=request.at)
            except Refused as refusal:
                status = keep_on_form(form, refusal)
            else:
                messages.success(request, f"{found.title} is called off.")
                return redirect("training:sessions")
    return render(request, "training/session_cancel.html", {"session": found, "form": form}, status=status)
