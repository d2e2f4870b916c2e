"""Practical assessments on the tablet: one step a screen, then both sign."""

import secrets

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.views.decorators.debug import sensitive_post_parameters
from django.views.decorators.http import require_http_methods, require_safe

from plant.errors import Forbidden, NotFound, Refused
from plant.floor.models import Line
from plant.people.access import person_by_id, require_insider
from plant.people.queries import role_words
from plant.people.requests import PersonRequest
from plant.people.services import confirm_secret
from plant.web.refusing import keep_on_form
from training import forms_learning as forms
from training.access_learning import assessment_for
from training.independence import bench, markable
from training.models import Assessment, Verdict
from training.practicals import outcome, practicals_for
from training.queries_learning import rollers_to_draw
from training.queries_practicals import (
    assessments,
    awaits_second_eye,
    marks_of,
    second_markings_due,
    step_rows,
    waiting_for_candidate,
)
from training.services.assessing import (
    add_step_photo,
    begin_assessment,
    break_off,
    candidate_signs,
    end_assessment,
    mark_again,
    mark_step,
)
from training.views.tests import skill_with_test


def shell(request: HttpRequest, back: str = "", label: str = "") -> dict[str, object]:
    """What the frame of the tablet shows."""
    return {
        "back_url": back,
        "back_label": label,
        "person_name": getattr(request.user, "name", ""),
        "person_role": ", ".join(role_words(getattr(request, "roles", ()))),
        "sign_out_url": reverse("people:sign-out"),
    }


@require_safe
def practicals(request: PersonRequest) -> HttpResponse:
    """What is under way, what waits for a signature, and what is to be marked a second time."""
    require_insider(request.user, at=request.at)
    mine = assessments().filter(assessor=request.user)
    second = second_markings_due().exclude(assessor=request.user).exclude(person=request.user)
    context = {
        "open": mine.filter(verdict=None),
        "unsigned": waiting_for_candidate().filter(assessor=request.user),
        "second": markable(request.user, second, request.at)[:20],
        "given": mine.filter(verdict__isnull=False)[:30],
        "own": assessments().filter(person=request.user)[:30],
    }
    return render(request, "training/practicals.html", context)


@require_http_methods(["GET", "POST"])
def begin(request: PersonRequest, key: int, code: str) -> HttpResponse:
    """Begin a practical: who may is asked before anything is shown."""
    require_insider(request.user, at=request.at)
    whom, skill = person_by_id(key), skill_with_test(code)
    found = bench(whom, skill, request.at, also=[request.user])
    trouble = found.trouble(request.user)
    if trouble is not None:
        raise Forbidden(trouble.code, f"{trouble.sentence} {found.who_can()}")
    kinds = [(each.kind, each.title) for each in practicals_for(skill.code)]
    lines = [(line.code, f"line {line.code}") for line in Line.objects.filter(in_use=True).order_by("code")]
    form, status = forms.BeginPractical(request.POST or None, kinds=kinds, lines=lines), 200
    if request.method == "POST":
        status = 422
        if form.is_valid():
            given = form.cleaned_data
            try:
                made = begin_assessment(
                    whom,
                    skill,
                    given["kind"],
                    assessor=request.user,
                    rollers=rollers_to_draw(given["line"]),
                    seed=secrets.token_hex(16),
                    at=request.at,
                )
            except Refused as refusal:
                status = keep_on_form(form, refusal)
            else:
                return redirect("training:practical", made.pk)
    context = {"person": whom, "skill": skill, "form": form, "kinds": kinds, "others": found.able()}
    back = shell(request, reverse("training:person", args=[whom.pk]), whom.name)
    return render(request, "training/practical_begin.html", back | context, status=status)


@require_safe
def practical(request: PersonRequest, key: int) -> HttpResponse:
    """One practical: every step as it stands, and what comes next."""
    found = assessment_for(key, request.user, request.at)
    if awaits_second_eye(found, request.user):
        return redirect("training:mark-again", found.pk)
    rows = step_rows(found)
    marks = {row.number: row.mark for row in rows if row.mark}
    verdict = getattr(found, "verdict", None)
    context = {
        "found": found,
        "rows": rows,
        "result": outcome(found.steps, marks),
        "verdict": verdict,
        "signed": getattr(verdict, "candidate", None),
        "mine": found.assessor_id == request.user.pk,
        "markings": found.markings.select_related("by"),
        "next_step": next((row.number for row in rows if not row.mark), None),
    }
    return render(request, "training/practical.html", shell(request, *_back(request)) | context)


def _back(request: PersonRequest) -> tuple[str, str]:
    return reverse("training:practicals"), "Practicals"


@require_http_methods(["GET", "POST"])
def step(request: PersonRequest, key: int, number: int) -> HttpResponse:
    """One step, with three large buttons. A photograph may come with the mark."""
    found = assessment_for(key, request.user, request.at)
    rows = step_rows(found)
    if not 1 <= number <= len(rows):
        raise NotFound("step", str(number), f"This practical has {len(rows)} steps.")
    form, status = forms.MarkStep(request.POST if request.method == "POST" else None), 200
    if request.method == "POST":
        status = 422
        try:
            photo = request.FILES.get("photo")
            if photo is not None:
                add_step_photo(found, number, photo, by=request.user, at=request.at)
            if "mark" not in request.POST and photo is not None:
                messages.success(request, "The photograph is kept.")
                return redirect("training:step", found.pk, number)
            if form.is_valid():
                mark_step(found, number, **form.cleaned_data, by=request.user, at=request.at)
                return _after(found, number, len(rows))
        except Refused as refusal:
            form.full_clean()
            form.errors.clear()  # a photograph may come without a mark; only the refusal is told
            status = keep_on_form(form, refusal)
    if found.assessor_id != request.user.pk:
        raise Forbidden("not-your-assessment", f"{found.assessor.name} is the assessor here; nobody else marks it.")
    row = rows[number - 1]
    context = {"found": found, "row": row, "of": len(rows), "form": form, "rows": rows}
    frame = shell(request, reverse("training:practical", args=[found.pk]), "All steps")
    return render(request, "training/practical_step.html", frame | context, status=status)


def _after(found: Assessment, number: int, last: int) -> HttpResponse:
    """On to the next step without a mark, else to the end."""
    marks = marks_of(found)
    order = [*range(number + 1, last + 1), *range(1, number)]
    following = next((each for each in order if each not in marks), None)
    if following is None:
        return redirect("training:practical", found.pk)
    return redirect("training:step", found.pk, following)


@sensitive_post_parameters("secret")
@require_http_methods(["GET", "POST"])
def end(request: PersonRequest, key: int, how: str) -> HttpResponse:
    """The assessor signs the end, or breaks it off."""
    found = assessment_for(key, request.user, request.at)
    if how not in ("end", "break-off"):
        raise NotFound("page", request.path)
    form_class = forms.EndPractical if how == "end" else forms.BreakOff
    form, status = form_class(request.POST or None), 200
    if request.method == "POST":
        status = 422
        if form.is_valid():
            given = form.cleaned_data
            try:
                signed = confirm_secret(request.user, given["secret"], at=request.at, time_zone=request.zone.key)
                if how == "end":
                    end_assessment(found, note=given["note"], confirmation=signed)
                else:
                    break_off(found, reason=given["reason"], confirmation=signed)
            except Refused as refusal:
                status = keep_on_form(form, refusal)
            else:
                messages.success(request, "Signed. Now the person assessed looks at it and signs too.")
                return redirect("training:candidate", found.pk)
    context = {
        "found": found,
        "form": form,
        "how": how,
        "result": outcome(found.steps, marks_of(found)),
        "my_roles": ", ".join(role_words(request.roles)),
    }
    frame = shell(request, reverse("training:practical", args=[found.pk]), "All steps")
    return render(request, "training/practical_end.html", frame | context, status=status)


@sensitive_post_parameters("secret")
@require_http_methods(["GET", "POST"])
def candidate(request: PersonRequest, key: int) -> HttpResponse:
    """The person assessed signs with the own secret, on the own screen or on the assessor's."""
    found = assessment_for(key, request.user, request.at)
    verdict = Verdict.objects.filter(assessment=found).select_related("assessment").first()
    if verdict is None:
        raise NotFound("verdict of practical", str(key), "The assessor ends and signs first.")
    form, status = forms.CandidateSigns(request.POST or None), 200
    if request.method == "POST":
        status = 422
        if request.user.pk not in (found.person_id, found.assessor_id):
            sentence = f"{found.person.name} signs here, beside {found.assessor.name} or on the own screen."
            raise Forbidden("not-the-candidate", sentence)
        if form.is_valid():
            given = form.cleaned_data
            try:
                signed = confirm_secret(found.person, given["secret"], at=request.at, time_zone=request.zone.key)
                candidate_signs(verdict, remark=given["remark"], confirmation=signed)
            except Refused as refusal:
                status = keep_on_form(form, refusal)
            else:
                messages.success(request, f"Signed by {found.person.name}. The practical counts now.")
                return redirect("training:practical", found.pk)
    rows = [row for row in step_rows(found) if row.mark != "done"]
    context = {"found": found, "verdict": verdict, "form": form, "open_rows": rows}
    frame = shell(request, reverse("training:practical", args=[found.pk]), "All steps")
    return render(request, "training/practical_candidate.html", frame | context, status=status)


@sensitive_post_parameters("secret")
@require_http_methods(["GET", "POST"])
def again(request: PersonRequest, key: int) -> HttpResponse:
    """Another assessor marks every step, without the first marks in sight."""
    require_insider(request.user, at=request.at)
    found = Assessment.objects.select_related("person", "skill", "assessor").filter(pk=key).first()
    if found is None:
        raise NotFound("practical", str(key), "Choose from the list of practicals.")
    rows = step_rows(found)
    steps = [row.text for row in rows]
    form, status = forms.MarkAgain(request.POST or None, steps=steps), 200
    if request.method == "POST":
        status = 422
        if form.is_valid():
            given = form.cleaned_data
            try:
                signed = confirm_secret(request.user, given["secret"], at=request.at, time_zone=request.zone.key)
                made = mark_again(found, given["kind"], form.marks(), confirmation=signed)
            except Refused as refusal:
                status = keep_on_form(form, refusal)
            else:
                messages.success(request, f"Signed: {made.agreement} % of the steps are marked alike.")
                return redirect("training:practicals")
    context = {"found": found, "form": form, "photos": [(row.number, row.photos) for row in rows if row.photos]}
    return render(request, "training/practical_again.html", shell(request, *_back(request)) | context, status=status)
