"""Ledgers of rooms, knives, and counts: typed without the ledger's figures beside them, compared afterwards."""

from typing import Any

from django.contrib import messages
from django.forms import Form
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from plant.errors import NotFound, Refused
from plant.floor.access import room_by_code
from plant.floor.models import Room
from plant.floor.queries import room_kinds, shift_at
from plant.people.gates import for_roles
from plant.people.models import Role
from plant.people.queries import role_words
from plant.people.requests import PersonRequest
from plant.people.services import confirm_secret
from plant.web.asking import ask
from plant.web.refusing import keep_on_form
from rollers.access_store import count_by_pk, knife_by_number
from rollers.forms.store import (
    CountForm,
    KnifeBackForm,
    KnifeForm,
    KnifeOutForm,
    ReasonedForm,
    SignedReasonForm,
    StartCountForm,
)
from rollers.models import Bag, Reconciliation
from rollers.queries_counting import counts_of, open_differences, to_count
from rollers.queries_knives import knives_in, knives_now
from rollers.queries_store import reels_in, room_ledger
from rollers.rules_store import Compared, CountRow
from rollers.services.counting import close_difference, hints, record_count
from rollers.services.knives import KEEPERS as KNIFE_KEEPERS
from rollers.services.knives import bring_back, enter_knife, retire_knife, take_out
from rollers.views.store import room_choices, trail


@require_safe
def rooms(request: PersonRequest) -> HttpResponse:
    """Every room with its ledger."""
    kinds = room_kinds(request.at)
    rows = [(room, kinds.get(room.pk, "no class"), room_ledger(room)) for room in Room.objects.all()]
    return render(request, "rollers/store/rooms.html", {"rows": rows, "trail": trail(("Rooms", ""))})


@require_safe
def room(request: PersonRequest, code: str) -> HttpResponse:
    """One room: reels, knives, bags, and whether it balances."""
    found = room_by_code(code)
    context: dict[str, Any] = {
        "room": found,
        "kind": room_kinds(request.at).get(found.pk, "no class"),
        "ledger": room_ledger(found),
        "reels": reels_in(found),
        "knives": knives_in(found),
        "bags": Bag.objects.filter(room=found).select_related("opened_by")[:12],
        "counts": counts_of("room", found.code),
        "trail": trail(("Rooms", reverse("rollers:room-ledgers")), (found.code, "")),
    }
    return render(request, "rollers/store/room.html", context)


# --- knives -----------------------------------------------------------------------------------------------------


@require_http_methods(["GET", "POST"])
def knives(request: PersonRequest) -> HttpResponse:
    """Every knife and where it is; a new one gets its number here."""

    def act(filled: KnifeForm) -> HttpResponse:
        given = filled.cleaned_data
        made = enter_knife(given["number"], snap_off=given["snap_off"], by=request.user, at=request.at)
        messages.success(request, f"Knife {made.number} is entered.")
        return redirect("rollers:knives")

    context: dict[str, Any] = {
        "rows": knives_now(),
        "wanted": request.GET.get("number", ""),
        "may_keep": bool(set(KNIFE_KEEPERS) & request.roles),
        "insider": bool(request.roles - {Role.GUEST}),
        "trail": trail(("Knives", "")),
    }
    return ask(request, KnifeForm(request.POST or None), act, template="rollers/store/knives.html", **context)


@require_http_methods(["GET", "POST"])
@for_roles(*(role for role in Role if role != Role.GUEST), act="Handling a knife")
def knife_act(request: PersonRequest, number: str, act: str) -> HttpResponse:
    """A knife goes out, comes back, or is retired."""
    found = knife_by_number(number)
    data = request.POST or None

    def out(filled: KnifeOutForm) -> str:
        to = room_by_code(filled.cleaned_data["room"])
        take_out(found, room=to, by=request.user, at=request.at)
        return f"Knife {found} is out in room {to}."

    def back(filled: KnifeBackForm) -> str:
        given = filled.cleaned_data
        bring_back(found, whole=given["whole"], note=given["note"], by=request.user, at=request.at)
        return f"Knife {found} is back{'' if given['whole'] else '; stop and search for the missing part'}."

    def retire(filled: ReasonedForm) -> str:
        retire_knife(found, reason=filled.cleaned_data["reason"], by=request.user, at=request.at)
        return f"Knife {found} is retired."

    shapes = {
        "out": ("Take out", lambda: KnifeOutForm(data, rooms=room_choices()), out),
        "back": ("Bring back", lambda: KnifeBackForm(data), back),
        "retire": ("Retire", lambda: ReasonedForm(data), retire),
    }
    if act not in shapes:
        raise NotFound("act", act, f"Choose one of: {', '.join(shapes)}.")
    title, shape, do = shapes[act]

    def done(filled: Form) -> HttpResponse:
        messages.success(request, do(filled))  # type: ignore[operator]
        return redirect("rollers:knives")

    here = reverse("rollers:knives")
    lede = "Guard the blade, cut away from the body, never on the roller face. Look at the whole edge before it goes."
    context: dict[str, Any] = {"trail": trail(("Knives", here), (found.number, "")), "back": here, "action": title}
    return ask(request, shape(), done, heading=f"{title} knife {found.number}", lede=lede, **context)


# --- counts -----------------------------------------------------------------------------------------------------


@require_http_methods(["GET", "POST"])
def counts(request: PersonRequest) -> HttpResponse:
    """Differences that wait for QA, what was counted lately, and where a new count begins."""

    def act(filled: StartCountForm) -> HttpResponse:
        scope, code = filled.cleaned_data["scope"], filled.cleaned_data["room"]
        if scope == "shift":
            shift = shift_at(request.at)
            if shift is None:
                raise Refused("no-shift", "No shift is planned for now: count the whole room.", field="scope")
            code = f"{shift.pk}.{code}"
        return redirect("rollers:new-count", scope, code)

    context: dict[str, Any] = {
        "open": open_differences(),
        "lately": Reconciliation.objects.select_related("by", "answers")[:20],
        "trail": trail(("Counts", "")),
    }
    form = StartCountForm(request.POST or None, rooms=room_choices())
    return ask(request, form, act, template="rollers/store/counts.html", **context)


@require_http_methods(["GET", "POST"])
@for_roles(*(role for role in Role if role != Role.GUEST), act="Counting")
def new_count(request: PersonRequest, scope: str, key: str) -> HttpResponse:
    """Count: the ledger's figures are not shown before what was seen is typed."""
    label, rows, _ = to_count(scope, key)
    form = CountForm(request.POST or None, rows=rows)

    def act(filled: CountForm) -> HttpResponse:
        given = filled.cleaned_data["cause"]
        made = record_count(scope, key, counted=filled.counted(), cause=given, by=request.user, at=request.at)
        if made.differs:
            messages.warning(request, "The count differs. Count again with a second person, then search. QA is told.")
        else:
            messages.success(request, "The count is right.")
        return redirect("rollers:count", made.pk)

    back = reverse("rollers:counts")
    context: dict[str, Any] = {
        "trail": trail(("Counts", back), (label, "")),
        "back": back,
        "label": label,
        "rows": rows,
    }
    return ask(request, form, act, template="rollers/store/new_count.html", **context)


def _count_page(
    request: PersonRequest, made: Reconciliation, form: SignedReasonForm, status: int = 200
) -> HttpResponse:
    answer = made.answered_by.select_related("by").first()
    compared = [
        Compared(CountRow(key, label, kind, expected), made.counted.get(key, 0))
        for key, (label, kind, expected) in made.expected.items()
    ]
    context: dict[str, Any] = {
        "made": made,
        "compared": compared,
        "hints": hints(made),
        "answer": answer,
        "form": form,
        "may_close": made.differs
        and made.answers_id is None
        and answer is None
        and Role.QA in request.roles
        and made.by_id != request.user.pk,
        "person": request.user,
        "roles_text": ", ".join(role_words(request.roles)),
        "trail": trail(("Counts", reverse("rollers:counts")), (made.label, "")),
    }
    return render(request, "rollers/store/count.html", context, status=status)


@require_safe
def count(request: PersonRequest, pk: int) -> HttpResponse:
    """One count beside the ledger of that moment."""
    return _count_page(request, count_by_pk(pk), SignedReasonForm())


@require_POST
def close(request: PersonRequest, pk: int) -> HttpResponse:
    """QA closes a difference, signed."""
    made, form = count_by_pk(pk), SignedReasonForm(request.POST)
    if not form.is_valid():
        return _count_page(request, made, form, 422)
    try:
        signed = confirm_secret(request.user, form.cleaned_data["secret"], at=request.at, time_zone=request.zone.key)
        close_difference(made, cause=form.cleaned_data["reason"], confirmation=signed)
    except Refused as refusal:
        return _count_page(request, made, form, keep_on_form(form, refusal))
    messages.success(request, "The difference is closed.")
    return redirect("rollers:count", pk)
