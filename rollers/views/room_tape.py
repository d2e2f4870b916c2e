"""Tape of a room: the map of now, and how it grew or shrank."""

from typing import Any

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.urls import reverse
from django.views.decorators.http import require_GET

from plant.errors import NotFound
from plant.floor.models import Room
from plant.floor.queries import room_kinds
from plant.web.svg import Curve, CurvePlot, Level, curve_plot
from rollers.control import control
from rollers.room_tape import RollerTape, tape_now, taped_over_time
from rollers.views import shown


def _over_time(request: HttpRequest, room: Room, cap: int) -> str:
    """Days before now on the one axis, taped rollers on the other; a stair."""
    at = shown.moment_at(request)
    stairs, points = taped_over_time(room, at), []
    for number, (moment, count) in enumerate(stairs):
        day = (moment - at).total_seconds() / 86400
        if number:
            points.append((day, float(stairs[number - 1][1])))
        points.append((day, float(count)))
    plot = CurvePlot(
        f"Taped rollers in room {room.code}, last 90 days",
        (Curve("taped rollers", tuple(points)),),
        "days before now",
        "rollers with tape",
        levels=(Level(cap, f"cap {cap} a line"),),
        said=f"{stairs[0][1]} rollers carried tape 90 days ago, {stairs[-1][1]} do now.",
    )
    return curve_plot(plot)


def _row(row: RollerTape, request: HttpRequest) -> dict[str, Any]:
    zone = shown.zone_of(request)
    return {
        "row": row,
        "applied": shown.brief_text(row.application.applied_at, zone) if row.application else "",
        "last": shown.brief_text(row.fact.at, zone) if row.fact else "",
    }


@require_GET
def room_tape(request: HttpRequest, code: str) -> HttpResponse:
    """What is on every roller of a room now, by whom, and the trend."""
    room = Room.objects.filter(code__iexact=code).first()
    if room is None:
        raise NotFound("room", code, "Choose from the list of rooms.")
    at = shown.moment_at(request)
    rows = tape_now(room)
    taped = [row for row in rows if row.on.state != "bare"]
    context = {
        "room": room,
        "kind": room_kinds(at).get(room.pk, "without a class"),
        "taped": [_row(row, request) for row in taped],
        "bare": [row for row in rows if row.on.state == "bare"],
        "pieces": sum(row.on.pieces for row in rows),
        "over_time": _over_time(request, room, int(control("tape_cap"))),
        "as_of": shown.local_text(at, shown.zone_of(request)),
        "trail": [("Rooms", reverse("floor:rooms")), (f"Tape in {room.code}", "")],
    }
    return render(request, "rollers/line/room_tape.html", context)
