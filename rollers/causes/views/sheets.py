"""Cause sheets: one row per cause, orders to maintenance beside them."""

from typing import Any

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.views.decorators.http import require_GET, require_POST

from plant.errors import NotFound, Refused
from plant.floor.models import ProductVersion
from plant.people.gates import for_roles
from plant.people.models import Role
from plant.people.requests import PersonRequest
from plant.web.quantities import Typed
from plant.web.refusing import keep_on_form
from rollers.access import position_by_code
from rollers.causes import access, rules
from rollers.causes.causerows import rows_for
from rollers.causes.forms.desk import CauseForm, OrderForm, OutcomeForm
from rollers.causes.models import CauseSheet, Order
from rollers.causes.queries import rows_of, walks_naming
from rollers.causes.services.orders import finish_order, order_work
from rollers.causes.services.sheets import (
    CHECKERS,
    check_cause,
    close_sheet,
    open_sheet,
    skip_cause,
    web_facts,
    worked_out,
)
from rollers.causes.views.frame import product_now, products_on, trail_of
from rollers.models import Measurement
from rollers.readiness import present_limits
from rollers.views.shown import brief_text

MARKS = {"pass": "fits", "caution": "caution", "fail": "refused", "not checked": "not evaluated"}


@require_POST
@for_roles(*CHECKERS, act="Opening a cause sheet")
def open_one(request: PersonRequest, code: str) -> HttpResponse:
    """Begin or go on with the sheet of a roller."""
    position = position_by_code(code)
    named = walks_naming(position).first()
    version = named.walk.product_version if named else product_now(position.line) or products_on(position.line).first()
    if version is None:
        raise NotFound("product of line", position.line.code, "Enter a product that it runs, then open the sheet.")
    current = ProductVersion.objects.filter(product=version.product_id, current=True).get()
    made = open_sheet(position, current, walk=named.walk if named else None, by=request.user, at=request.at)
    return redirect("causes:sheet", made.pk)


def _suggested(sheet: CauseSheet) -> dict[str, str]:
    """Values that stand on record already, or need no gauge."""
    found = {cause: f"worked out: {value:.2g}" for cause, value in worked_out(sheet).items()}
    row = Measurement.objects.filter(position=sheet.position, quantity=Measurement.Quantity.ALIGNMENT)
    newest = row.order_by("-at", "-pk").select_related("gauge").first()
    if newest is not None:
        gauge = f" with {newest.gauge.code}" if newest.gauge else ""
        found["misalignment"] = f"on record: {newest.value:g} mm/m{gauge}, {newest.at:%Y-%m-%d}"
    return found


def _page(
    request: PersonRequest,
    sheet: CauseSheet,
    *,
    bad: CauseForm | None = None,
    order: OrderForm | None = None,
    outcome: tuple[int, OutcomeForm] | None = None,
    problems: Any = None,
    status: int = 200,
) -> HttpResponse:
    limits, facts, said = present_limits(), web_facts(sheet), _suggested(sheet)
    is_open = sheet.closed_at is None
    may_fill = is_open and bool(set(CHECKERS) & request.roles)
    rows = []
    for row, entry in rows_of(sheet):
        caution, fail, source = rules.limits_of(row, limits, facts)
        form = bad if bad is not None and bad.row.code == row.code else CauseForm(row=row)
        rows.append(
            {
                "row": row,
                "entry": entry,
                "mark": MARKS[entry.outcome] if entry else "not evaluated",
                "caution": rules.figure(caution, row.unit) if caution is not None else "",
                "fail": rules.figure(fail, row.unit) if fail is not None else "",
                "source": source,
                "form": form if may_fill else None,
                "is_open": form.is_bound,
                "suggested": said.get(row.code, ""),
            }
        )
    orders = Order.objects.filter(sheet=sheet).select_related("task", "question", "by")
    context = {
        "sheet": sheet,
        "rows": rows,
        "left": sum(row["entry"] is None for row in rows),
        "may_fill": may_fill,
        "may_close": is_open and Role.ENGINEER in request.roles,
        "may_order": Role.ENGINEER in request.roles,
        "may_finish": Role.MAINTENANCE in request.roles,
        "order_form": order or OrderForm(),
        "orders": [
            (row, outcome[1] if outcome and outcome[0] == row.pk else OutcomeForm(auto_id=f"id_{row.pk}_%s"))
            for row in orders
        ],
        "problems": problems,
        "opened": brief_text(sheet.at, request.zone),
        "closed": brief_text(sheet.closed_at, request.zone),
        "trail": trail_of(
            sheet.position.line,
            (sheet.position.code, reverse("causes:roller", args=[sheet.position.code])),
            ("Cause sheet", ""),
        ),
    }
    return render(request, "causes/sheet.html", context, status=status)


@require_GET
def sheet(request: PersonRequest, pk: int) -> HttpResponse:
    """One sheet."""
    return _page(request, access.cause_sheet(pk))


@require_POST
def fill(request: PersonRequest, pk: int, cause: str) -> HttpResponse:
    """One row: a value, or why there is none."""
    found = access.cause_sheet(pk)
    row = next((row for row in rows_for(found.product_version.product.family) if row.code == cause), None)
    if row is None:
        raise NotFound("cause", cause, "Choose a row of the sheet.")
    form, status = CauseForm(request.POST, row=row), 422
    if form.is_valid():
        given = form.cleaned_data
        try:
            if given["value"].strip():
                typed = Typed(given["value"].strip(), given["unit"] or row.unit)
                check_cause(found, cause, value=typed, gauge=given["gauge"], by=request.user, at=request.at)
            else:
                skip_cause(found, cause, reason=given["reason"], by=request.user, at=request.at)
        except Refused as refusal:
            status = keep_on_form(form, refusal)
        else:
            return redirect(reverse("causes:sheet", args=[pk]) + f"#cause-{cause}")
    return _page(request, found, bad=form, status=status)


@require_POST
def close(request: PersonRequest, pk: int) -> HttpResponse:
    """The engineer closes it."""
    found = access.cause_sheet(pk)
    try:
        close_sheet(found, by=request.user, at=request.at)
    except Refused as refusal:
        form = OrderForm({})
        form.errors.clear()
        return _page(request, found, problems=refusal, status=keep_on_form(form, refusal))
    messages.success(request, "The cause sheet is closed. Decide now: tape, fix the cause, watch, or nothing.")
    return redirect("causes:decide", found.position.code)


@require_POST
def order(request: PersonRequest, pk: int) -> HttpResponse:
    """Ask maintenance."""
    found = access.cause_sheet(pk)
    form, status = OrderForm(request.POST), 422
    if form.is_valid():
        try:
            order_work(found, form.cleaned_data["work"], note=form.cleaned_data["note"], by=request.user, at=request.at)
        except Refused as refusal:
            status = keep_on_form(form, refusal)
        else:
            messages.success(request, "Ordered. It stands among the tasks of maintenance.")
            return redirect("causes:sheet", pk)
    return _page(request, found, order=form, status=status)


@require_POST
def finish(request: PersonRequest, pk: int) -> HttpResponse:
    """Maintenance says what came of it."""
    found = Order.objects.filter(pk=pk).select_related("sheet").first()
    if found is None:
        raise NotFound("order", str(pk), "Open it from the cause sheet.")
    form, status = OutcomeForm(request.POST, auto_id=f"id_{pk}_%s"), 422
    if form.is_valid():
        try:
            finish_order(found, outcome=form.cleaned_data["outcome"], by=request.user, at=request.at)
        except Refused as refusal:
            status = keep_on_form(form, refusal)
        else:
            messages.success(request, "Recorded. The engineer is asked whether tape is still needed.")
            return redirect("causes:sheet", found.sheet_id)
    return _page(request, access.cause_sheet(found.sheet_id), outcome=(pk, form), status=status)
