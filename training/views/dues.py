"""What is due: the wall, the shifts to come, one person's page, notes, refreshers."""

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from plant.errors import Refused
from plant.people.access import person_by_id, require_insider, require_role
from plant.people.models import Role
from plant.people.requests import PersonRequest
from plant.web.refusing import keep_on_form
from training import forms_dues as forms
from training.access import due_by_id, trigger_by_id
from training.models import Due, Note, Skill
from training.path_so_far import record_of
from training.services import answer_refresher, ask_refresher, set_aside
from training.services.dues import CLOSERS
from training.services.exporting import RECORD_READERS
from training.services.feeds import PLANT_FEED, feeds_of
from training.services.refreshers import ANSWERERS, ASKERS
from training.services.warning import GAP_TOLD
from training.shifts_ahead import shifts_ahead, works_here
from training.views.papers import shown_once
from training.wall import due_wall, home_shifts

CHOICES = ("kind", "skill", "shift", "search")


@require_safe
def wall(request: PersonRequest) -> HttpResponse:
    """What is due within 30, 60 and 90 days, and what is overdue."""
    require_insider(request.user, at=request.at)
    chosen = {name: request.GET.get(name, "").strip()[:60] for name in CHOICES}
    context = {
        "columns": due_wall(request.at, **chosen),
        "chosen": chosen,
        "kinds": Due.Kind.choices,
        "skills": list(Skill.objects.all()),
        "shifts": home_shifts(),
        "may_set_aside": bool(request.roles & set(CLOSERS)),
    }
    return render(request, "training/wall.html", context)


@require_safe
def coverage(request: PersonRequest) -> HttpResponse:
    """The shifts of the next seven days: what their crews can do, and what nobody of them may."""
    require_insider(request.user, at=request.at)
    ahead, soon = shifts_ahead(request.at), request.at + GAP_TOLD
    context = {
        "ahead": ahead,
        "works": works_here(request.at),
        "short": [each for each in ahead if each.gaps and each.shift.starts_at <= soon],
    }
    return render(request, "training/coverage.html", context)


@require_safe
def person(request: PersonRequest, key: int) -> HttpResponse:
    """One person: certificates, what is next, practice, what happened."""
    own = key == request.user.pk
    if not own:
        require_insider(request.user, at=request.at)
    whom = person_by_id(key)
    context = {
        "person": whom,
        "own": own,
        "record": record_of(whom, request.at, own=own),
        "may_ask": bool(request.roles & set(ASKERS)),
        "may_answer": not own and bool(request.roles & set(ANSWERERS)),
        "may_set_aside": not own and bool(request.roles & set(CLOSERS)),
        "may_export": own or bool(request.roles & set(RECORD_READERS)),
        "may_see_results": own or bool(request.roles & {Role.TRAINER, Role.ASSESSOR}),
        "may_plant_feed": own and bool(request.roles & set(PLANT_FEED)),
        "feeds": feeds_of(whom) if own else {},
        "feed_address": shown_once(request) if own else "",
    }
    return render(request, "training/person.html", context)


@require_POST
def read_notes(request: PersonRequest) -> HttpResponse:
    """My notes are read."""
    Note.objects.filter(to=request.user, read_at=None).update(read_at=request.at)
    return redirect("training:person", request.user.pk)


@require_http_methods(["GET", "POST"])
def put_aside(request: PersonRequest, pk: int) -> HttpResponse:
    """Nothing has to be done any more."""
    require_role(request.user, *CLOSERS, at=request.at, act="Setting a due aside")
    due = due_by_id(pk)
    form, status = forms.Reason(request.POST or None), 200
    if request.method == "POST":
        status = 422
        if form.is_valid():
            try:
                set_aside(due, reason=form.cleaned_data["reason"], by=request.user, at=request.at)
            except Refused as refusal:
                status = keep_on_form(form, refusal)
            else:
                messages.success(request, f"{due.skill.name} of {due.person.name} is set aside.")
                return redirect("training:wall")
    return render(request, "training/put_aside.html", {"due": due, "form": form}, status=status)


@require_http_methods(["GET", "POST"])
def refresher(request: PersonRequest, key: int) -> HttpResponse:
    """Ask a person for a refresher."""
    require_role(request.user, *ASKERS, at=request.at, act="Asking for a refresher")
    whom = person_by_id(key)
    form, status = forms.AskRefresher(request.POST or None, initial={"skill": request.GET.get("skill")}), 200
    if request.method == "POST":
        status = 422
        if form.is_valid():
            given = form.cleaned_data
            try:
                made = ask_refresher(
                    whom,
                    given["skill"].code,
                    given["kind"],
                    reason=given["reason"],
                    subject=given["subject"],
                    suspends={"yes": True, "no": False}.get(given["suspends"]),
                    due_on=given["due_on"],
                    by=request.user,
                    at=request.at,
                )
            except Refused as refusal:
                status = keep_on_form(form, refusal)
            else:
                messages.success(request, _said(made.asks, made.suspends, made.skill.name, whom.name))
                return redirect("training:person", whom.pk)
    return render(request, "training/refresher.html", {"person": whom, "form": form}, status=status)


def _said(asks: bool, suspends: bool, skill: str, name: str) -> str:
    if not asks:
        return f"It is noted for {name}. A second failed check within 90 days suspends {skill}."
    return f"A refresher of {skill} is asked of {name}" + (f"; {skill} is suspended until then." if suspends else ".")


@require_http_methods(["GET", "POST"])
def refreshed(request: PersonRequest, pk: int) -> HttpResponse:
    """The refresher is done."""
    require_role(request.user, *ANSWERERS, at=request.at, act="Saying that a refresher is done")
    trigger = trigger_by_id(pk)
    form, status = forms.AnswerRefresher(request.POST or None), 200
    if request.method == "POST":
        status = 422
        if form.is_valid():
            try:
                answer_refresher(trigger, evidence=form.cleaned_data["evidence"], by=request.user, at=request.at)
            except Refused as refusal:
                status = keep_on_form(form, refusal)
            else:
                messages.success(request, f"The refresher of {trigger.person.name} is on record as done.")
                return redirect("training:person", trigger.person_id)
    return render(request, "training/refreshed.html", {"trigger": trigger, "form": form}, status=status)
