"""Lines: what stands on them, and how the web runs."""

from typing import Any

from django import forms as django_forms
from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.views.decorators.http import require_http_methods, require_safe

from plant.errors import Refused
from plant.floor import access, forms, queries
from plant.floor.models import Line, Position, WebPath
from plant.floor.services import Step, add_line, add_position, draw_path
from plant.floor.services.lines import Zone
from plant.floor.views.rooms import BUILDERS
from plant.people.gates import for_roles
from plant.people.models import Role
from plant.people.requests import PersonRequest
from plant.web.asking import ask
from plant.web.forms import as_typed
from plant.web.refusing import keep_on_form


def trail_of(line: Line, *more: tuple[str, str]) -> list[tuple[str, str]]:
    """Where a page about a line stands."""
    here = reverse("floor:line", args=[line.code])
    return [("Start", reverse("home")), ("Lines", reverse("floor:lines")), (f"Line {line.code}", here), *more]


def units_of(request: PersonRequest) -> str:
    """Units offered first."""
    return request.plant.units if request.plant else "si"


@require_safe
def lines(request: PersonRequest) -> HttpResponse:
    """Every line."""
    context = {
        "views": queries.lines_overview(),
        "may_build": bool(BUILDERS & request.roles),
        "trail": [("Start", reverse("home")), ("Lines", "")],
    }
    return render(request, "floor/lines.html", context)


@require_http_methods(["GET", "POST"])
@for_roles(Role.KEEPER, Role.ENGINEER, act="Entering a line")
def new_line(request: PersonRequest) -> HttpResponse:
    """Enter a line with its tension zones."""
    form = forms.LineForm(request.POST or None, units=units_of(request))
    zones = forms.ZoneSet(request.POST or None, prefix="zone", initial=[{"control": "tension"}])

    def act(filled: forms.LineForm) -> HttpResponse:
        if not zones.is_valid():
            raise Refused("zones", "Look at the tension zones below.")
        given = filled.cleaned_data
        rows = [row.cleaned_data for row in zones if row.cleaned_data.get("control")]
        line = add_line(
            code=given["code"],
            name=given["name"],
            reversing=given["reversing"],
            max_speed_m_per_min=filled.values()["max_speed_m_per_min"],
            zones=[
                Zone(number, row["control"], row["sensor"], row["calibrated_on"])
                for number, row in enumerate(rows, start=1)
            ],
            by=request.user,
            at=request.at,
        )
        messages.success(
            request, f"Line {line.code} is entered. Now its rollers: ten at once in a table, or from a file."
        )
        return redirect("floor:line", line.code)

    trail = [("Start", reverse("home")), ("Lines", reverse("floor:lines")), ("New line", "")]
    back = reverse("floor:lines")
    return ask(
        request, form, act, template="floor/new_line.html", zones=zones, heading="New line", trail=trail, back=back
    )


@require_safe
def line(request: PersonRequest, code: str) -> HttpResponse:
    """A line: positions, zones, paths."""
    found = access.line_by_code(code)
    paths = list(found.paths.filter(in_use=True))
    context = {
        "line": found,
        "positions": found.positions.select_related("room", "zone"),
        "zones": found.zones.all(),
        "paths": [(path, queries.path_steps(path)) for path in paths],
        "products": found.products.all(),
        "may_build": bool((BUILDERS | {Role.MAINTENANCE}) & request.roles),
        "may_draw": bool(BUILDERS & request.roles),
        "trail": [*trail_of(found)[:2], (f"Line {found.code}", "")],
    }
    return render(request, "floor/line.html", context)


@require_http_methods(["GET", "POST"])
@for_roles(Role.KEEPER, Role.ENGINEER, Role.MAINTENANCE, act="Entering a roller position")
def new_position(request: PersonRequest, code: str) -> HttpResponse:
    """One more place on the line."""
    found = access.line_by_code(code)
    last = found.positions.order_by("-order").values_list("order", flat=True).first() or 0
    form = forms.PositionForm(
        request.POST or None, line=found, units=units_of(request), initial={"order": last + 1, "kind": "idler"}
    )

    def act(filled: forms.PositionForm) -> HttpResponse:
        given = filled.cleaned_data
        made = add_position(
            line=found,
            **{name: given[name] for name in ("room", "code", "order", "kind", "zone", "kept_bare", "note")},
            surface_temp_c=filled.values()["surface_temp_c"],
            by=request.user,
            at=request.at,
        )
        messages.success(request, f"Position {made.code} is entered. It is on no path yet.")
        return redirect("floor:line", found.code)

    return ask(
        request,
        form,
        act,
        heading=f"New position on line {found.code}",
        trail=trail_of(found, ("New position", "")),
        back=reverse("floor:line", args=[found.code]),
    )


def _first_steps(path: WebPath | None, positions: list[Position], units: str) -> list[dict[str, Any]]:
    steps = {step.position_id: step for step in queries.path_steps(path)} if path else {}
    rows = []
    for position in positions:
        step = steps.get(position.pk)
        row: dict[str, Any] = {}
        if step:
            row |= as_typed(step, forms.StepForm.figures)
            row |= {"order": step.order, "rotation": step.rotation, "web_side": step.web_side}
        rows.append(row)
    return rows


@require_http_methods(["GET", "POST"])
@for_roles(Role.KEEPER, Role.ENGINEER, act="Drawing a web path")
def draw(request: PersonRequest, code: str) -> HttpResponse:
    """Draw a path: a number along the path for every position the web passes."""
    found = access.line_by_code(code)
    positions = list(found.positions.all())
    named = request.GET.get("path", "")
    old = access.path_of(found, named) if named else None
    form = forms.PathForm(request.POST or None, initial={"name": old.name if old else "straight"})
    step_set = django_forms.formset_factory(
        forms.StepForm, extra=0, max_num=len(positions), absolute_max=len(positions)
    )
    first = _first_steps(old, positions, units_of(request))
    steps = step_set(request.POST or None, prefix="step", initial=first, form_kwargs={"units": units_of(request)})
    status = 200
    if request.method == "POST":
        status = 422
        if form.is_valid() and steps.is_valid():
            seen = [row.is_seen() for row in steps]
            if all(seen):
                try:
                    return _drawn(request, found, form, positions, steps)
                except Refused as refusal:
                    status = keep_on_form(form, refusal)
            else:
                status = 200
    context = {
        "line": found,
        "form": form,
        "rows": list(zip(positions, steps, strict=False)),
        "steps": steps,
        "asks": any(row.asks for row in steps),
        "old": old,
        "heading": f"Path of line {found.code}",
        "trail": trail_of(found, ("Path", "")),
        "back": reverse("floor:line", args=[found.code]),
    }
    return render(request, "floor/draw_path.html", context, status=status)


def _drawn(request: PersonRequest, line: Line, form: Any, positions: list[Position], steps: Any) -> HttpResponse:
    chosen = []
    for position, row in zip(positions, steps, strict=True):
        number = row.cleaned_data.get("order")
        if number is not None:
            given = row.cleaned_data
            step = Step(position, rotation=given["rotation"], web_side=given["web_side"], **row.values())
            chosen.append((number, step))
    numbers = [number for number, _ in chosen]
    twice = {number for number in numbers if numbers.count(number) > 1}
    if twice:
        raise Refused("order-twice", f"Number {min(twice)} along the path is given twice. Count from the unwind.")
    path = draw_path(
        line,
        name=form.cleaned_data["name"],
        steps=[step for _, step in sorted(chosen, key=lambda pair: pair[0])],
        reason=form.cleaned_data["reason"],
        by=request.user,
        at=request.at,
    )
    messages.success(request, f"Path {path.name}, version {path.version}, is drawn: {len(chosen)} rollers.")
    return redirect("floor:line", line.code)
