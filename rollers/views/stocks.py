"""Tape stocks."""

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.views.decorators.http import require_http_methods, require_safe

from plant.floor.queries import plant_date
from plant.floor.views.lines import units_of
from plant.people.gates import for_roles
from plant.people.models import Role
from plant.people.requests import PersonRequest
from plant.web.asking import ask
from plant.web.forms import as_typed
from plant.web.quantities import shown_digits, stored_unit, typed_of, unit_sign
from rollers.access import stock_by_code
from rollers.forms.stocks import ChangeStockForm, NewStockForm, StockForm, first_values
from rollers.models import TapeStock
from rollers.services.stocks import change_stock, enter_stock

ENTER = frozenset({Role.ENGINEER, Role.STOREKEEPER, Role.QA, Role.KEEPER})
CHANGE = frozenset({Role.ENGINEER, Role.QA, Role.KEEPER})


def _trail(*more: tuple[str, str]) -> list[tuple[str, str]]:
    return [("Start", reverse("home")), ("Tape stocks", reverse("rollers:stocks")), *more]


@require_safe
def stocks(request: PersonRequest) -> HttpResponse:
    """Every kind of tape."""
    context = {
        "stocks": TapeStock.objects.all(),
        "today": plant_date(request.at),
        "may_enter": bool(ENTER & request.roles),
        "trail": [*_trail()[:1], ("Tape stocks", "")],
    }
    return render(request, "rollers/stocks/list.html", context)


@require_http_methods(["GET", "POST"])
@for_roles(Role.ENGINEER, Role.STOREKEEPER, Role.QA, Role.KEEPER, act="Entering a tape stock")
def new_stock(request: PersonRequest) -> HttpResponse:
    """Enter a kind of tape."""
    form = NewStockForm(request.POST or None, units=units_of(request), initial={"room_kinds": ["general"]})

    def act(filled: NewStockForm) -> HttpResponse:
        given = filled.cleaned_data
        made = enter_stock(
            code=given["code"], name=given["name"], values=filled.stock_values(), by=request.user, at=request.at
        )
        messages.success(request, f"Tape stock {made.code} is entered.")
        return redirect("rollers:stock", made.code)

    trail, back = _trail(("New stock", "")), reverse("rollers:stocks")
    return ask(request, form, act, heading="New tape stock", trail=trail, back=back)


@require_safe
def stock(request: PersonRequest, code: str) -> HttpResponse:
    """One kind of tape."""
    found = stock_by_code(code)
    rows = []
    for field, label in StockForm.figures.items():
        number, typed = getattr(found, field), typed_of(found, field)
        unit = unit_sign(stored_unit(field)[1])
        shown = f"{shown_digits(number)} {unit}".strip() if number is not None else ""
        text = f"{typed.value} {unit_sign(typed.unit)}".strip() if typed else ""
        rows.append((label, shown, text if text != shown else ""))
    context = {
        "stock": found,
        "figures": rows,
        "measurements": found.measurements.select_related("gauge", "by")[:30],
        "ended": found.contact_statement_ends is not None and found.contact_statement_ends < plant_date(request.at),
        "may_change": bool(CHANGE & request.roles),
        "trail": _trail((found.code, "")),
    }
    return render(request, "rollers/stocks/stock.html", context)


@require_http_methods(["GET", "POST"])
@for_roles(Role.ENGINEER, Role.QA, Role.KEEPER, act="Changing a tape stock")
def change(request: PersonRequest, code: str) -> HttpResponse:
    """Change what is known of a tape."""
    found = stock_by_code(code)
    first = first_values(found) | as_typed(found, StockForm.figures)
    form = ChangeStockForm(request.POST or None, units=units_of(request), initial=first)

    def act(filled: ChangeStockForm) -> HttpResponse:
        given = filled.cleaned_data
        change_stock(
            found,
            name=given["name"],
            values=filled.stock_values(),
            reason=given["reason"],
            by=request.user,
            at=request.at,
        )
        messages.success(request, f"Tape stock {found.code} is changed. Calculations made before keep their figures.")
        return redirect("rollers:stock", found.code)

    back = reverse("rollers:stock", args=[found.code])
    return ask(request, form, act, heading=f"Change {found.code}", trail=_trail((found.code, back)), back=back)
