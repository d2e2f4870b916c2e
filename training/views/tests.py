"""Tests: begin, tick, hand in, and look at the own answers. No page of an open test holds the key."""

import re
import secrets

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.utils.translation import gettext
from django.views.decorators.debug import sensitive_post_parameters
from django.views.decorators.http import require_http_methods, require_POST

from plant.audit.services import Confirmation
from plant.errors import NotFound, Refused
from plant.people.models import Person
from plant.people.queries import active_people
from plant.people.requests import PersonRequest
from plant.people.services import confirm_secret
from plant.web.refusing import keep_on_form
from training import forms_learning as forms
from training.access_learning import attempt_for, own_attempt
from training.models import Attempt, Skill
from training.queries_modules import lang_of
from training.queries_tests import answers_of, attempts_of, attempts_open, sheet_of
from training.services.testing import begin_attempt, hand_in, keep_picks

PICK = re.compile(r"q([0-9]{1,3})")


def skill_with_test(code: str) -> Skill:
    """A skill that an address names."""
    found = Skill.objects.filter(code=code).first()
    if found is None:
        raise NotFound("skill", code, "Go to your path; it lists the skills.")
    return found


def _picks(request: PersonRequest) -> dict[int, int]:
    """What the page sent: options as shown, by place of the question. Anything else is not looked at."""
    found = {}
    for name, value in request.POST.items():
        place = PICK.fullmatch(name)
        if place and isinstance(value, str) and re.fullmatch(r"[0-3]", value):
            found[int(place[1])] = int(value)
    return found


@require_http_methods(["GET", "POST"])
def begin(request: PersonRequest, code: str) -> HttpResponse:
    """What the test is like, and the button that draws it."""
    skill = skill_with_test(code)
    said, status = None, 200
    if request.method == "POST":
        try:
            lang, seed = lang_of(request.user), secrets.token_hex(16)
            made = begin_attempt(request.user, skill, lang=lang, seed=seed, at=request.at)
        except Refused as refusal:
            said, status = refusal.sentence, 422
        else:
            return redirect("training:test", made.pk)
    context = {
        "skill": skill,
        "said": said,
        "may": attempts_open(request.user, skill, request.at),
        "attempts": attempts_of(request.user).filter(skill=skill),
        "minutes": 3 * skill.test_questions,
    }
    return render(request, "training/test_begin.html", context, status=status)


@require_http_methods(["GET", "POST"])
def begin_oral(request: PersonRequest, code: str) -> HttpResponse:
    """A test read aloud: who reads, who watches."""
    skill, status = skill_with_test(code), 200
    people = active_people(request.at).exclude(pk=request.user.pk).exclude(employer=Person.Employer.OUTSIDE)
    form = forms.Oral(request.POST or None, people=people.order_by("name", "pk"))
    if request.method == "POST":
        status = 422
        if form.is_valid():
            try:
                made = begin_attempt(
                    request.user,
                    skill,
                    lang=lang_of(request.user),
                    seed=secrets.token_hex(16),
                    at=request.at,
                    reader=form.cleaned_data["reader"],
                    witness=form.cleaned_data["witness"],
                )
            except Refused as refusal:
                status = keep_on_form(form, refusal)
            else:
                return redirect("training:test", made.pk)
    return render(request, "training/test_oral.html", {"skill": skill, "form": form}, status=status)


@sensitive_post_parameters("reader_secret", "witness_secret")
@require_http_methods(["GET", "POST"])
def test(request: PersonRequest, key: int) -> HttpResponse:
    """The open test, or after handing in the own answers with the why."""
    if request.method == "POST":
        attempt = own_attempt(key, request.user)
        return _hand_in(request, attempt)
    attempt = attempt_for(key, request.user, request.at)
    if hasattr(attempt, "result"):
        context = {"attempt": attempt, "result": attempt.result, "answers": answers_of(attempt)}
        return render(request, "training/test_result.html", context)
    return _open_page(request, attempt, forms.OralSigned() if attempt.oral else None)


def _open_page(
    request: PersonRequest, attempt: Attempt, form: forms.OralSigned | None, said: str = "", status: int = 200
) -> HttpResponse:
    rows = sheet_of(attempt)
    left = max(0, int((attempt.closes_at - request.at).total_seconds() // 60))
    context = {
        "attempt": attempt,
        "rows": rows,
        "ticked": sum(row.picked is not None for row in rows),
        "minutes_left": left,
        "form": form,
        "said": said,
    }
    return render(request, "training/test.html", context, status=status)


def _signatures(
    request: PersonRequest, attempt: Attempt, form: forms.OralSigned | None
) -> tuple[Confirmation | None, Confirmation | None]:
    """Reader and witness with their own secrets, each checked on its own field."""
    if form is None:
        return None, None
    found: list[Confirmation | None] = []
    for field, person in (("reader_secret", attempt.reader), ("witness_secret", attempt.witness)):
        assert person is not None  # noqa: S101  (the database holds both or none)
        try:
            given = confirm_secret(person, form.cleaned_data[field], at=request.at, time_zone=request.zone.key)
        except Refused as refusal:
            raise Refused(refusal.code, f"{person.name}: {refusal.sentence}", field=field) from None
        found.append(given)
    return found[0], found[1]


def _hand_in(request: PersonRequest, attempt: Attempt) -> HttpResponse:
    picks = _picks(request)
    form = forms.OralSigned(request.POST) if attempt.oral else None
    try:
        if not hasattr(attempt, "result"):
            keep_picks(attempt, picks, by=request.user, at=request.at)
        if form is not None and not form.is_valid():
            return _open_page(request, attempt, form, status=422)
        reader, witness = _signatures(request, attempt, form)
        hand_in(attempt, picks, by=request.user, at=request.at, reader=reader, witness=witness)
    except Refused as refusal:
        if refusal.code == "handed-in":
            messages.warning(request, refusal.sentence)
            return redirect("training:test", attempt.pk)
        if form is None:
            return _open_page(request, attempt, None, refusal.sentence, 422)
        return _open_page(request, attempt, form, status=keep_on_form(form, refusal))
    messages.success(request, gettext("Handed in and marked. Below stand your answers, each with the reason."))
    return redirect("training:test", attempt.pk)


@require_POST
def keep(request: PersonRequest, key: int) -> HttpResponse:
    """Keep what is ticked so far; sent by the page with every tick."""
    attempt = own_attempt(key, request.user)
    keep_picks(attempt, _picks(request), by=request.user, at=request.at)
    if request.headers.get("HX-Request") != "true":
        messages.success(request, gettext("Kept. You may go on, or come back within the time."))
        return redirect("training:test", attempt.pk)
    rows = sheet_of(attempt)
    ticked = sum(row.picked is not None for row in rows)
    said = gettext("%(ticked)s of %(all)s answered and kept")
    return HttpResponse(said % {"ticked": ticked, "all": len(rows)})
