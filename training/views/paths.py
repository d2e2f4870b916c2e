"""The path of a person: done, next, missing; practice, coaching, and the certificate at its end."""

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.debug import sensitive_post_parameters
from django.views.decorators.http import require_http_methods, require_safe

from plant.errors import Refused
from plant.floor.queries import in_utc
from plant.people.access import person_by_id, require_insider, require_role
from plant.people.models import Person, Role
from plant.people.queries import role_words
from plant.people.requests import PersonRequest
from plant.people.services import confirm_secret
from plant.web.refusing import keep_on_form
from training import forms_learning as forms
from training.access_learning import may_see_scores, require_scores
from training.models import JobDone
from training.paths import path_of, paths_of
from training.queries_learning import classes_ahead, coachings_of, practice_log
from training.queries_practicals import assessments, waiting_for_candidate
from training.queries_tests import attempts_of
from training.services.certificates import ISSUERS
from training.services.certifying import certify
from training.services.teaching import record_practice
from training.services.testing import coach as record_coaching
from training.standard_skills import APPLY
from training.views.learning_figures import READERS as FIGURES
from training.views.tests import skill_with_test


@require_safe
def own_path(request: PersonRequest) -> HttpResponse:
    """My path."""
    return _page(request, request.user)


@require_safe
def path(request: PersonRequest, key: int) -> HttpResponse:
    """The path of one person, for trainer and assessor."""
    whom = person_by_id(key)
    require_scores(request.user, whom, request.at)
    return _page(request, whom)


def _page(request: PersonRequest, whom: Person) -> HttpResponse:
    views = paths_of(whom, request.at)
    own = whom.pk == request.user.pk
    shown = [view for view in views if view.held or view.begun]
    context = {
        "person": whom,
        "own": own,
        "views": shown,
        "others": [view.skill for view in views if view not in shown],
        "classes": classes_ahead(whom, request.at),
        "practice": practice_log(whom)[:30],
        "coachings": coachings_of(whom),
        "attempts": attempts_of(whom)[:30],
        "practicals": assessments().filter(person=whom)[:30],
        "to_sign": waiting_for_candidate(whom) if own else (),
        "may_issue": not own and bool(request.roles & set(ISSUERS)),
        "may_coach": not own and Role.TRAINER in request.roles,
        "may_see_figures": own and bool(request.roles & set(FIGURES)),
    }
    return render(request, "training/path.html", context)


@require_safe
def skill_path(request: PersonRequest, key: int, code: str) -> HttpResponse:
    """The way to one skill, also where nothing is begun."""
    whom, skill = person_by_id(key), skill_with_test(code)
    require_scores(request.user, whom, request.at)
    context = {
        "person": whom,
        "own": whom.pk == request.user.pk,
        "view": path_of(whom, skill, request.at),
        "may_issue": whom.pk != request.user.pk and bool(request.roles & set(ISSUERS)),
    }
    return render(request, "training/skill_path.html", context)


@sensitive_post_parameters("secret")
@require_http_methods(["GET", "POST"])
def practice(request: PersonRequest, key: int) -> HttpResponse:
    """Sign for what a trainee did under the own eyes."""
    require_insider(request.user, at=request.at)
    whom, status = person_by_id(key), 200
    jobs = JobDone.objects.filter(person=whom, supervised_by=request.user, practice=None)
    first = {
        "skill": request.GET.get("skill") or APPLY,
        "done_at": request.at.astimezone(request.zone).replace(tzinfo=None),
    }
    form = forms.Supervised(request.POST or None, jobs=jobs, initial=first)
    if request.method == "POST":
        status = 422
        if form.is_valid():
            given = form.cleaned_data
            try:
                signed = confirm_secret(request.user, given.pop("secret"), at=request.at, time_zone=request.zone.key)
                given["done_at"] = in_utc(given["done_at"].replace(tzinfo=None))
                made = record_practice(whom, given.pop("skill"), **given, confirmation=signed)
            except Refused as refusal:
                status = keep_on_form(form, refusal)
            else:
                messages.success(request, f"Signed: {made.get_kind_display()} of {whom.name} at {made.place}.")
                return _back(request, whom)
    context = {"person": whom, "form": form, "my_roles": ", ".join(role_words(request.roles))}
    return render(request, "training/practice.html", context, status=status)


def _back(request: PersonRequest, whom: Person) -> HttpResponse:
    """To the path of the person where the reader may see it, else to the certificates."""
    if may_see_scores(request.user, whom, request.at):
        return redirect("training:path-of", whom.pk)
    return redirect("training:person", whom.pk)


@require_http_methods(["GET", "POST"])
def coach(request: PersonRequest, key: int, code: str) -> HttpResponse:
    """A trainer went through the mistakes with a person."""
    require_role(request.user, Role.TRAINER, at=request.at, act="Recording a coaching")
    whom, skill = person_by_id(key), skill_with_test(code)
    form, status = forms.Coached(request.POST or None), 200
    if request.method == "POST":
        status = 422
        if form.is_valid():
            try:
                record_coaching(whom, skill, note=form.cleaned_data["note"], by=request.user, at=request.at)
            except Refused as refusal:
                status = keep_on_form(form, refusal)
            else:
                messages.success(request, f"Recorded: you coached {whom.name} for {skill.name}.")
                return redirect("training:path-of", whom.pk)
    return render(request, "training/coach.html", {"person": whom, "skill": skill, "form": form}, status=status)


@sensitive_post_parameters("secret")
@require_http_methods(["GET", "POST"])
def certify_path(request: PersonRequest, key: int, code: str) -> HttpResponse:
    """Sign the certificate that a complete path has earned."""
    require_role(request.user, *ISSUERS, at=request.at, act="Issuing a certificate")
    whom, skill = person_by_id(key), skill_with_test(code)
    form, status = forms.Signed(request.POST or None), 200
    if request.method == "POST":
        status = 422
        if form.is_valid():
            secret = form.cleaned_data["secret"]
            try:
                signed = confirm_secret(request.user, secret, at=request.at, time_zone=request.zone.key)
                made = certify(whom, skill, confirmation=signed)
            except Refused as refusal:
                status = keep_on_form(form, refusal)
            else:
                messages.success(request, f"{made.skill.name} certificate {made.number} is issued to {whom.name}.")
                return redirect("training:person", whom.pk)
    context = {
        "person": whom,
        "skill": skill,
        "view": path_of(whom, skill, request.at),
        "form": form,
        "my_roles": ", ".join(role_words(request.roles)),
        "scores": may_see_scores(request.user, whom, request.at),
    }
    return render(request, "training/certify.html", context, status=status)
