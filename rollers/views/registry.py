"""The plant on one page: what is recorded, and where it is kept."""

from django.http import HttpResponse
from django.shortcuts import render
from django.urls import reverse
from django.views.decorators.http import require_safe

from plant.floor.models import Line, Product, Room, Shift
from plant.people.requests import PersonRequest
from rollers.models import Body, Gauge, Lot, Survey, TapeStock


@require_safe
def registry(request: PersonRequest) -> HttpResponse:
    """Links to every register with what stands in it."""
    here, to_come = reverse, Shift.objects.filter(ends_at__gt=request.at).count()
    context = {
        "places": [
            ("Plant and clock", here("floor:plant"), request.plant.name if request.plant else "not set up yet"),
            ("Rooms", here("floor:rooms"), Room.objects.count()),
            ("Lines and web paths", here("floor:lines"), Line.objects.count()),
            ("Rollers", here("rollers:bodies"), Body.objects.count()),
            ("Tape stocks", here("rollers:stocks"), TapeStock.objects.count()),
            ("Store: lots and reels", here("rollers:store"), Lot.objects.filter(status="released").count()),
            ("Products", here("floor:products"), Product.objects.count()),
            (
                "Shifts and crews",
                here("floor:shifts"),
                f"{to_come} to come",
            ),
            ("Gauges", here("rollers:gauges"), Gauge.objects.filter(in_use=True).count()),
            ("Surveys", here("rollers:surveys"), f"{Survey.objects.filter(closed_at=None).count()} open"),
            ("Files in and out", here("rollers:import-overview"), "CSV"),
        ],
        "trail": [("Start", here("home")), ("Plant", "")],
    }
    return render(request, "rollers/registry.html", context)
