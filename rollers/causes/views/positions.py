"""One roller: its history, decisions, remarks and trials."""

from typing import Any

from django.contrib import messages
from django.db.models import QuerySet
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from plant.errors import Refused
from plant.floor.models import Position, Product
from plant.people.gates import for_roles
from plant.people.models import Role
from plant.people.queries import role_words
from plant.people.requests import PersonRequest
from plant.web.refusing import keep_on_form
from rollers.access import position_by_code, recipe_version
from rollers.causes import rules
from rollers.causes.forms.desk import DecisionForm, RemarkForm, TrialForm
from rollers.causes.queries import newest_sheet, walks_naming
from rollers.causes.services.deciding import decide as decide_tape
from rollers.causes.services.deciding import diagonal_ends, facts_for
from rollers.causes.services.remarks import remark as write_remark
from rollers.causes.services.trials import make_trial, start_trial
from rollers.causes.steering import steering_of
from rollers.causes.timeline import history_of
from rollers.causes.views.frame import trail_of
from rollers.forms.signing import SecretForm
from rollers.models import Decision, RecipeVersion
from rollers.trial_recipes import is_started, over_because
from rollers.views.shown import brief_text, confirm, local_text


def _trail(position: Position, *more: tuple[str, str]) -> list[tuple[str, str]]:
    here = reverse("causes:roller", args=[position.code]) if more else ""
    return trail_of(position.line, (position.code, here), *more)


def _page(request: PersonRequest, position: Position, form: RemarkForm, status: int = 200) -> HttpResponse:
    moments = history_of(position)
    sheet, decision = newest_sheet(position), Decision.objects.filter(position=position).order_by("-pk").first()
    context = {
        "position": position,
        "moments": [{"moment": row, "at": local_text(row.at, request.zone)} for row in moments],
        "sheet": sheet,
        "decision": decision,
        "named": walks_naming(position).first(),
        "form": form,
        "is_engineer": Role.ENGINEER in request.roles,
        "may_open": bool({Role.ENGINEER, Role.MAINTENANCE, Role.QA, Role.OPERATOR} & request.roles),
        "trail": _trail(position),
    }
    return render(request, "causes/roller.html", context, status=status)


@require_GET
def roller(request: PersonRequest, code: str) -> HttpResponse:
    """The history of a position on one page."""
    return _page(request, position_by_code(code), RemarkForm())


@require_POST
def remark(request: PersonRequest, code: str) -> HttpResponse:
    """A proposal or comment."""
    position, form, status = position_by_code(code), RemarkForm(request.POST), 422
    if form.is_valid():
        try:
            write_remark(position, **form.cleaned_data, by=request.user, at=request.at)
        except Refused as refusal:
            status = keep_on_form(form, refusal)
        else:
            messages.success(request, "Kept with your name. It decides nothing by itself.")
            return redirect("causes:roller", code)
    return _page(request, position, form, status)


def _products(position: Position) -> Any:
    return Product.objects.filter(lines=position.line).order_by("code")


@require_http_methods(["GET", "POST"])
@for_roles(Role.ENGINEER, act="Deciding about tape")
def decide(request: PersonRequest, code: str) -> HttpResponse:
    """Tape, fix the cause, watch, or nothing; with what speaks for and against."""
    position = position_by_code(code)
    sheet = newest_sheet(position)
    asked = {"products": _products(position)}
    first = {"products": [sheet.product_version.product_id] if sheet else []}
    form = DecisionForm(request.POST, **asked) if request.method == "POST" else DecisionForm(initial=first, **asked)
    status = 200
    if form.is_bound:
        status = 422
        if form.is_valid():
            try:
                made = decide_tape(position, **form.cleaned_data, by=request.user, at=request.at)
            except Refused as refusal:
                status = keep_on_form(form, refusal)
            else:
                messages.success(request, f"Decided for {position.code}: {made.get_answer_display()}.")
                tape = made.answer == Decision.Answer.TAPE
                return redirect("rollers:sizing" if tape else "causes:roller", position.code)
    known = [sheet.product_version.product] if sheet else []
    facts = facts_for(position, at=request.at, products=known)
    ends = sorted(diagonal_ends(position, request.at))
    context = {
        "position": position,
        "form": form,
        "against": rules.against_tape(facts, one_end=False, emergency=False),
        "warnings": rules.warnings_for_tape(facts),
        "ends": ends,
        "steering": steering_of(position, sheet.product_version) if sheet and ends else "",
        "sheet": sheet,
        "named": walks_naming(position).first(),
        "trail": _trail(position, ("Decide", "")),
    }
    return render(request, "causes/decide.html", context, status=status)


def _trial_page(
    request: PersonRequest,
    position: Position,
    form: TrialForm | None = None,
    *,
    signing: tuple[int, SecretForm] | None = None,
    status: int = 200,
) -> HttpResponse:
    rows = RecipeVersion.objects.filter(recipe__position=position, trial_ends_at__isnull=False).order_by("-pk")
    trials = []
    for row in rows.select_related("recipe__position", "step__path")[:10]:
        goes_on = row.state == RecipeVersion.State.IN_FORCE and not over_because(row, request.at)
        waits = goes_on and not is_started(row)
        secret = signing[1] if signing and signing[0] == row.pk else SecretForm(auto_id=f"id_{row.pk}_%s")
        ends = brief_text(row.trial_ends_at, request.zone)
        trials.append({"version": row, "ends": ends, "goes_on": goes_on, "form": secret if waits else None})
    drafts = _drafts(position)
    context = {
        "position": position,
        "form": form or TrialForm(drafts=drafts),
        "drafts": drafts,
        "trials": trials,
        "person": request.user,
        "roles_text": ", ".join(role_words(request.roles)),
        "trail": _trail(position, ("Trial", "")),
    }
    return render(request, "causes/trial.html", context, status=status)


def _drafts(position: Position) -> QuerySet[RecipeVersion]:
    rows = RecipeVersion.objects.filter(recipe__position=position, state=RecipeVersion.State.DRAFT)
    return rows.filter(stock__isnull=False, trial_ends_at=None).select_related("recipe__position")


@require_http_methods(["GET", "POST"])
@for_roles(Role.ENGINEER, act="Trying tape")
def trial(request: PersonRequest, code: str) -> HttpResponse:
    """Turn a draft into a trial that ends by itself."""
    position = position_by_code(code)
    if request.method != "POST":
        return _trial_page(request, position)
    form, status = TrialForm(request.POST, drafts=_drafts(position)), 422
    if form.is_valid():
        given = form.cleaned_data
        try:
            made = make_trial(given["version"], rolls=given["rolls"], by=request.user, at=request.at)
        except Refused as refusal:
            status = keep_on_form(form, refusal)
        else:
            messages.success(request, "It is a trial now; sign it and let it be approved, then sign its start.")
            return redirect("rollers:recipe", made.pk)
    return _trial_page(request, position, form, status=status)


@require_POST
def start(request: PersonRequest, pk: int) -> HttpResponse:
    """The engineer signs that the trial starts and that they are there."""
    found, status = recipe_version(pk), 422
    form, position = SecretForm(request.POST, auto_id=f"id_{pk}_%s"), found.recipe.position
    if form.is_valid():
        try:
            start_trial(found, confirmation=confirm(request, form.cleaned_data["secret"]))
        except Refused as refusal:
            status = keep_on_form(form, refusal)
        else:
            messages.success(request, "Signed: the trial starts. It ends by itself.")
            return redirect("causes:trial", position.code)
    return _trial_page(request, position, signing=(pk, form), status=status)
