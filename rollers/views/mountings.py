"""What sits at a place, and the acts that change it."""

from collections.abc import Callable
from typing import Any

from django.contrib import messages
from django.forms import Form
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.views.decorators.http import require_POST, require_safe

from plant.errors import NotFound, Refused
from plant.floor.models import Position
from plant.people.models import Person
from plant.people.requests import PersonRequest
from plant.web.refusing import keep_on_form
from rollers.access import position_by_code
from rollers.forms.registry import IncomingForm, SwapForm, TakeOutForm, TurnForm
from rollers.models import Mounting
from rollers.queries_registry import mounted_at, tape_state
from rollers.services.bodies import KEEPERS_OF_ROLLERS
from rollers.services.mountings import mount, swap_body, turn_body, unmount


def _mount(position: Position, given: dict[str, Any], **who: Any) -> str:
    made = mount(given.pop("body"), position, **given, **who)
    return f"{made.body.serial} is mounted at {position.code}."


def _swap(position: Position, given: dict[str, Any], **who: Any) -> str:
    made = swap_body(position, given.pop("body"), **given, **who)
    return (
        f"{made.body.serial} is mounted at {position.code}; the position is to be looked at again before the next run."
    )


def _take_out(position: Position, given: dict[str, Any], **who: Any) -> str:
    made = unmount(position, **given, **who)
    return f"{made.body.serial} is taken out of {position.code}."


def _turn(position: Position, given: dict[str, Any], **who: Any) -> str:
    made = turn_body(position, **given, **who)
    return f"{made.body.serial} is now {made.get_orientation_display()}."


ACTS: dict[str, tuple[type[Form], Callable[..., str], str]] = {
    "swap": (SwapForm, _swap, "Swap the roller"),
    "take-out": (TakeOutForm, _take_out, "Take the roller out"),
    "turn": (TurnForm, _turn, "Turn it end for end"),
    "mount": (IncomingForm, _mount, "Mount a roller"),
}


def _page(request: PersonRequest, position: Position, bound: dict[str, Form], status: int = 200) -> HttpResponse:
    here = mounted_at(position)
    offered = ["swap", "take-out", "turn"] if here else ["mount"]
    context = {
        "position": position,
        "mounting": here,
        "state": tape_state(here.body) if here else "",
        "acts": [(act, ACTS[act][2], bound.get(act) or ACTS[act][0](auto_id=f"{act}_%s")) for act in offered],
        "history": Mounting.objects.filter(position=position).select_related("body").order_by("-mounted_at")[:30],
        "measurements": position.measurements.select_related("gauge", "by")[:20],
        "may_change": bool(frozenset(KEEPERS_OF_ROLLERS) & request.roles),
        "trail": [
            ("Start", reverse("home")),
            (f"Line {position.line.code}", reverse("floor:line", args=[position.line.code])),
            (f"Roller at {position.code}", ""),
        ],
    }
    return render(request, "rollers/bodies/mounting.html", context, status=status)


@require_safe
def mounting(request: PersonRequest, code: str) -> HttpResponse:
    """Which roller sits here now and sat here before."""
    return _page(request, position_by_code(code), {})


@require_POST
def do(request: PersonRequest, code: str, act: str) -> HttpResponse:
    """Mount, swap, take out or turn."""
    position, person = position_by_code(code), request.user
    if act not in ACTS:
        raise NotFound("act", act, "Choose one on the page of the position.")
    form_class, service, _ = ACTS[act]
    form, status = form_class(request.POST, auto_id=f"{act}_%s"), 422
    if form.is_valid():
        try:
            said = _done(service, position, form, person, request)
        except Refused as refusal:
            status = keep_on_form(form, refusal)
        else:
            messages.success(request, said)
            return redirect("rollers:mounting", position.code)
    return _page(request, position, {act: form}, status)


def _done(service: Callable[..., str], position: Position, form: Form, person: Person, request: PersonRequest) -> str:
    return service(position, dict(form.cleaned_data), by=person, at=request.at)
