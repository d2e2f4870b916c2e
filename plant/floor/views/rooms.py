"""The plant and its rooms."""

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.views.decorators.http import require_http_methods, require_safe

from plant.floor import access, forms, queries, rules
from plant.floor.models import Plant, RoomClass
from plant.floor.services import add_room, change_plant, reclassify_room, set_up_plant
from plant.people.gates import for_roles
from plant.people.models import Role
from plant.people.requests import PersonRequest
from plant.people.services import confirm_secret
from plant.web.asking import ask

BUILDERS = frozenset({Role.KEEPER, Role.ENGINEER})


@require_http_methods(["GET", "POST"])
@for_roles(Role.KEEPER, Role.ENGINEER, act="The plant's page")
def plant(request: PersonRequest) -> HttpResponse:
    """Set the plant up; later its page to change."""
    there: Plant | None = request.plant
    first = {"name": there.name, "time_zone": there.time_zone, "units": there.units} if there else {}
    form = forms.PlantForm(request.POST or None, initial=first, known=there is not None)

    def act(filled: forms.PlantForm) -> HttpResponse:
        if there is None:
            made = set_up_plant(**filled.cleaned_data, by=request.user, at=request.at)
            messages.success(request, f"{made.name} is set up. Next comes its first room.")
            return redirect("home")
        change_plant(there, **filled.cleaned_data, by=request.user, at=request.at)
        messages.success(request, "The plant's page is changed.")
        return redirect("floor:plant")

    return ask(
        request,
        form,
        act,
        heading=there.name if there else "Set up the plant",
        lede=""
        if there
        else "One installation serves one plant. Its clock decides when days, shifts and certificates end.",
        trail=[("Start", reverse("home")), ("Plant", "")],
        back=reverse("home"),
        action="Save" if there else "Set up",
    )


@require_safe
def rooms(request: PersonRequest) -> HttpResponse:
    """Every room with its class now and what it was before."""
    rows: dict[int, list[RoomClass]] = {}
    for each in RoomClass.objects.select_related("room").order_by("room__code", "valid_from"):
        rows.setdefault(each.room_id, []).append(each)
    now = queries.room_kinds(request.at)
    context = {
        "rooms": [
            {"room": history[0].room, "kind": now.get(room_id, "not yet"), "history": history}
            for room_id, history in rows.items()
        ],
        "may_build": bool((BUILDERS | {Role.QA}) & request.roles),
        "may_reclassify": bool({Role.QA, Role.KEEPER} & request.roles),
        "trail": [("Start", reverse("home")), ("Rooms", "")],
    }
    return render(request, "floor/rooms.html", context)


@require_http_methods(["GET", "POST"])
@for_roles(Role.KEEPER, Role.ENGINEER, Role.QA, act="Entering a room")
def new_room(request: PersonRequest) -> HttpResponse:
    """Enter a room."""
    today = request.at.astimezone(request.zone).date()
    form = forms.RoomForm(request.POST or None, initial={"valid_from": today})

    def act(filled: forms.RoomForm) -> HttpResponse:
        given = filled.cleaned_data
        start = rules.day_start(given.pop("valid_from"), request.zone)
        room = add_room(**given, valid_from=start, by=request.user, at=request.at)
        messages.success(request, f"Room {room.code} is entered.")
        return redirect("floor:rooms")

    trail = [("Start", reverse("home")), ("Rooms", reverse("floor:rooms")), ("New room", "")]
    return ask(request, form, act, heading="New room", trail=trail, back=reverse("floor:rooms"))


@require_http_methods(["GET", "POST"])
@for_roles(Role.QA, Role.KEEPER, act="Reclassifying a room")
def reclassify(request: PersonRequest, code: str) -> HttpResponse:
    """Give a room another class from a moment on."""
    room = access.room_by_code(code)
    form = forms.ReclassifyForm(request.POST or None, initial={"valid_from": request.at})

    def act(filled: forms.ReclassifyForm) -> HttpResponse:
        given = filled.cleaned_data
        secret, person = given.pop("secret"), request.user
        signed = confirm_secret(person, secret, at=request.at, time_zone=request.zone.key) if secret else None
        reclassify_room(room, **given, by=person, at=request.at, confirmation=signed)
        messages.success(request, f"Room {room.code} is {given['kind']} from {given['valid_from']:%d %b %Y, %H:%M}.")
        return redirect("floor:rooms")

    return ask(
        request,
        form,
        act,
        heading=f"Another class for room {room.code}",
        lede="What was recorded before that moment stays judged by the class of then. A stricter class is tested at "
        "once on everything in the room.",
        trail=[("Start", reverse("home")), ("Rooms", reverse("floor:rooms")), (room.code, "")],
        back=reverse("floor:rooms"),
        action="Reclassify",
    )
