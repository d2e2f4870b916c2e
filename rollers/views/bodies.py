"""Rollers: the list, one roller, entering ten at once, and measuring."""

import hashlib
import re
from typing import Any

from django import forms as django_forms
from django.contrib import messages
from django.core.paginator import Paginator
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.views.decorators.http import require_http_methods, require_safe

from plant.errors import NotFound, Refused
from plant.floor.access import line_by_code
from plant.floor.models import Line, Room
from plant.floor.views.lines import trail_of, units_of
from plant.people.gates import for_roles
from plant.people.models import Role
from plant.people.requests import PersonRequest
from plant.web.asking import ask
from plant.web.quantities import shown_digits, stored_unit, typed_of, unit_sign
from plant.web.refusing import keep_on_form
from rollers.access import body_by_serial, position_by_code, stock_by_code
from rollers.forms.registry import BodyForm, MeasureForm, RollerRow, TableForm
from rollers.models import Body, Measurement
from rollers.queries import newest_facts
from rollers.queries_registry import bodies_with_places
from rollers.services.bodies import KEEPERS_OF_ROLLERS, enter_body, record_measurement
from rollers.services.files.kinds import KINDS
from rollers.services.files.reading import RawRow
from rollers.services.importing import Report, examine_rows, take_rows

ROWS = 10
ON_A_PAGE = 60


def trail(*more: tuple[str, str]) -> list[tuple[str, str]]:
    """Where a page about rollers stands."""
    return [("Start", reverse("home")), ("Rollers", reverse("rollers:bodies")), *more]


@require_safe
def bodies(request: PersonRequest) -> HttpResponse:
    """Every roller body: where it is, and what is on it."""
    found = bodies_with_places()
    search, where = request.GET.get("search", "").strip()[:40], request.GET.get("where", "")
    if search:
        found = found.filter(serial__icontains=search)
    if where in Body.Whereabouts.values:
        found = found.filter(whereabouts=where)
    page = Paginator(found, ON_A_PAGE).get_page(request.GET.get("page"))
    facts = newest_facts(page.object_list)
    context = {
        "page": page,
        "rows": [{"body": body, "fact": facts.get(body.pk)} for body in page.object_list],
        "search": search,
        "where": where,
        "whereabouts": Body.Whereabouts.choices,
        "may_enter": bool(frozenset(KEEPERS_OF_ROLLERS) & request.roles),
        "trail": [*trail()[:1], ("Rollers", "")],
    }
    return render(request, "rollers/bodies/list.html", context)


@require_http_methods(["GET", "POST"])
@for_roles(*KEEPERS_OF_ROLLERS, act="Entering a roller")
def new_body(request: PersonRequest) -> HttpResponse:
    """Enter a roller."""
    form = BodyForm(request.POST or None, units=units_of(request))

    def act(filled: BodyForm) -> HttpResponse:
        given = filled.cleaned_data
        names = ("serial", "diameter_measured", "material", "drive_end_mark")
        figures: dict[str, Any] = filled.values()
        made = enter_body(**{name: given[name] for name in names}, **figures, by=request.user, at=request.at)
        messages.success(request, f"Roller {made.serial} is entered as a spare. Mount it from its place on the line.")
        return redirect("rollers:body", made.serial)

    return ask(
        request, form, act, heading="New roller", trail=trail(("New roller", "")), back=reverse("rollers:bodies")
    )


@require_safe
def body(request: PersonRequest, serial: str) -> HttpResponse:
    """One roller: figures, where it sat, what was measured, what was recorded on it."""
    found = body_by_serial(serial)
    facts = found.tape_facts.select_related("by", "position", "recipe_version__recipe").order_by("-pk")
    figures = []
    for field, label in BodyForm.figures.items():
        typed = typed_of(found, field)
        number, unit = getattr(found, field), unit_sign(stored_unit(field)[1])
        shown = f"{shown_digits(number)} {unit}" if number is not None else ""
        text = f"{typed.value} {unit_sign(typed.unit)}" if typed else ""
        figures.append((label, shown, field, text if text != shown else ""))
    context = {
        "body": found,
        "figures": figures,
        "state": facts[0].state if facts else "unknown",
        "facts": facts[:30],
        "mountings": found.mountings.select_related("position__line").order_by("-mounted_at"),
        "measurements": found.measurements.select_related("gauge", "by")[:50],
        "may_change": bool(frozenset(KEEPERS_OF_ROLLERS) & request.roles),
        "trail": trail((found.serial, "")),
    }
    return render(request, "rollers/bodies/body.html", context)


def _subject(quantity: str, key: str) -> tuple[str, Any, str]:
    """The argument name, the thing measured, and where to go back to."""
    if quantity in (Measurement.Quantity.DIAMETER, Measurement.Quantity.ROUGHNESS):
        return "body", body_by_serial(key), reverse("rollers:body", args=[key])
    if quantity == Measurement.Quantity.ALIGNMENT:
        return "position", position_by_code(key), reverse("rollers:mounting", args=[key])
    if quantity == Measurement.Quantity.TAPE_THICKNESS:
        return "stock", stock_by_code(key), reverse("rollers:stock", args=[key])
    raise NotFound("measured quantity", quantity, "Start from the page of the roller, place or tape stock.")


@require_http_methods(["GET", "POST"])
@for_roles(Role.MAINTENANCE, Role.ENGINEER, Role.QA, Role.STOREKEEPER, Role.OPERATOR, act="Recording a measurement")
def measure(request: PersonRequest, quantity: str, key: str) -> HttpResponse:
    """Record one measured value."""
    name, thing, back = _subject(quantity, key)
    form = MeasureForm(request.POST or None, quantity=quantity, units=units_of(request))

    def act(filled: MeasureForm) -> HttpResponse:
        given = filled.cleaned_data
        made = record_measurement(
            quantity=quantity,
            value=filled.values()[quantity],
            gauge=given["gauge"],
            readings={"text": given["readings"]} if given["readings"] else {},
            measured_at=given["measured_at"],
            by=request.user,
            at=request.at,
            **{name: thing},
        )
        flagged = " The gauge had no valid calibration: the value is flagged." if made.gauge_overdue else ""
        messages.success(request, f"{made} is recorded.{flagged}")
        return redirect(back)

    label = Measurement.Quantity(quantity).label.partition(",")[0]
    steps = [("Start", reverse("home")), (str(thing), back), ("Measure", "")]
    return ask(request, form, act, heading=f"Measure {label} of {thing}", trail=steps, back=back, action="Record")


def _proposed(line: Line) -> list[dict[str, Any]]:
    """Ten codes that go on where the line's codes end: after A09 comes A10, after 20-04 comes 20-05."""
    last = line.positions.order_by("-order").first()
    number, width = (last.order if last else 0), 2
    prefix = line.code if not line.code[-1].isdigit() else f"{line.code}-"
    counted = re.fullmatch(r"(.*?)(\d+)", last.code) if last else None
    if counted:
        prefix, number, width = counted[1], int(counted[2]), len(counted[2])
    return [{"position": f"{prefix}{number + n:0{width}d}", "kind": "idler"} for n in range(1, ROWS + 1)]


def _raw_rows(line: Line, shared: TableForm, rows: Any) -> list[RawRow]:
    """The table as rows of a file, so that the same reader and the same services take them."""
    given, figures = shared.cleaned_data, shared.values()
    face, rough = figures["face_mm"], figures["roughness_um"]
    order = line.positions.order_by("-order").values_list("order", flat=True).first() or 0
    raw = []
    for number, row in enumerate(rows, start=1):
        if not row.is_filled():
            continue
        order += 1
        cells = {name: str(row.cleaned_data[name]).strip() for name in RollerRow.base_fields}
        cells |= {"line": line.code, "order": str(order), "room": given["room"].code, "wrap_unit": "deg"}
        if cells["serial"]:
            cells |= {"diameter_unit": given["diameter_unit"] if cells["diameter"] else ""}
            cells |= {"face": face.value, "face_unit": face.unit} if face else {}
            cells |= {"roughness": rough.value, "roughness_unit": rough.unit} if rough else {}
            cells |= {"diameter_measured": "yes" if given["measured"] and cells["diameter"] else "no"}
        elif cells["diameter"]:
            cells |= {"diameter_unit": given["diameter_unit"]}
        cells |= {"path": given["path"], "path_order": str(order), "entry_span_unit": given["span_unit"]}
        raw.append(RawRow(number, cells))
    if not raw:
        raise Refused("no-rows", "Fill in at least one roller: serial number, diameter, wrap, rotation, side and span.")
    return raw


def _marked(rows: Any, report: Report) -> list[dict[str, Any]]:
    said: dict[int, list[str]] = {}
    for bad in report.bad:
        label = RollerRow.base_fields[bad.column].label if bad.column in RollerRow.base_fields else bad.column
        said.setdefault(bad.line, []).append(f"{label}: {bad.reason}" if label else bad.reason)
    return [{"row": row, "said": said.get(number, [])} for number, row in enumerate(rows, start=1)]


@require_http_methods(["GET", "POST"])
@for_roles(*KEEPERS_OF_ROLLERS, act="Entering rollers")
def enter_rollers(request: PersonRequest, code: str) -> HttpResponse:
    """Ten rollers of a line at once: looked at first, saved on the second press."""
    line = line_by_code(code)
    room = Room.objects.filter(positions__line=line).first() or Room.objects.first()
    rows_of = django_forms.formset_factory(RollerRow, extra=0, max_num=ROWS, absolute_max=ROWS)
    inches = units_of(request) == "inch"
    first = {"room": room, "diameter_unit": "in" if inches else "mm", "span_unit": "in" if inches else "m"}
    shared = TableForm(request.POST or None, units=units_of(request), initial=first)
    rows = rows_of(request.POST or None, prefix="row", initial=_proposed(line))
    report, status = None, 200
    if request.method == "POST":
        status = 422
        if shared.is_valid() and rows.is_valid():
            try:
                raw = _raw_rows(line, shared, rows)
                report = examine_rows(KINDS["rollers"], raw, by=request.user, at=request.at)
                seen = hashlib.sha256(repr(raw).encode()).hexdigest()[:16]
                if report.is_good and request.POST.get("looked") == seen:
                    take_rows(KINDS["rollers"], raw, by=request.user, at=request.at)
                    messages.success(request, f"{len(raw)} rollers of line {line.code} are entered.")
                    return redirect("floor:line", line.code)
                status = 200 if report.is_good else 422
            except Refused as refusal:
                status = keep_on_form(shared, refusal)
    good = report is not None and report.is_good
    context = {
        "line": line,
        "form": shared,
        "rows": _marked(rows, report) if report else [{"row": row, "said": []} for row in rows],
        "management": rows.management_form,
        "row_errors": rows.total_error_count() if rows.is_bound else 0,
        "report": report,
        "looked": seen if good else "",
        "converted": [(number, texts) for number, texts in report.conversions.items()] if good and report else [],
        "has_rooms": room is not None,
        "may_build": bool({Role.KEEPER, Role.ENGINEER} & request.roles),
        "heading": f"Rollers of line {line.code}",
        "trail": trail_of(line, ("Enter rollers", "")),
        "back": reverse("floor:line", args=[line.code]),
    }
    return render(request, "rollers/bodies/table.html", context, status=status)
