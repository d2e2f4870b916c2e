"""People: the list, one person, joiners and leavers."""

from datetime import date, datetime, time, timedelta
from zoneinfo import ZoneInfo

from django.contrib import messages
from django.core.paginator import Paginator
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils.http import url_has_allowed_host_and_scheme
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from plant.errors import Refused
from plant.people import forms
from plant.people.access import may_read_trail, person_by_id, require_insider, require_role
from plant.people.models import Person, Role
from plant.people.queries import access_list, badges_of, events_around, grants_of
from plant.people.requests import PersonRequest
from plant.people.services import choose_language, join, leave
from plant.web.refusing import keep_on_form

EVENTS_ON_A_PAGE = 25


@require_safe
def me(request: PersonRequest) -> HttpResponse:
    """My roles, my certificates with their ends, my secrets."""
    return render(request, "people/me.html", _about(request, request.user))


@require_POST
def language(request: PersonRequest) -> HttpResponse:
    """Choose the own language, and go back to the page on which it was chosen."""
    choose_language(request.user, request.POST.get("language", ""), at=request.at)
    back = request.POST.get("next", "")
    if not url_has_allowed_host_and_scheme(back, allowed_hosts={request.get_host()}, require_https=request.is_secure()):
        back = reverse("people:me")
    return redirect(back)


@require_safe
def people(request: PersonRequest) -> HttpResponse:
    """Everybody of the plant, with roles."""
    require_insider(request.user, at=request.at)
    everybody, search = "everybody" in request.GET, request.GET.get("search", "").strip()[:60]
    found = access_list(request.at, everybody=everybody, search=search)
    context = {
        "page": Paginator(found, 50).get_page(request.GET.get("page")),
        "everybody": everybody,
        "search": search,
        "is_keeper": Role.KEEPER in request.roles,
        "may_review": bool(request.roles & {Role.KEEPER, Role.QA, Role.MANAGER}),
    }
    return render(request, "people/list.html", context)


@require_safe
def person(request: PersonRequest, key: int) -> HttpResponse:
    """One person: roles, certificates, badges, and what the audit trail says."""
    if key != request.user.pk:
        require_insider(request.user, at=request.at)
    return render(request, "people/person.html", _about(request, person_by_id(key)))


def _about(request: PersonRequest, whom: Person) -> dict[str, object]:
    trail = may_read_trail(request.user, whom, at=request.at)
    events = Paginator(events_around(whom), EVENTS_ON_A_PAGE).get_page(request.GET.get("page")) if trail else None
    return {
        "person": whom,
        "active": whom.active_at(request.at),
        "left": whom.active_to is not None and whom.active_to <= request.at,
        "grants": grants_of(whom, request.at) if whom.active_at(request.at) else [],
        "badges": badges_of(whom) if trail else [],
        "events": events,
        "is_keeper": Role.KEEPER in request.roles,
    }


def midnight_after(day: date, zone: ZoneInfo) -> datetime:
    """The end of a day by the clock of the plant."""
    return datetime.combine(day + timedelta(days=1), time(0), tzinfo=zone)


@require_http_methods(["GET", "POST"])
def joiner(request: PersonRequest) -> HttpResponse:
    """Enter a person."""
    require_role(request.user, Role.KEEPER, at=request.at, act="Entering a person")
    today = request.at.astimezone(request.zone).date()
    first = {"first_day": today, "employer": Person.Employer.PLANT}
    form, status = forms.Join(request.POST or None, initial=first), 200
    if request.method == "POST":
        status = 422
        if form.is_valid():
            given = form.cleaned_data
            first_day, last_day = given["first_day"], given["last_day"]
            begins = datetime.combine(first_day, time(0), tzinfo=request.zone)
            try:
                made = join(
                    staff_no=given["staff_no"],
                    name=given["name"],
                    roles=given["roles"],
                    # Whoever joins today belongs to the plant from this moment, not from midnight before.
                    active_from=request.at if first_day == today else begins,
                    active_to=midnight_after(last_day, request.zone) if last_day else None,
                    employer=given["employer"],
                    home_shift=given["home_shift"],
                    email=given["email"],
                    by=request.user,
                    at=request.at,
                )
            except Refused as refusal:
                refusal.field = "last_day" if refusal.field == "active_to" else refusal.field
                status = keep_on_form(form, refusal)
            else:
                messages.success(request, f"{made.name} is entered. Next: a starter code, and a badge if one is used.")
                return redirect("people:person", made.pk)
    return render(request, "people/join.html", {"form": form}, status=status)


@require_http_methods(["GET", "POST"])
def leaver(request: PersonRequest, key: int) -> HttpResponse:
    """End the access of a person."""
    require_role(request.user, Role.KEEPER, at=request.at, act="Entering a leaver")
    whom = person_by_id(key)
    form, status = forms.Leave(request.POST or None, initial={"leaves_at": request.at}), 200
    if request.method == "POST":
        status = 422
        if form.is_valid():
            given = form.cleaned_data
            try:
                leave(whom, leaves_at=given["leaves_at"], reason=given["reason"], by=request.user, at=request.at)
            except Refused as refusal:
                status = keep_on_form(form, refusal)
            else:
                messages.success(request, f"Sign-in of {whom.name} ends then. Certificates and history stay.")
                return redirect("people:person", whom.pk)
    return render(request, "people/leave.html", {"form": form, "person": whom}, status=status)
