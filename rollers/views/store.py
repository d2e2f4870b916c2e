"""The storekeeper's first page: what is on hand and what asks for a hand; and finding by label."""

from datetime import timedelta
from urllib.parse import urlencode

from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.views.decorators.http import require_safe

from plant.errors import Refused
from plant.floor.models import Room
from plant.floor.queries import plant_date
from plant.people.models import Role
from plant.people.requests import PersonRequest
from rollers.access_store import labelled
from rollers.models import Bag, Knife, Lot, Reel, Roll
from rollers.queries_counting import open_differences
from rollers.queries_knives import knives_now
from rollers.queries_store import all_reels, lot_ledgers, on_hand, reels_now, reels_out

KEEPERS = frozenset({Role.STOREKEEPER, Role.QA})
SOON = timedelta(days=30)


def trail(*more: tuple[str, str]) -> list[tuple[str, str]]:
    """Where a page of the store stands."""
    return [("Start", reverse("home")), ("Store", reverse("rollers:store")), *more]


def room_choices() -> list[tuple[str, str]]:
    """Rooms to choose from."""
    return [(room.code, f"{room.code}, {room.name}") for room in Room.objects.all()]


@require_safe
def store(request: PersonRequest) -> HttpResponse:
    """Stock on hand, what is out, and what asks for a hand."""
    today = plant_date(request.at)
    waiting = Lot.objects.filter(status__in=[Lot.Status.QUARANTINED, Lot.Status.HELD]).select_related("stock")
    recalled = list(Lot.objects.filter(status=Lot.Status.RECALLED).select_related("stock"))
    reels = reels_now(all_reels().exclude(lot__status=Lot.Status.USED_UP))
    rows = on_hand(reels)
    ledgers = lot_ledgers(row.lot for row in rows)
    context = {
        "rows": rows,
        "today": today,
        "soon": today + SOON,
        "out": reels_out(reels),
        "waiting": list(waiting),
        "recalled": recalled,
        "knives_out": [now for now in knives_now() if now.is_out],
        "differences": open_differences(),
        "off": [key for key, ledger in ledgers.items() if not ledger.balances],
        "may_keep": bool(KEEPERS & request.roles),
        "label": request.GET.get("label", ""),
        "trail": [*trail()[:1], ("Store", "")],
    }
    return render(request, "rollers/store/home.html", context)


@require_safe
def find(request: PersonRequest) -> HttpResponse:
    """Whatever carries the label that was scanned or typed."""
    label = request.GET.get("label", "").strip()
    try:
        found = labelled(label)
    except Refused as refusal:
        context = {"refusal": refusal, "label": label, "trail": trail(("Not found", ""))}
        return render(request, "rollers/store/not_found.html", context, status=404)
    pages = {
        Reel: lambda: reverse("rollers:reel", args=[found.label]),  # type: ignore[union-attr]
        Bag: lambda: reverse("rollers:bag", args=[found.label]),  # type: ignore[union-attr]
        Knife: lambda: reverse("rollers:knives") + "?" + urlencode({"number": found.number}),  # type: ignore[union-attr]
        Lot: lambda: reverse("rollers:lot", args=[found.pk]),
        Roll: lambda: reverse("rollers:roll", args=[found.number]),  # type: ignore[union-attr]
    }
    return redirect(pages[type(found)]())
