"""Lots: received, measured, released, held; their reels and their ledger."""

import secrets
from typing import Any

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.views.decorators.http import require_http_methods, require_safe

from plant.audit.services import Confirmation
from plant.errors import Refused
from plant.floor.queries import plant_date
from plant.floor.views.lines import units_of
from plant.people.access import person_by_number
from plant.people.gates import for_roles
from plant.people.models import Role
from plant.people.queries import role_words
from plant.people.requests import PersonRequest
from plant.people.services import confirm_secret
from plant.web.asking import ask
from plant.web.refusing import keep_on_form
from rollers.access import stock_by_code
from rollers.access_store import lot_by_pk
from rollers.control import control
from rollers.forms.store import MeasureLotForm, MoreReelsForm, ReasonedForm, ReceiveForm, ReleaseLotForm, UnlabelledForm
from rollers.models import Lot, Reel
from rollers.queries_store import lot_ledger, lot_ledgers, reels_now
from rollers.rules_store import thickness_off_pct
from rollers.services.lots import CLEAN, OPEN, close_used_up, hold_lot, measure_lot, release_lot
from rollers.services.receiving import add_reels, receive_lot, take_in_unlabelled
from rollers.views.store import KEEPERS, trail

MEASURERS = frozenset({Role.STOREKEEPER, Role.ENGINEER, Role.QA})
HOLDERS = frozenset({Role.STOREKEEPER, Role.SUPERVISOR, Role.ENGINEER, Role.QA})


def lots_trail(*more: tuple[str, str]) -> list[tuple[str, str]]:
    """Where a page of a lot stands."""
    return trail(("Lots", reverse("rollers:lots")), *more)


@require_safe
def lots(request: PersonRequest) -> HttpResponse:
    """Every lot with its status and whether its ledger balances."""
    status = request.GET.get("status", "")
    rows = Lot.objects.select_related("stock")
    if status in Lot.Status.values:
        rows = rows.filter(status=status)
    found = list(rows.order_by("stock__code", "-received_at"))
    ledgers = lot_ledgers(found)
    context: dict[str, Any] = {
        "rows": [(lot, ledgers[lot.pk]) for lot in found],
        "status": status,
        "statuses": Lot.Status.choices,
        "today": plant_date(request.at),
        "may_keep": bool(KEEPERS & request.roles),
        "trail": trail(("Lots", "")),
    }
    return render(request, "rollers/store/lots.html", context)


@require_http_methods(["GET", "POST"])
@for_roles(Role.STOREKEEPER, Role.QA, act="Receiving a lot")
def receive(request: PersonRequest) -> HttpResponse:
    """Take a delivery in."""
    form = ReceiveForm(request.POST or None, units=units_of(request), initial={"stock": request.GET.get("stock", "")})

    def act(filled: ReceiveForm) -> HttpResponse:
        given = filled.cleaned_data
        made = receive_lot(
            stock=stock_by_code(given["stock"]),
            code=given["code"],
            lengths_m=[filled.metres() or 0.0] * given["count"],
            supplier=given["supplier"],
            made_on=given["made_on"],
            use_by=given["use_by"],
            by=request.user,
            at=request.at,
            random=secrets.SystemRandom(),
        )
        messages.success(request, f"Lot {made.code} is in quarantine. Print its labels, then measure its thickness.")
        return redirect("rollers:lot", made.pk)

    context: dict[str, Any] = {
        "trail": lots_trail(("Receive", "")),
        "back": reverse("rollers:lots"),
        "action": "Receive it",
    }
    lede = "The lot waits in quarantine until it is measured and released. Each reel gets a label of its own."
    return ask(request, form, act, heading="Receive a lot", lede=lede, **context)


@require_http_methods(["GET", "POST"])
@for_roles(Role.STOREKEEPER, Role.QA, act="Taking in a reel without a label")
def unlabelled(request: PersonRequest) -> HttpResponse:
    """A reel that nobody could recall."""
    form = UnlabelledForm(request.POST or None, units=units_of(request))

    def act(filled: UnlabelledForm) -> HttpResponse:
        given = filled.cleaned_data
        made = take_in_unlabelled(
            stock_by_code(given["stock"]),
            filled.metres() or 0.0,
            where=given["where"],
            by=request.user,
            at=request.at,
            random=secrets.SystemRandom(),
        )
        messages.success(request, "The reel is quarantined under a new label. It is never released: scrap it with QA.")
        return redirect("rollers:lot", made.pk)

    context: dict[str, Any] = {
        "trail": lots_trail(("Without a label", "")),
        "back": reverse("rollers:lots"),
        "action": "Quarantine it",
    }
    lede = "A reel without a label cannot be recalled, so it is never used."
    return ask(request, form, act, heading="A reel without a label", lede=lede, **context)


def _release_form(request: PersonRequest, lot: Lot) -> ReleaseLotForm:
    two = not (CLEAN & set(lot.stock.room_kinds)) and Role.QA not in request.roles and lot.status != Lot.Status.HELD
    return ReleaseLotForm(request.POST or None, held=lot.status == Lot.Status.HELD, two=two)


def _page(request: PersonRequest, found: Lot, form: ReleaseLotForm, status: int = 200) -> HttpResponse:
    clean = bool(CLEAN & set(found.stock.room_kinds))
    releasers = {Role.QA} if clean or found.status == Lot.Status.HELD else {Role.QA, Role.STOREKEEPER}
    measured = found.measured_thickness_mm
    context: dict[str, Any] = {
        "lot": found,
        "stock": found.stock,
        "acts": found.acts.select_related("by").order_by("-pk"),
        "reels": reels_now(Reel.objects.filter(lot=found).select_related("lot__stock").order_by("label")),
        "ledger": lot_ledger(found),
        "off": thickness_off_pct(measured, found.stock.thickness_mm) if measured else None,
        "most_off": control("thickness_off_pct"),
        "today": plant_date(request.at),
        "form": form,
        "open": found.status in OPEN,
        "may_release": bool(releasers & request.roles) and found.status in (Lot.Status.QUARANTINED, Lot.Status.HELD),
        "releasers": "QA" if clean else "QA, or the storekeeper and a second person",
        "may_measure": bool(MEASURERS & request.roles) and found.status in OPEN,
        "may_keep": bool(KEEPERS & request.roles),
        "may_hold": bool(HOLDERS & request.roles) and found.status in (Lot.Status.QUARANTINED, Lot.Status.RELEASED),
        "may_recall": bool({Role.QA, Role.STOREKEEPER, Role.SUPERVISOR} & request.roles),
        "person": request.user,
        "roles_text": ", ".join(role_words(request.roles)),
        "trail": lots_trail((f"{found.stock.code} {found.code}", "")),
    }
    return render(request, "rollers/store/lot.html", context, status=status)


@require_safe
def lot(request: PersonRequest, pk: int) -> HttpResponse:
    """One lot."""
    found = lot_by_pk(pk)
    return _page(request, found, _release_form(request, found))


def _second(request: PersonRequest, form: ReleaseLotForm) -> Confirmation | None:
    """The second person at the same desk, where the form asks for one."""
    if "other_staff_no" not in form.fields or not form.cleaned_data["other_staff_no"]:
        return None
    try:
        other = person_by_number(form.cleaned_data["other_staff_no"])
        return confirm_secret(other, form.cleaned_data["other_secret"], at=request.at, time_zone=request.zone.key)
    except Refused as refusal:
        raise Refused(refusal.code, refusal.sentence, field="other_staff_no") from None


@require_http_methods(["GET", "POST"])
def release(request: PersonRequest, pk: int) -> HttpResponse:
    """Release it, signed."""
    found = lot_by_pk(pk)
    if request.method != "POST":
        return redirect("rollers:lot", pk)
    form = _release_form(request, found)
    if not form.is_valid():
        return _page(request, found, form, 422)
    try:
        mine = confirm_secret(request.user, form.cleaned_data["secret"], at=request.at, time_zone=request.zone.key)
        second = _second(request, form)
        release_lot(found, confirmation=mine, second=second, reason=form.cleaned_data.get("reason", ""))
    except Refused as refusal:
        status = keep_on_form(form, refusal)
        return _page(request, lot_by_pk(pk), form, status)
    messages.success(request, f"Lot {found.code} is released.")
    return redirect("rollers:lot", pk)


@require_http_methods(["GET", "POST"])
@for_roles(Role.STOREKEEPER, Role.ENGINEER, Role.QA, act="Measuring a lot")
def measure(request: PersonRequest, pk: int) -> HttpResponse:
    """Its thickness."""
    found = lot_by_pk(pk)
    form = MeasureLotForm(request.POST or None, units=units_of(request))

    def act(filled: MeasureLotForm) -> HttpResponse:
        after = measure_lot(found, filled.typed["thickness_mm"], by=request.user, at=request.at)
        if after.status == Lot.Status.HELD:
            messages.warning(request, f"Lot {after.code} is too far off its stock and on hold.")
        else:
            messages.success(request, f"The thickness of lot {after.code} is recorded; new sizings use it.")
        return redirect("rollers:lot", pk)

    here = reverse("rollers:lot", args=[pk])
    lede = f"{found.stock} has {found.stock.thickness_mm:g} mm. More than {control('thickness_off_pct'):g} % off: hold."
    heading = f"Thickness of lot {found.code}"
    return ask(request, form, act, heading=heading, lede=lede, trail=lots_trail((found.code, here)), back=here)


@require_http_methods(["GET", "POST"])
@for_roles(Role.STOREKEEPER, Role.SUPERVISOR, Role.ENGINEER, Role.QA, act="Holding a lot")
def hold(request: PersonRequest, pk: int) -> HttpResponse:
    """Nothing is cut from it until QA decides."""
    found, here = lot_by_pk(pk), reverse("rollers:lot", args=[pk])

    def act(filled: ReasonedForm) -> HttpResponse:
        hold_lot(found, reason=filled.cleaned_data["reason"], by=request.user, at=request.at)
        messages.success(request, f"Lot {found.code} is on hold. QA decides about it.")
        return redirect("rollers:lot", pk)

    form, heading = ReasonedForm(request.POST or None), f"Hold lot {found.code}"
    context: dict[str, Any] = {"trail": lots_trail((found.code, here)), "back": here, "action": "Put it on hold"}
    return ask(request, form, act, heading=heading, **context)


@require_http_methods(["GET", "POST"])
@for_roles(Role.STOREKEEPER, Role.QA, act="Receiving reels")
def more_reels(request: PersonRequest, pk: int) -> HttpResponse:
    """Reels of the lot that came later."""
    found, here = lot_by_pk(pk), reverse("rollers:lot", args=[pk])
    form = MoreReelsForm(request.POST or None, units=units_of(request))

    def act(filled: MoreReelsForm) -> HttpResponse:
        lengths = [filled.metres() or 0.0] * filled.cleaned_data["count"]
        made = add_reels(found, lengths, by=request.user, at=request.at, random=secrets.SystemRandom())
        messages.success(request, f"{len(made)} reels joined lot {found.code}. Print their labels.")
        return redirect("rollers:lot", pk)

    context: dict[str, Any] = {"trail": lots_trail((found.code, here)), "back": here, "action": "Receive them"}
    return ask(request, form, act, heading=f"More reels of lot {found.code}", **context)


@require_http_methods(["POST"])
def use_up(request: PersonRequest, pk: int) -> HttpResponse:
    """Close a lot of which nothing is left."""
    try:
        close_used_up(lot_by_pk(pk), by=request.user, at=request.at)
        messages.success(request, "The lot is closed: used up.")
    except Refused as refusal:
        messages.warning(request, refusal.sentence)
    return redirect("rollers:lot", pk)
