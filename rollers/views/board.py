"""The ready board of a line: may this line run this product now?"""

from dataclasses import dataclass, replace
from typing import Any

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.views.decorators.http import require_GET, require_POST

from plant.errors import Refused
from plant.floor.access import line_by_code
from plant.floor.models import Line, ProductVersion, Run, WebPath
from plant.floor.queries import current_versions
from plant.people.models import Role
from plant.web.refusing import keep_on_form
from plant.web.svg import line_drawing
from rollers.cases import SetPoints
from rollers.forms.planning import AskForm, PlanForm
from rollers.pictures import board_picture
from rollers.readiness import Readiness, readiness
from rollers.rules import Finding
from rollers.services import runs as run_services
from rollers.views import shown

PLANNERS = frozenset({Role.SUPERVISOR, Role.ENGINEER})


@dataclass(frozen=True)
class Choices:
    """What a line offers: its threadings, its products, its runs."""

    line: Line
    paths: list[WebPath]
    versions: list[ProductVersion]
    runs: list[Run]

    def path(self, pk: int) -> WebPath:
        """A threading of this line that is in use."""
        for path in self.paths:
            if path.pk == pk:
                return path
        raise Refused("no-path", f"This path is not in use on line {self.line}. Choose another.", field="path")

    def version(self, code: str) -> ProductVersion:
        """The newest data of a product that this line may run."""
        for version in self.versions:
            if version.product.code.casefold() == code.strip().casefold():
                return version
        sentence = (
            f"{code} is not permitted on line {self.line}. Choose another, or ask the process engineer to add it."
        )
        raise Refused("product-not-on-line", sentence, field="product")


def choices_of(line: Line) -> Choices:
    """In three queries."""
    open_runs = line.runs.filter(state__in=[Run.State.PLANNED, Run.State.RELEASED])
    return Choices(
        line,
        list(line.paths.filter(in_use=True).select_related("line")),
        list(current_versions().filter(product__lines=line)),
        list(open_runs.select_related("product_version__product", "path").order_by("starts_at", "pk")),
    )


def _first_question(choices: Choices) -> dict[str, str]:
    """Before anybody chose: the next planned run, else what runs, else the first product."""
    planned = [run for run in choices.runs if run.state == Run.State.PLANNED]
    run = next(iter(planned or choices.runs), None)
    if run is not None and run.product_version.current and any(path.pk == run.path_id for path in choices.paths):
        asked = {"product": run.product_version.product.code, "path": str(run.path_id)}
        for name, field in (("tension", "tension_n_per_m"), ("speed", "speed_m_per_min")):
            typed = run.typed.get(field)
            if typed:
                asked |= {name: typed["value"], f"{name}_unit": typed["unit"]}
        return asked
    return {
        "product": choices.versions[0].product.code if choices.versions else "",
        "path": str(choices.paths[0].pk) if choices.paths else "",
    }


@dataclass(frozen=True)
class Question:
    """What is asked, when all of it can be read."""

    path: WebPath
    version: ProductVersion
    points: SetPoints


def question_of(form: AskForm, choices: Choices) -> Question | None:
    """The question, or None with the sentences on the form."""
    if not form.is_valid():
        return None
    try:
        path = choices.path(form.cleaned_data["path"])
        version = choices.version(form.cleaned_data["product"])
    except Refused as refusal:
        keep_on_form(form, refusal)
        return None
    tension, speed = form.number("tension"), form.number("speed")
    points = SetPoints(
        version.tension_set_n_per_m if tension is None else tension,
        version.speed_set_m_per_min if speed is None else speed,
    )
    return Question(path, version, points)


def _stop(code: str, block: Finding) -> shown.Said:
    """A thing that stops the line; what only a product sheet can mend leads to the sheets."""
    said = shown.said(code, block)
    if block.code not in ("undecided", "sheet-outdated"):
        return said
    return replace(said, url=reverse("rollers:sheets"), action="Product sheets")


def answer_parts(found: Readiness) -> dict[str, Any]:
    """What the answer shows, from the answer itself."""
    blocks = [shown.said("", block) for block in found.line_blocks]
    blocks += [_stop(row.position.code, block) for row in found.positions for block in row.blocks]
    cautions = [shown.said(row.position.code, one) for row in found.positions for one in row.cautions]
    notices = [shown.said(row.position.code, one) for row in found.positions for one in row.notices]
    line, product = found.path.line, found.product_version.product
    if blocks:
        word = f"NO. Line {line} may not run {product} now: {shown.stop_words(len(blocks))}."
    else:
        tail = f" {len(cautions)} caution{'s' if len(cautions) > 1 else ''} to read first." if cautions else ""
        word = f"YES. Line {line} may run {product} now.{tail}"
    return {
        "found": found,
        "answer_word": word,
        "answer_verdict": "refused" if blocks else "caution" if cautions else "fits",
        "block_rows": blocks,
        "caution_rows": cautions,
        "notice_rows": notices,
        "drawing": line_drawing(board_picture(found, shown.roller_url)),
        "drawing_cells": [
            ("Product", f"{product} v{found.product_version.number}"),
            ("Recipes by", found.sheet_label or "single recipes, no product sheet"),
            ("Limits", found.limits_version),
        ],
    }


def _answer(request: HttpRequest, choices: Choices, form: AskForm, plan: PlanForm | None = None) -> dict[str, Any]:
    question = question_of(form, choices)
    context: dict[str, Any] = {"line": choices.line, "form": form, "question": question}
    if question is None:
        return context
    found = readiness(question.path, question.version, at=shown.moment_at(request), set_points=question.points)
    local = shown.moment_at(request).astimezone(shown.zone_of(request))
    return (
        context
        | answer_parts(found)
        | {
            "points": question.points,
            "plan": plan or _plan_form(request, choices, {"starts_at": f"{local:%Y-%m-%dT%H:%M}"}, bound=False),
            "kept": form.sent("product", "path", "tension", "tension_unit", "speed", "speed_unit"),
            "may_plan": bool(PLANNERS & shown.roles_held(request)),
            "as_of": shown.local_text(found.at, shown.zone_of(request)),
        }
    )


def _plan_form(request: HttpRequest, choices: Choices, sent: Any, *, bound: bool = True) -> PlanForm:
    given = {"data": sent} if bound else {"initial": sent}
    return PlanForm(**given, versions=choices.versions, paths=choices.paths, units=shown.units_of(request))


def _page(request: HttpRequest, choices: Choices, context: dict[str, Any], status: int = 200) -> HttpResponse:
    zone = shown.zone_of(request)
    rows = [
        (run, reverse("rollers:run", args=[run.pk]), shown.local_text(run.released_at or run.starts_at, zone))
        for run in choices.runs
    ]
    context |= {
        "trail": [("Lines", reverse("home")), (f"Line {choices.line.code}", "")],
        "running": [row for row in rows if row[0].state == Run.State.RELEASED],
        "planned": [row for row in rows if row[0].state == Run.State.PLANNED],
    }
    return render(request, "rollers/board.html", context, status=status)


@require_GET
def board(request: HttpRequest, code: str) -> HttpResponse:
    """The board; a change of product, path or set-point answers in place."""
    choices = choices_of(line_by_code(code))
    sent = _first_question(choices)
    if "product" in request.GET:
        # A link may name the product alone: the path stays the one of the next run, the set-points are the product's.
        sent = {"path": sent["path"]} | request.GET.dict()
    form = AskForm(sent, versions=choices.versions, paths=choices.paths, units=shown.units_of(request))
    context = _answer(request, choices, form)
    if request.htmx:  # type: ignore[attr-defined]
        return render(request, "rollers/board_answer.html", context)
    return _page(request, choices, context)


@require_POST
def plan(request: HttpRequest, code: str) -> HttpResponse:
    """Plan the run that the board shows."""
    choices = choices_of(line_by_code(code))
    form = _plan_form(request, choices, request.POST)
    question = question_of(form, choices)
    status = 422
    if question is not None:
        try:
            run = run_services.plan_run(
                path=question.path,
                version=question.version,
                tension_n_per_m=question.points.tension_n_per_m,
                speed_m_per_min=question.points.speed_m_per_min,
                starts_at=form.cleaned_data["starts_at"],
                by=shown.person_of(request),
                at=shown.moment_at(request),
                typed=form.typed,
            )
        except Refused as refusal:
            status = keep_on_form(form, refusal)
        else:
            messages.success(request, f"Planned: {run}. What was found at each roller is kept with the run.")
            return redirect("rollers:run", run.pk)
    ask = AskForm(request.POST, versions=choices.versions, paths=choices.paths, units=shown.units_of(request))
    return _page(request, choices, _answer(request, choices, ask, plan=form), status=status)
