"""The next change of a line: what to do at each roller, the order of runs that needs least, set-points of a run."""

from datetime import datetime, timedelta
from typing import Any

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.views.decorators.http import require_GET, require_POST

from calcs.changeover import Plan
from plant.errors import Refused
from plant.floor.access import line_by_code
from plant.floor.models import Run
from plant.web.refusing import keep_on_form
from plant.web.svg import line_drawing
from rollers import access
from rollers.changeover import change_sheet
from rollers.control import controls
from rollers.forms.line import SetPointForm
from rollers.models import SetPoint
from rollers.pictures import board_picture
from rollers.queries_window import outside_since_of, present_points, window_of
from rollers.run_order import Asked, coming_runs, orders
from rollers.services.set_points import change_set_point
from rollers.views import shown


@require_GET
def change(request: HttpRequest, pk: int) -> HttpResponse:
    """The change sheet of a planned run."""
    run = access.run(pk)
    sheet = change_sheet(run, shown.moment_at(request))
    context = {
        "run": run,
        "line": run.line,
        "sheet": sheet,
        "rows": sheet.rows,
        "drawing": line_drawing(board_picture(sheet.found, shown.roller_url)),
        "starts": shown.local_text(run.starts_at, shown.zone_of(request)),
        "as_of": shown.local_text(shown.moment_at(request), shown.zone_of(request)),
        "trail": [
            ("Lines", reverse("home")),
            (f"Line {run.line.code}", reverse("rollers:board", args=[run.line.code])),
            (f"Run of {run.product_version.product.code}", reverse("rollers:run", args=[run.pk])),
            ("Change sheet", ""),
        ],
    }
    return render(request, "rollers/line/change.html", context)


def _shown_plan(plan: Plan, at: datetime, request: HttpRequest) -> list[dict[str, Any]]:
    zone = shown.zone_of(request)
    return [
        {
            "name": step.run.name,
            "starts": shown.brief_text(at + timedelta(minutes=step.start), zone),
            "actions": [action for action in step.actions if action.what != "keep"],
            "retape": step.retape,
            "idle": step.idle,
            "late": step.late,
        }
        for step in plan.steps
    ]


def _asked(request: HttpRequest, rows: list[Asked], at: datetime) -> list[Asked]:
    """The runs with the due times that were typed; `due-<run>` in hours from now, empty for none."""
    found = []
    for row in rows:
        text = request.GET.get(f"due-{row.run.pk}", "").strip().replace(",", ".")
        try:
            due = float(text) * 60 if text else None
        except ValueError:
            sentence = f"{row.name}: {text!r} is no number of hours. Type hours from now, like 8, or nothing."
            raise Refused("due", sentence, field=f"due-{row.run.pk}") from None
        found.append(Asked(row.run, row.minutes, row.release, due))
    return found


@require_GET
def order(request: HttpRequest, code: str) -> HttpResponse:
    """The coming runs as planned, the order that needs least, and the tapes that need least in the order as planned."""
    line, at = line_by_code(code), shown.moment_at(request)
    rows = coming_runs(line, at)
    context: dict[str, Any] = {
        "line": line,
        "runs": [(row, request.GET.get(f"due-{row.run.pk}", "")) for row in rows],
        "settings": controls(),
        "trail": [
            ("Lines", reverse("home")),
            (f"Line {line.code}", reverse("rollers:board", args=[line.code])),
            ("Order of runs", ""),
        ],
    }
    status = 200
    if len(rows) >= 2:
        try:
            found = orders(line, _asked(request, rows, at))
        except Refused as refusal:
            context["refused"], status = refusal.sentence, 422
        else:
            plans = [("As planned", found.planned), ("Order that needs least", found.best)]
            if found.chosen is not None and found.chosen.objective < found.planned.objective:
                plans.append(("As planned, with other tapes", found.chosen))
            context |= {
                "found": found,
                "plans": [(title, plan, _shown_plan(plan, at, request)) for title, plan in plans],
                "longest": max(plan.objective for _, plan in plans) or 1,
            }
    return render(request, "rollers/line/order.html", context, status=status)


def set_points_of(request: HttpRequest, run: Run) -> dict[str, Any]:
    """What the page of a run that goes on shows of its set-points."""
    zone = shown.zone_of(request)
    outside = {key: since for key, since in outside_since_of(run).items() if since is not None}
    return {
        "points_now": present_points(run),
        "window": window_of(run),
        "outside": [(key, shown.brief_text(since, zone)) for key, since in outside.items()],
        "set_points": [
            (row, shown.brief_text(row.at, zone))
            for row in SetPoint.objects.filter(run=run).select_related("by").order_by("-pk")[:20]
        ],
    }


@require_POST
def set_point(request: HttpRequest, pk: int) -> HttpResponse:
    """Record a set-point of a run that goes on."""
    run, form = access.run(pk), SetPointForm(request.POST, units=shown.units_of(request))
    status = 422
    if form.is_valid():
        try:
            for quantity in ("tension", "speed"):
                value = form.number(quantity)
                if value is not None:
                    made = change_set_point(
                        run,
                        quantity,
                        value,
                        by=shown.person_of(request),
                        at=shown.moment_at(request),
                        typed=form.typed,
                        reason=form.cleaned_data["reason"],
                    )
                    word = "inside" if made.inside else "OUTSIDE"
                    messages.success(request, f"Recorded: {made}. It is {word} the window of the recipes.")
        except Refused as refusal:
            status = keep_on_form(form, refusal)
        else:
            return redirect("rollers:run", pk)
    context = {
        "run": run,
        "line": run.line,
        "form": form,
        "trail": [
            (f"Line {run.line.code}", reverse("rollers:board", args=[run.line.code])),
            (f"Run of {run.product_version.product.code}", reverse("rollers:run", args=[run.pk])),
            ("Set-point", ""),
        ],
    }
    return render(request, "rollers/line/set_point.html", context | set_points_of(request, run), status=status)
