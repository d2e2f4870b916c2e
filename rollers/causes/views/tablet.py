"""The shop floor: report what the web shows, and walk the line one roller a screen."""

from typing import Any
from uuid import uuid4

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils.translation import gettext
from django.views.decorators.http import require_GET, require_http_methods

from plant.errors import Refused
from plant.floor.access import line_by_code, position_by_code
from plant.floor.models import Line, PathStep
from plant.people.requests import PersonRequest
from plant.web.refusing import keep_on_form
from plant.web.svg import LineDrawing, Step, line_drawing
from plant.web.svg.grades import direction_drawing, grade_drawing
from rollers.causes import access
from rollers.causes.forms.tablet import AnswersForm, LookForm, SightingForm, StartWalkForm, spans_of
from rollers.causes.models import Sighting, Walk, WalkLook
from rollers.causes.models.sighting import Direction, Grade, Lane
from rollers.causes.queries import newest_looks, result_of, sightings_of, steps_upstream
from rollers.causes.services.sightings import report_sighting, words_of
from rollers.causes.services.walks import conclude_walk, record_look, start_walk
from rollers.causes.views.frame import path_on, product_now, products_on, steps_on, tablet_frame
from rollers.queries import mounted
from rollers.views.shown import units_of


def _line_url(line: Line) -> str:
    return reverse("tablet:line", args=[line.code])


def _last_place(line: Line) -> str:
    """Where somebody saw a wrinkle last: it is seen there again more often than not."""
    last = sightings_of(line).filter(grade__gte=1, before__isnull=False).first()
    return last.before.code if last and last.before else ""


def _corrected(request: HttpRequest) -> Sighting | None:
    text = request.GET.get("corrects", "")
    return access.sighting(int(text)) if text.isascii() and text.isdigit() and len(text) < 15 else None


@require_http_methods(["GET", "POST"])
def report(request: PersonRequest, code: str) -> HttpResponse:
    """What does the web show? Grade, span, lane and direction in one screen."""
    line = line_by_code(code)
    steps, corrects = steps_on(path_on(line)), _corrected(request)
    first = {"before": request.GET.get("before", "") or _last_place(line)}
    spans = spans_of(steps)
    if request.method == "POST":
        form = SightingForm(request.POST, request.FILES, spans=spans, units=units_of(request))
    else:
        form = SightingForm(initial=first, spans=spans, units=units_of(request))
    status = 200
    if form.is_bound:
        status = 422
        if form.is_valid():
            try:
                made = _report(request, line, steps, form, corrects)
            except Refused as refusal:
                status = keep_on_form(form, refusal)
            else:
                messages.success(request, f"Recorded: {words_of(made)}.")
                return redirect(_after(made))
    context = tablet_frame(request, _line_url(line), f"{gettext('Line')} {line.code}") | {
        "line": line,
        "form": form,
        "corrects": corrects,
        "grades": [(grade.value, grade.label, grade_drawing(grade.value)) for grade in Grade if grade.value],
        "lanes": [(lane.value, lane.label) for lane in (Lane.OPERATOR, Lane.CENTRE, Lane.DRIVE, Lane.ALL)],
        "ways": [(way.value, way.label, direction_drawing(way.value)) for way in Direction],
        "spans": spans,
        "given": {name: form[name].value() or "" for name in ("grade", "before", "lane", "direction")},
        "more_open": bool(set(form.errors) & {"note", "roll", "photo", *SightingForm.figures}),
    }
    return render(request, "causes/tablet/report.html", context, status=status)


def _report(
    request: PersonRequest, line: Line, steps: list[PathStep], form: SightingForm, corrects: Sighting | None
) -> Sighting:
    given = form.cleaned_data
    codes = [step.position.code for step in steps]
    before = next((step.position for step in steps if step.position.code == given["before"]), None)
    place = codes.index(before.code) if before else 0
    return report_sighting(
        line,
        key=given["key"],
        grade=given["grade"],
        before=before,
        after=steps[place - 1].position if place else None,
        lane=given["lane"],
        direction=given["direction"],
        roll=given["roll"],
        note=given["note"],
        photo=given["photo"],
        corrects=corrects,
        reason=request.POST.get("reason", ""),
        by=request.user,
        at=request.at,
        **form.values(),  # type: ignore[arg-type]
    )


def _after(made: Sighting) -> str:
    """On to the walk where something was seen; else back to the line."""
    if made.grade >= 2 and made.before is not None:
        return reverse("causes-tablet:walk-line", args=[made.line.code]) + f"?sighting={made.pk}"
    return _line_url(made.line)


@require_http_methods(["GET", "POST"])
def walk_line(request: PersonRequest, code: str) -> HttpResponse:
    """Begin a walk: the roller where it shows is offered first."""
    line = line_by_code(code)
    path = path_on(line)
    codes = [step.position.code for step in steps_on(path)]
    text = request.GET.get("sighting", "")
    seen = access.sighting(int(text)) if text.isascii() and text.isdigit() and len(text) < 15 else None
    asked = {"codes": codes, "products": products_on(line)}
    first = {"starts_from": seen.before.code if seen and seen.before else _last_place(line) or codes[-1]}
    first["product"] = product_now(line)  # type: ignore[assignment]
    form = StartWalkForm(request.POST, **asked) if request.method == "POST" else StartWalkForm(initial=first, **asked)
    status = 200
    if form.is_bound:
        status = 422
        if form.is_valid():
            try:
                made = start_walk(
                    path,
                    key=form.cleaned_data["key"],
                    product_version=form.cleaned_data["product"],
                    starts_from=position_by_code(form.cleaned_data["starts_from"]),
                    sighting=seen,
                    by=request.user,
                    at=request.at,
                )
            except Refused as refusal:
                status = keep_on_form(form, refusal)
            else:
                return redirect("causes-tablet:walk", made.pk)
    context = tablet_frame(request, _line_url(line), f"{gettext('Line')} {line.code}") | {
        "line": line,
        "form": form,
        "codes": codes,
        "chosen": form["starts_from"].value(),
        "open_walks": Walk.objects.filter(line=line, results=None).order_by("-pk")[:2],
    }
    return render(request, "causes/tablet/walk_line.html", context, status=status)


def _picture(walk: Walk, looks: dict[str, WalkLook], here: str, first: str = "") -> str:
    """The line with what each roller showed."""
    verdicts = {"clean": "fits", "trough": "caution", "crease": "refused"}
    steps, path = [], steps_on(walk.path)
    bodies = mounted(step.position for step in path)
    for step in path:
        code, mounting = step.position.code, bodies.get(step.position_id)
        look = looks.get(code)
        steps.append(
            Step(
                code,
                step.position.kind,
                diameter_mm=mounting.body.diameter_mm if mounting else None,
                wrap_deg=step.wrap_deg,
                rotation=step.rotation,  # type: ignore[arg-type]
                state="bare",
                state_text="begins here" if code == first else " ",
                verdict=verdicts[look.seen] if look else "",
                verdict_text=look.seen if look else "",
                is_here=code in (here, first),
                href=reverse("causes-tablet:walk", args=[walk.pk]) + f"?at={code}",
            )
        )
    drawing = LineDrawing(f"Line {walk.line.code}", tuple(steps), audience="tablet", key=f"walk-{walk.pk}")
    return line_drawing(drawing)


@require_http_methods(["GET", "POST"])
def walk(request: PersonRequest, pk: int) -> HttpResponse:
    """One roller: clean, trough or crease, then the next one upstream."""
    found = access.walk(pk)
    upstream = steps_upstream(found)
    form, status = LookForm(request.POST or None), 200
    if form.is_bound:
        status = 422
        if form.is_valid():
            try:
                _record(request, found, form)
            except Refused as refusal:
                status = keep_on_form(form, refusal)
            else:
                return redirect("causes-tablet:walk", pk)
    looks = {look.position.code: look for look in newest_looks(found)}
    here = _next(request, upstream, looks)
    if here is None:
        return redirect("causes-tablet:finish-walk", pk)
    clean = [step for step in upstream if (look := looks.get(step.position.code)) and look.seen == "clean"]
    context = tablet_frame(request, _line_url(found.line), f"Line {found.line.code}") | {
        "walk": found,
        "form": form,
        "here": here,
        "before": next((step for step in upstream if step.order < here.order), None),
        "number": upstream.index(here) + 1,
        "of": len(upstream),
        "key": uuid4(),
        "seen": looks.get(here.position.code),
        "may_finish": len(looks) >= 2,
        "is_gone": len(clean) >= 2,
        "picture": _picture(found, looks, here.position.code),
        "choices": [
            (WalkLook.Seen.CLEAN, "Clean", grade_drawing(0, "w0")),
            (WalkLook.Seen.TROUGH, "Trough", grade_drawing(2, "w2")),
            (WalkLook.Seen.CREASE, "Crease", grade_drawing(4, "w4")),
        ],
    }
    return render(request, "causes/tablet/walk.html", context, status=status)


def _next(request: HttpRequest, upstream: list[PathStep], looks: dict[str, WalkLook]) -> PathStep | None:
    asked = request.GET.get("at", "")
    again = next((step for step in upstream if step.position.code == asked), None)
    return again or next((step for step in upstream if step.position.code not in looks), None)


def _record(request: PersonRequest, found: Walk, form: LookForm) -> None:
    given = form.cleaned_data
    record_look(
        found,
        position_by_code(given["position"]),
        key=given["key"],
        seen=given["seen"],
        by=request.user,
        at=request.at,
    )


@require_http_methods(["GET", "POST"])
def finish_walk(request: PersonRequest, pk: int) -> HttpResponse:
    """Three questions, asked once, then the answer of the walk."""
    found = access.walk(pk)
    looks = newest_looks(found)
    shown = next((look for look in looks if look.seen != WalkLook.Seen.CLEAN), None)
    form, status = AnswersForm(request.POST or None), 200
    if request.method == "POST":
        status = 422
        if form.is_valid():
            try:
                _conclude(request, found, form.cleaned_data, shown)
            except Refused as refusal:
                status = keep_on_form(form, refusal)
            else:
                return redirect("causes-tablet:walk-said", pk)
    context = tablet_frame(request, reverse("causes-tablet:walk", args=[pk]), "Walk") | {
        "walk": found,
        "form": form,
        "shown": shown,
        "looks": len(looks),
        "picture": _picture(found, {look.position.code: look for look in looks}, ""),
    }
    return render(request, "causes/tablet/finish.html", context, status=status)


def _conclude(request: PersonRequest, found: Walk, given: dict[str, Any], shown: WalkLook | None) -> None:
    answers = {name: given[name] for name in ("moves_with_roll", "changes_with_tension", "changes_with_speed")}
    if shown is not None and any(answers.values()):
        record_look(
            found,
            shown.position,
            key=given["key"],
            seen=shown.seen,
            by=request.user,
            at=request.at,
            **answers,
        )
    conclude_walk(found, by=request.user, at=request.at)


@require_GET
def walk_said(request: PersonRequest, pk: int) -> HttpResponse:
    """Which roller starts it, how sure, what contradicts it, and what to check now."""
    found = access.walk(pk)
    result = result_of(found)
    if result is None:
        return redirect("causes-tablet:finish-walk", pk)
    looks = {look.position.code: look for look in newest_looks(found)}
    first = result.first.code if result.first else ""
    context = tablet_frame(request, _line_url(found.line), f"Line {found.line.code}") | {
        "walk": found,
        "result": result,
        "answer": result.answer,
        "picture": _picture(found, looks, "", first),
    }
    return render(request, "causes/tablet/said.html", context)
