"""The gauge register."""

from datetime import datetime
from typing import Any

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.views.decorators.http import require_http_methods, require_safe

from plant.floor.queries import plant_date
from plant.floor.rules import day_start
from plant.people.gates import for_roles
from plant.people.requests import PersonRequest
from plant.web.asking import ask
from rollers.access_registry import gauge_by_code
from rollers.forms.registry import GaugeForm, RetireForm
from rollers.forms.stocks import CalibrationForm
from rollers.models import Calibration, Gauge
from rollers.queries_registry import gauges_with_calibrations, measured_with, overdue_at
from rollers.services.gauges import KEEPERS_OF_GAUGES, enter_gauge, record_calibration, retire_gauge

KEEPERS = frozenset(KEEPERS_OF_GAUGES)


def _trail(*more: tuple[str, str]) -> list[tuple[str, str]]:
    return [("Start", reverse("home")), ("Gauges", reverse("rollers:gauges")), *more]


@require_safe
def gauges(request: PersonRequest) -> HttpResponse:
    """Every gauge with the day its calibration ends."""
    today = plant_date(request.at)
    rows = []
    for gauge in gauges_with_calibrations():
        newest = next(iter(gauge.calibrations.all()), None)
        word = "not calibrated" if newest is None else "overdue" if newest.due_on < today else "valid"
        rows.append({"gauge": gauge, "newest": newest, "word": word if gauge.in_use else "out of use"})
    context = {"rows": rows, "may_change": bool(KEEPERS & request.roles), "trail": [*_trail()[:1], ("Gauges", "")]}
    return render(request, "rollers/gauges/list.html", context)


@require_http_methods(["GET", "POST"])
@for_roles(*KEEPERS_OF_GAUGES, act="Entering a gauge")
def new_gauge(request: PersonRequest) -> HttpResponse:
    """Enter a gauge."""

    def act(filled: GaugeForm) -> HttpResponse:
        made = enter_gauge(**filled.cleaned_data, by=request.user, at=request.at)
        messages.success(request, f"Gauge {made.code} is entered. Now its calibration certificate.")
        return redirect("rollers:calibrate", made.code)

    trail, back = _trail(("New gauge", "")), reverse("rollers:gauges")
    return ask(request, GaugeForm(request.POST or None), act, heading="New gauge", trail=trail, back=back)


def _since(
    gauge: Gauge, calibrations: list[Calibration], wanted: str, zone: Any
) -> tuple[Calibration | None, datetime | None]:
    """From which calibration on measurements are listed; without choice, from the last that found it in tolerance."""
    chosen = next((each for each in calibrations if str(each.pk) == wanted), None)
    if chosen is None and wanted != "all":
        older = calibrations[1:] if calibrations and not calibrations[0].found_in_tolerance else calibrations
        chosen = next((each for each in older if each.found_in_tolerance), None)
    return chosen, day_start(chosen.done_on, zone) if chosen else None


@require_safe
def gauge(request: PersonRequest, code: str) -> HttpResponse:
    """One gauge: certificates, and what was measured with it since."""
    found = gauge_by_code(code)
    calibrations = list(found.calibrations.select_related("by").order_by("-done_on", "-pk"))
    chosen, start = _since(found, calibrations, request.GET.get("since", ""), request.zone)
    context = {
        "gauge": found,
        "calibrations": calibrations,
        "overdue": overdue_at(found, request.at),
        "chosen": chosen,
        "doubtful": bool(calibrations) and not calibrations[0].found_in_tolerance,
        "measurements": measured_with(found, start)[:500],
        "may_change": bool(KEEPERS & request.roles),
        "trail": _trail((found.code, "")),
    }
    return render(request, "rollers/gauges/gauge.html", context)


@require_http_methods(["GET", "POST"])
@for_roles(*KEEPERS_OF_GAUGES, act="Recording a calibration")
def calibrate(request: PersonRequest, code: str) -> HttpResponse:
    """Record a calibration certificate."""
    found = gauge_by_code(code)
    back = reverse("rollers:gauge", args=[found.code])

    def act(filled: CalibrationForm) -> HttpResponse:
        made = record_calibration(found, **filled.cleaned_data, by=request.user, at=request.at)
        messages.success(request, f"Certificate {made.certificate} is recorded, due {made.due_on:%d %b %Y}.")
        return redirect(back)

    trail = _trail((found.code, back), ("Calibration", ""))
    form = CalibrationForm(request.POST or None)
    return ask(request, form, act, heading=f"Calibration of {found.code}", trail=trail, back=back, action="Record")


@require_http_methods(["GET", "POST"])
@for_roles(*KEEPERS_OF_GAUGES, act="Taking a gauge out of use")
def retire(request: PersonRequest, code: str) -> HttpResponse:
    """Take a gauge out of use."""
    found = gauge_by_code(code)
    back = reverse("rollers:gauge", args=[found.code])

    def act(filled: RetireForm) -> HttpResponse:
        retire_gauge(found, **filled.cleaned_data, by=request.user, at=request.at)
        messages.success(request, f"Gauge {found.code} is out of use. What was measured with it stays.")
        return redirect(back)

    trail = _trail((found.code, back), ("Out of use", ""))
    form = RetireForm(request.POST or None)
    return ask(
        request, form, act, heading=f"Take {found.code} out of use", trail=trail, back=back, action="Take out of use"
    )
