"""Recalls on one page; the tree from lot to roll and the way back; drills."""

from datetime import datetime
from time import perf_counter
from typing import Any

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from plant.audit.models import Event
from plant.errors import Refused
from plant.floor.access import line_by_code
from plant.floor.models import Line
from plant.floor.queries import in_utc
from plant.floor.views.lines import units_of
from plant.people.gates import for_roles
from plant.people.models import Role
from plant.people.requests import PersonRequest
from plant.people.services import confirm_secret
from plant.web.asking import ask
from rollers.access_store import lot_by_pk, roll_by_number
from rollers.forms.rolls import RollForm, RollsForm
from rollers.forms.store import FindingsForm, RecallForm, SignedReasonForm
from rollers.models import Application, Lot
from rollers.queries_recall import recall_of
from rollers.queries_trace import made_between, tape_of_roll
from rollers.services.recalls import begin_drill, finish_drill, hold_product, lift_recall, recall_lot
from rollers.services.rolls import WINDERS, record_roll
from rollers.views.store import trail


def _trail(*more: tuple[str, str]) -> list[tuple[str, str]]:
    return trail(("Recalls", reverse("rollers:recalls")), *more)


@require_safe
def recalls(request: PersonRequest) -> HttpResponse:
    """Recalled lots, and the drills with their times."""
    context: dict[str, Any] = {
        "lots": Lot.objects.filter(status=Lot.Status.RECALLED).select_related("stock").order_by("-received_at"),
        "drills": Event.objects.filter(stream="drills").select_related("actor").order_by("-seq")[:20],
        "released": Lot.objects.filter(status=Lot.Status.RELEASED).select_related("stock"),
        "is_qa": Role.QA in request.roles,
        "trail": trail(("Recalls", "")),
    }
    return render(request, "rollers/store/recalls.html", context)


@require_http_methods(["GET", "POST"])
@for_roles(Role.QA, Role.STOREKEEPER, Role.SUPERVISOR, act="Recalling a lot")
def recall(request: PersonRequest, pk: int) -> HttpResponse:
    """Lock a lot and tell every line."""
    found = lot_by_pk(pk)

    def act(filled: RecallForm) -> HttpResponse:
        given = filled.cleaned_data
        recall_lot(found, reason=given["reason"], contaminating=given["contaminating"], by=request.user, at=request.at)
        messages.warning(request, f"Lot {found.code} is locked. QA and the lines concerned are told.")
        return redirect("rollers:recall-page", pk)

    here = reverse("rollers:lot", args=[pk])
    lede = (
        f"{found.stock.name}. Nothing is cut from it any more. Lines with its tape on a roller are told at once; what "
        "was made on them is listed for QA."
    )
    context: dict[str, Any] = {"trail": _trail((found.code, here)), "back": here, "action": "Recall it"}
    heading = f"Recall lot {found.code} of {found.stock}"
    return ask(request, RecallForm(request.POST or None), act, heading=heading, lede=lede, **context)


@require_safe
def recall_page(request: PersonRequest, pk: int) -> HttpResponse:
    """Everything a lot touched: live, past, runs, rolls, reels. Also for a lot that is not recalled, as a drill."""
    found, begun = lot_by_pk(pk), perf_counter()
    answer = recall_of(found, request.at)
    context: dict[str, Any] = {
        "lot": found,
        "recall": answer,
        "kilometres": f"{answer.metres / 1000:,.1f}".replace(",", "\u202f"),
        "rolls_note": f"and {answer.counts['stretches']} stretches without one",
        "seconds": perf_counter() - begun,
        "recalled": found.status == Lot.Status.RECALLED,
        "is_qa": Role.QA in request.roles,
        "may_recall": bool({Role.QA, Role.STOREKEEPER, Role.SUPERVISOR} & request.roles),
        "findings": FindingsForm(),
        "trail": _trail((f"{found.stock.code} {found.code}", "")),
    }
    return render(request, "rollers/store/recall.html", context)


@require_safe
def tree(request: PersonRequest, pk: int) -> HttpResponse:
    """Lot, reels, tapings, runs, rolls: from one to the next."""
    found = lot_by_pk(pk)
    answer = recall_of(found, request.at)
    branches = [
        (now, [one for one in answer.tapings if now.reel.label in one.reels])
        for now in sorted(answer.reels, key=lambda now: now.reel.label)
    ]
    here = reverse("rollers:recall-page", args=[pk])
    context: dict[str, Any] = {"lot": found, "branches": branches, "trail": _trail((found.code, here), ("Tree", ""))}
    return render(request, "rollers/store/tree.html", context)


@require_POST
def hold(request: PersonRequest, pk: int, application: int) -> HttpResponse:
    """QA holds the product that passed one taping of the lot."""
    job = Application.objects.select_related("position__line").filter(pk=application).first()
    try:
        if job is None:
            raise Refused("no-taping", "This taping is not on record.")
        made = hold_product(lot_by_pk(pk), job, by=request.user, at=request.at)
        messages.success(request, f"{made.rolls.count()} rolls or parts are held; decide about each.")
    except Refused as refusal:
        messages.warning(request, refusal.sentence)
    return redirect("rollers:recall-page", pk)


@require_http_methods(["GET", "POST"])
@for_roles(Role.QA, act="Taking back a recall")
def lift(request: PersonRequest, pk: int) -> HttpResponse:
    """The recall named the wrong lot."""
    found = lot_by_pk(pk)

    def act(filled: SignedReasonForm) -> HttpResponse:
        secret = filled.cleaned_data["secret"]
        signed = confirm_secret(request.user, secret, at=request.at, time_zone=request.zone.key)
        lift_recall(found, reason=filled.cleaned_data["reason"], confirmation=signed)
        messages.success(request, f"The recall of lot {found.code} is taken back; the lot is on hold.")
        return redirect("rollers:lot", pk)

    here = reverse("rollers:recall-page", args=[pk])
    context: dict[str, Any] = {"trail": _trail((found.code, here)), "back": here, "action": "Sign and take back"}
    lede = "Only where the recall named the wrong lot. The lot is then on hold until QA releases it."
    form = SignedReasonForm(request.POST or None)
    return ask(request, form, act, heading=f"Take back the recall of {found.code}", lede=lede, **context)


@require_POST
def drill(request: PersonRequest, pk: int, act: str) -> HttpResponse:
    """Begin or finish a mock recall."""
    found = lot_by_pk(pk)
    try:
        if act == "begin":
            begin_drill(found, by=request.user, at=request.at)
            messages.success(request, "The clock of the drill runs. Find every reel and taping on the floor.")
        else:
            minutes = finish_drill(found, found=request.POST.get("found", ""), by=request.user, at=request.at)
            messages.success(request, f"The drill took {minutes:.0f} minutes; it is on record.")
    except Refused as refusal:
        messages.warning(request, refusal.sentence)
    return redirect("rollers:recall-page", pk)


@require_safe
def rolls(request: PersonRequest) -> HttpResponse:
    """Everything a line made between two times."""
    form = RollsForm(request.GET if request.GET else None, lines=_lines())
    made, status = None, 200
    if form.is_bound:
        if form.is_valid():
            line, since, until = (form.cleaned_data[name] for name in ("line", "since", "until"))
            made = made_between(line_by_code(line), _utc(since), _utc(until), request.at)
        else:
            status = 422
    context: dict[str, Any] = {
        "form": form,
        "may_record": bool(set(WINDERS) & request.roles),
        "made": made,
        "count": sum(len(one.recorded) for one in made or []),
        "metres": sum(one.metres for one in made or []),
        "trail": trail(("Rolls", "")),
    }
    return render(request, "rollers/store/rolls.html", context, status=status)


@require_http_methods(["GET", "POST"])
@for_roles(*WINDERS, act="Recording a roll")
def new_roll(request: PersonRequest) -> HttpResponse:
    """A roll came off the winder."""
    form = RollForm(request.POST or None, units=units_of(request), lines=_lines())

    def act(filled: RollForm) -> HttpResponse:
        given = filled.cleaned_data
        made = record_roll(
            line_by_code(given["line"]),
            number=given["number"],
            began_at=_utc(given["began_at"]),
            ended_at=_utc(given["ended_at"]),
            length_m=filled.metres() or 0.0,
            by=request.user,
            at=request.at,
        )
        messages.success(request, f"Roll {made.number} of {made.run} is recorded.")
        return redirect("rollers:roll", made.number)

    back = reverse("rollers:rolls")
    context: dict[str, Any] = {"trail": trail(("Rolls", back), ("Record", "")), "back": back, "action": "Record it"}
    lede = "Recorded rolls are what a hold and a recall name; without them a stretch of the run is named."
    return ask(request, form, act, heading="Record a roll", lede=lede, **context)


def _lines() -> list[tuple[str, str]]:
    return [(line.code, f"{line.code}, {line.name}") for line in Line.objects.all()]


def _utc(moment: datetime) -> datetime:
    """Forms give moments with or without a zone; without, it is the plant's."""
    return moment if moment.tzinfo else in_utc(moment)


@require_safe
def roll(request: PersonRequest, number: str) -> HttpResponse:
    """The way back: which tape, reels and lots were on the rollers of a roll's path while it was made."""
    found = roll_by_number(number)
    trail_here = trail(("Rolls", reverse("rollers:rolls")), (found.number, ""))
    return render(request, "rollers/store/roll.html", {"roll": found, "tape": tape_of_roll(found), "trail": trail_here})
