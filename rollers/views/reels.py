"""Reels by their label: issue, take back, scrap, count; and the bags with pieces."""

from collections.abc import Callable
from typing import Any

from django.contrib import messages
from django.forms import Form
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.views.decorators.http import require_http_methods, require_safe

from plant.errors import NotFound
from plant.floor.access import room_by_code
from plant.floor.queries import on_shift
from plant.floor.views.lines import units_of
from plant.people.access import person_by_number, require_role
from plant.people.models import Person, Role
from plant.people.queries import active_people
from plant.people.requests import PersonRequest
from plant.web.asking import ask
from rollers.access_store import bag_by_label, reel_by_label
from rollers.forms.store import BackForm, CloseBagForm, CountReelForm, IssueForm, ScrapForm
from rollers.models import Reel
from rollers.queries_pieces import bag_pieces
from rollers.queries_store import moves_of, reel_now
from rollers.services import issuing
from rollers.services.bags import close_bag
from rollers.views.store import KEEPERS, room_choices, trail


def _people(request: PersonRequest) -> list[tuple[str, str]]:
    """Who is on shift first, then everybody."""
    present = on_shift(request.at)
    here = {person.pk for person in present}
    rest = [person for person in active_people(request.at).order_by("name") if person.pk not in here]
    label: Callable[[Person], str] = lambda person: person.name + (" (on shift)" if person.pk in here else "")  # noqa: E731
    return [(person.staff_no, label(person)) for person in [*present, *rest]]


@require_safe
def reel(request: PersonRequest, label: str) -> HttpResponse:
    """One reel: what is left, where it is, and every move."""
    found = reel_by_label(label)
    moves, left, rows = moves_of([found])[found.pk], 0.0, []
    for move in moves:
        sign = {"received": 1, "counted": 1, "cut": -1, "scrapped": -1}.get(move.kind, 0)
        left += sign * move.length_m
        rows.append((move, sign * move.length_m if sign else None, left))
    context: dict[str, Any] = {
        "reel": found,
        "now": reel_now(found),
        "rows": rows[::-1],
        "may_keep": bool(KEEPERS & request.roles),
        "may_count": bool((KEEPERS | {Role.SUPERVISOR}) & request.roles),
        "trail": trail((f"Lot {found.lot.code}", reverse("rollers:lot", args=[found.lot_id])), (found.label, "")),
    }
    return render(request, "rollers/store/reel.html", context)


def _issue(request: PersonRequest, found: Reel) -> tuple[Form, Callable[[IssueForm], str]]:
    rooms, people = room_choices(), _people(request)
    form = IssueForm(request.POST or None, units=units_of(request), rooms=rooms, people=people)

    def act(filled: IssueForm) -> str:
        given = filled.cleaned_data
        done = issuing.issue(
            found,
            room_by_code(given["room"]),
            to=person_by_number(given["to"]),
            wanted_m=filled.metres() or 0.0,
            reason=given["reason"],
            by=request.user,
            at=request.at,
        )
        if done.hint:
            messages.warning(request, done.hint)
        return f"Reel {found.label} is issued to {done.move.to.name if done.move.to else ''} for {done.move.room}."

    return form, act


def _take_back(request: PersonRequest, found: Reel) -> tuple[Form, Callable[[BackForm], str]]:
    def act(filled: BackForm) -> str:
        issuing.take_back(found, reason=filled.cleaned_data["reason"], by=request.user, at=request.at)
        return f"Reel {found.label} is back in the store."

    return BackForm(request.POST or None), act


def _scrap(request: PersonRequest, found: Reel) -> tuple[Form, Callable[[ScrapForm], str]]:
    def act(filled: ScrapForm) -> str:
        reason = filled.cleaned_data["reason"]
        move = issuing.scrap(found, filled.metres(), reason=reason, by=request.user, at=request.at)
        return f"{move.length_m:.2f} m of reel {found.label} are scrapped."

    return ScrapForm(request.POST or None, units=units_of(request)), act


def _count(request: PersonRequest, found: Reel) -> tuple[Form, Callable[[CountReelForm], str]]:
    def act(filled: CountReelForm) -> str:
        reason, length = filled.cleaned_data["reason"], filled.metres() or 0.0
        move = issuing.count_length(found, length, reason=reason, by=request.user, at=request.at)
        return f"Reel {found.label} has {length:.2f} m; the ledger was corrected by {move.length_m:+.2f} m."

    return CountReelForm(request.POST or None, units=units_of(request)), act


KEEP = (Role.STOREKEEPER, Role.QA)
ACTS: dict[str, tuple[str, str, Callable[..., Any], tuple[Role, ...]]] = {
    "issue": ("Issue", "Issue it", _issue, KEEP),
    "back": ("Take back", "Take it back", _take_back, KEEP),
    "scrap": ("Scrap tape of", "Scrap it", _scrap, (*KEEP, Role.SUPERVISOR)),
    "count": ("Count", "Correct the ledger", _count, (*KEEP, Role.SUPERVISOR)),
}


@require_http_methods(["GET", "POST"])
def reel_act(request: PersonRequest, label: str, act: str) -> HttpResponse:
    """Issue, take back, scrap or count a reel."""
    if act not in ACTS:
        raise NotFound("act", act, f"Choose one of: {', '.join(ACTS)}.")
    title, action, shape, roles = ACTS[act]
    require_role(request.user, *roles, at=request.at, act=f"{title} a reel")
    found = reel_by_label(label)
    form, do = shape(request, found)
    here = reverse("rollers:reel", args=[found.label])

    def done(filled: Form) -> HttpResponse:
        messages.success(request, do(filled))
        return redirect(here)

    now = reel_now(found)
    lede = f"Lot {found.lot.code} of {found.lot.stock}, {now.left_m:.2f} m left by the ledger, {now.place}."
    context: dict[str, Any] = {"trail": trail((found.label, here)), "back": here, "action": action}
    return ask(request, form, done, heading=f"{title} reel {found.label}", lede=lede, **context)


@require_http_methods(["GET", "POST"])
def bag(request: PersonRequest, label: str) -> HttpResponse:
    """One bag: the pieces recorded into it, and its count."""
    found = bag_by_label(label)

    def act(filled: CloseBagForm) -> HttpResponse:
        close_bag(found, counted=filled.cleaned_data["counted"], by=request.user, at=request.at)
        messages.success(request, f"Bag {found.label} is closed.")
        return redirect("rollers:bag", found.label)

    context: dict[str, Any] = {
        "bag": found,
        "pieces": bag_pieces(found) if found.closed_at else [],
        "trail": trail(
            (f"Room {found.room}", reverse("rollers:room-ledger", args=[found.room.code])), (found.label, "")
        ),
    }
    return ask(request, CloseBagForm(request.POST or None), act, template="rollers/store/bag.html", **context)
