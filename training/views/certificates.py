"""Certificates: who may do what now, one person's, issuing and suspending."""

from django.contrib import messages
from django.core.paginator import Paginator
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.debug import sensitive_post_parameters
from django.views.decorators.http import require_http_methods, require_safe

from plant.errors import NotFound, Refused
from plant.floor.queries import plant_date, shifts_after
from plant.people.access import person_by_id, require_insider, require_role
from plant.people.queries import role_words
from plant.people.requests import PersonRequest
from plant.people.services import confirm_secret
from plant.web.refusing import keep_on_form
from training import forms
from training.access import certificate_by_id
from training.grid import PER_PAGE, shift_grid
from training.queries import state_of
from training.services import import_founding_certificate, issue_certificate, reinstate, suspend, withdraw
from training.services.certificates import IMPORTERS, ISSUERS
from training.services.suspending import MAY
from training.wall import home_shifts

ACTS = {"suspend": suspend, "reinstate": reinstate, "withdraw": withdraw}
DONE = {"suspend": "is suspended from now on", "reinstate": "counts again", "withdraw": "is withdrawn"}


@require_safe
def grid(request: PersonRequest) -> HttpResponse:
    """Persons on shift by the work they may do, now or when one of the next shifts begins."""
    require_insider(request.user, at=request.at)
    everybody, coming = "everybody" in request.GET, list(shifts_after(request.at, days=2))
    search, skill, home = (request.GET.get(name, "").strip()[:60] for name in ("search", "skill", "home"))
    number = request.GET.get("page", "1")
    page = max(1, int(number)) if number.isascii() and number.isdecimal() and len(number) < 7 else 1
    chosen = next((shift for shift in coming if str(shift.pk) == request.GET.get("shift")), None)
    at = chosen.starts_at if chosen else request.at
    found = shift_grid(at, everybody=everybody, search=search, skill=skill, shift=home, page=page)
    context = {
        "grid": found,
        "page": Paginator(range(found.of), PER_PAGE).get_page(page),
        "search": search,
        "skill": skill,
        "home": home,
        "levels": [("apply", "Apply"), ("check", "Check"), ("size", "Size")],
        "homes": home_shifts(),
        "everybody": everybody,
        "coming": coming,
        "chosen": chosen,
        "grid_at": at,
    }
    return render(request, "training/grid.html", context)


@sensitive_post_parameters("secret")
@require_http_methods(["GET", "POST"])
def issue(request: PersonRequest, key: int) -> HttpResponse:
    """Sign a certificate."""
    require_role(request.user, *ISSUERS, at=request.at, act="Issuing a certificate")
    whom = person_by_id(key)
    first = {"valid_from": plant_date(request.at), "skill": request.GET.get("skill")}
    form, status = forms.Issue(request.POST or None, initial=first), 200
    if request.method == "POST":
        status = 422
        if form.is_valid():
            given = form.cleaned_data
            try:
                confirmation = confirm_secret(request.user, given["secret"], at=request.at, time_zone=request.zone.key)
                made = issue_certificate(
                    whom,
                    given["skill"].code,
                    valid_from=given["valid_from"],
                    valid_to=given["valid_to"],
                    evidence=given["evidence"],
                    confirmation=confirmation,
                )
            except Refused as refusal:
                status = keep_on_form(form, refusal)
            else:
                messages.success(request, f"{made.skill.name} certificate {made.number} is issued to {whom.name}.")
                return redirect("people:person", whom.pk)
    words = ", ".join(role_words(request.roles))
    return render(request, "training/issue.html", {"person": whom, "form": form, "my_roles": words}, status=status)


@require_http_methods(["GET", "POST"])
def founding(request: PersonRequest, key: int) -> HttpResponse:
    """Take over a certificate from before the records began."""
    require_role(request.user, *IMPORTERS, at=request.at, act="Taking over a certificate")
    whom = person_by_id(key)
    form, status = forms.Founding(request.POST or None), 200
    if request.method == "POST":
        status = 422
        if form.is_valid():
            given = form.cleaned_data
            try:
                made = import_founding_certificate(
                    whom,
                    given["skill"].code,
                    number=given["number"],
                    valid_from=given["valid_from"],
                    valid_to=given["valid_to"],
                    evidence=given["evidence"],
                    by=request.user,
                    at=request.at,
                )
            except Refused as refusal:
                status = keep_on_form(form, refusal)
            else:
                messages.success(request, f"{made.skill.name} certificate {made.number} is taken over as founding.")
                return redirect("people:person", whom.pk)
    return render(request, "training/founding.html", {"person": whom, "form": form}, status=status)


@require_http_methods(["GET", "POST"])
def act(request: PersonRequest, key: int, verb: str) -> HttpResponse:
    """Suspend, reinstate or withdraw."""
    if verb not in ACTS:
        raise NotFound("page", request.path)
    require_role(request.user, *MAY, at=request.at, act=f"To {verb} a certificate")
    certificate = certificate_by_id(key)
    form, status = forms.Act(request.POST or None), 200
    if request.method == "POST":
        status = 422
        if form.is_valid():
            try:
                ACTS[verb](certificate, reason=form.cleaned_data["reason"], by=request.user, at=request.at)
            except Refused as refusal:
                status = keep_on_form(form, refusal)
            else:
                said = f"{certificate.skill.name} of {certificate.person.name} {DONE[verb]}."
                messages.success(request, said)
                return redirect("people:person", certificate.person_id)
    context = {
        "certificate": certificate,
        "state": state_of(certificate, request.at, request.zone),
        "verb": verb,
        "form": form,
        "stops": [skill.name for skill in certificate.skill.needed_by.all()],
    }
    return render(request, "training/act.html", context, status=status)
