"""The sizing page: how much tape does this roller take for these products? A start value, never a decision."""

import math
from dataclasses import dataclass
from typing import Any

from django.contrib import messages
from django.http import HttpRequest, HttpResponse, QueryDict
from django.shortcuts import redirect, render
from django.urls import reverse
from django.views.decorators.http import require_GET, require_POST

from calcs.case import parse_case
from plant.errors import Refused
from plant.floor.models import PathStep, Position, ProductVersion
from plant.floor.queries import current_versions
from plant.web.quantities import digits
from plant.web.refusing import keep_on_form
from plant.web.svg import bars, roller_drawing, strain_profile, window_plot
from rollers import queries
from rollers.access import mounting_at, position_by_code
from rollers.forms.sizing import WHAT_IF, DraftForm, SizingForm
from rollers.models import Body, TapeStock
from rollers.pictures import check_bars, profile_picture, roller_picture, window_picture
from rollers.readiness import present_limits, room_kinds
from rollers.services.recipes import draft_recipe
from rollers.trial import OneProduct, Place, Tried, WhatIf, hold_parts, start_place, try_tape
from rollers.views import shown
from training.queries import standing

STANDING = (
    "Start value. Not a safety or product-release decision. "
    "Follow plant lockout, machine maker limits and product specification."
)


@dataclass(frozen=True)
class Bench:
    """What can be chosen at this position."""

    position: Position
    body: Body
    steps: list[PathStep]
    versions: list[ProductVersion]
    stocks: list[TapeStock]
    room_kind: str

    def step(self, pk: int) -> PathStep:
        """A threading that passes this roller."""
        for step in self.steps:
            if step.pk == pk:
                return step
        raise Refused("no-step", f"This path does not pass {self.position}. Choose another.", field="step")

    def stock(self, code: str) -> TapeStock:
        """A stock by its code; the form offers only those there are."""
        return next(stock for stock in self.stocks if stock.code == code)

    def chosen(self, codes: list[str]) -> list[ProductVersion]:
        """The chosen products, in the order of the list."""
        return [version for version in self.versions if version.product.code in codes]


def bench_of(request: HttpRequest, code: str) -> Bench:
    """Everything the page offers; refused where the roller or its diameter is not known."""
    position = position_by_code(code)
    body = mounting_at(position).body
    if body.diameter_mm is None:
        sentence = f"The diameter of {body} at {position} is not known. Maintenance measures it; then it can be sized."
        raise Refused("no-diameter", sentence)
    steps = list(position.steps.filter(path__in_use=True).select_related("path", "position"))
    if not steps:
        raise Refused(
            "no-path", f"No path in use passes {position}. The process engineer enters it on the line's page."
        )
    kind = room_kinds({position.room_id}, shown.moment_at(request))[position.room_id]
    return Bench(
        position,
        body,
        steps,
        list(current_versions().filter(product__lines=position.line)),
        list(TapeStock.objects.all()),
        kind,
    )


def _form(request: HttpRequest, bench: Bench, sent: QueryDict) -> SizingForm:
    units = shown.units_of(request)
    return SizingForm(sent, steps=bench.steps, versions=bench.versions, stocks=bench.stocks, units=units)


def _filled(bench: Bench, sent: QueryDict) -> QueryDict:
    """What was sent, and a usual start for what was not: first product, permitted tape, usual band."""
    filled = sent.copy()
    filled.setdefault("step", str(bench.steps[0].pk))
    if "products" not in filled and bench.versions and "stock" not in filled:
        filled.setlist("products", [bench.versions[0].product.code])
    allowed = [stock for stock in bench.stocks if bench.room_kind in stock.room_kinds] or bench.stocks
    if "stock" not in filled and allowed:
        filled["stock"] = allowed[0].code
    filled.setdefault("ends", "both")
    chosen = bench.chosen(filled.getlist("products"))
    known = {stock.code: stock for stock in bench.stocks}
    stock = known.get(str(filled.get("stock")))
    if "inner" not in filled and "outer" not in filled and chosen and stock is not None:
        widest = max(chosen, key=lambda version: version.width_max_mm)
        ends = filled["ends"] if filled["ends"] in ("both", "operator", "drive") else "both"
        start = start_place(widest, stock, bench.body, present_limits(), ends)
        filled["inner"], filled["outer"] = digits(start.inner_mm), digits(start.outer_mm)
        filled["inner_unit"] = filled["outer_unit"] = "mm"
    return filled


def tried_of(form: SizingForm, bench: Bench) -> tuple[PathStep, TapeStock, Tried] | None:
    """The answer, or None with the sentences on the form."""
    if not form.is_valid():
        return None
    try:
        step = bench.step(form.cleaned_data["step"])
        inner, outer = form.number("inner"), form.number("outer")
        if inner is None or outer is None:
            name, sentence = ("inner", "inner") if inner is None else ("outer", "outer")
            raise Refused("no-band", f"Type the {sentence} edge of the band, from the roller centre.", field=name)
        changes = {f"{name}_pct": form.cleaned_data.get(f"{name}_change") or 0 for name, _ in WHAT_IF}
        stock = bench.stock(form.cleaned_data["stock"])
        tried = try_tape(
            step,
            bench.body,
            stock,
            Place(form.cleaned_data["ends"] or "both", inner, outer),
            bench.chosen(form.cleaned_data["products"]),
            wraps=form.cleaned_data["wraps"],
            what_if=WhatIf(**changes),
            misalignment=queries.misalignments([bench.position]).get(bench.position.pk),
            limits=present_limits(),
        )
    except Refused as refusal:
        keep_on_form(form, refusal)
        return None
    return step, stock, tried


def _product_parts(row: OneProduct, tried: Tried, number: int) -> dict[str, Any]:
    """The drawings and figures of one product."""
    case = parse_case(row.changed_case or row.case)
    drawn = check_bars(row.code, row.shown, key=f"bars-{number}")
    plot = window_picture(row, tried, key=f"window-{number}")
    return {
        "row": row,
        "hold": hold_parts(row.shown),
        "check_rows": shown.check_rows(row.shown),
        "bars": bars(drawn) if drawn.bars else "",
        "profile": strain_profile(profile_picture(row.code, case, row.shown, tried.limits, key=f"profile-{number}")),
        "window": window_plot(plot) if plot else "",
        "open": [check for check in row.shown["checks"] if check["verdict"] not in ("fits", "not evaluated")],
    }


def _outcomes(tried: Tried) -> list[dict[str, Any]]:
    return [
        {
            "wraps": row.wraps,
            "verdict": row.verdict,
            "is_chosen": row.wraps == tried.wraps,
            "is_suggested": row.wraps == tried.suggestion.wraps,
            "products": [
                {
                    "verdict": one.verdict,
                    "edge_ratio": one.edge_ratio,
                    "loss": f"{100 * one.centre_loss:.0f}" if one.centre_loss < 1 else "slack",
                    "hold": f"{one.hold_used:.2f}" if math.isfinite(one.hold_used) else "none left",
                }
                for one in row.products
            ],
            "because": [
                (product.code, one.because.lower())
                for product, one in zip(tried.products, row.products, strict=True)
                if one.because
            ],
        }
        for row in tried.suggestion.outcomes
    ]


def _cautions(bench: Bench, stock: TapeStock, tried: Tried) -> list[tuple[str, str]]:
    """Only what fits this roller and this tape; the full procedure stands on the page where hands move."""
    said = []
    if bench.position.surface_temp_c is not None and bench.position.surface_temp_c >= 40:
        said.append(
            (
                "WARNING",
                f"Hot roller, {bench.position.surface_temp_c:g} °C: read the temperature before a hand goes near; "
                "adhesive softens. Taping it takes the Hot roller add-on.",
            )
        )
    if tried.wraps and stock.latex:
        said.append(("CAUTION", f"{stock.code} contains latex: not for hands or products that must avoid it."))
    if tried.wraps:
        said.append(
            (
                "WARNING",
                "Film unwinding and tape peeling from its reel can spark. Where solvent vapour may be, the hazardous "
                "area check and discharge come before any tape.",
            )
        )
    return said


def _context(request: HttpRequest, bench: Bench, form: SizingForm, draft: DraftForm) -> dict[str, Any]:
    position = bench.position
    context: dict[str, Any] = {
        "bench": bench,
        "position": position,
        "form": form,
        "what_if": [(form[f"{name}_change"], label) for name, label in WHAT_IF],
        "standing_line": STANDING,
        "trail": [
            ("Lines", reverse("home")),
            (f"Line {position.line.code}", reverse("rollers:board", args=[position.line.code])),
            (position.code, shown.roller_url(position.code)),
            ("Sizing", ""),
        ],
    }
    answer = tried_of(form, bench)
    if answer is None:
        return context
    step, stock, tried = answer
    person = shown.person_of(request)
    may = standing(person, "size", bench.room_kind, shown.moment_at(request))
    versions = [row.version for row in tried.products]
    picture = roller_picture(step, bench.body, stock=stock, shapes=tried.bands, versions=versions)
    label = f"{stock.code} × {tried.wraps}, {dict(form.fields['ends'].choices)[form.cleaned_data['ends'] or 'both']}"  # type: ignore[attr-defined]
    return context | {
        "step": step,
        "stock": stock,
        "tried": tried,
        "label": label if tried.wraps else "Bare: no tape",
        "is_suggestion": tried.wraps == tried.suggestion.wraps,
        "products": [_product_parts(row, tried, number) for number, row in enumerate(tried.products)],
        "outcomes": _outcomes(tried),
        "cautions": _cautions(bench, stock, tried),
        "drawing": roller_drawing(picture),
        "drawing_cells": [
            ("Tape", f"{stock.code}, {stock.thickness_mm:g} mm" if tried.wraps else "none"),
            ("Body", bench.body.serial),
            ("Path", step.path.name),
        ],
        "draft": draft,
        "may_draft": may,
        "kept": form.sent("step", "products", "stock", "ends", "inner", "inner_unit", "outer", "outer_unit", "wraps"),
        "asked_change": [
            (label, form.cleaned_data[f"{name}_change"])
            for name, label in WHAT_IF
            if form.cleaned_data[f"{name}_change"]
        ],
    }


@require_GET
def sizing(request: HttpRequest, code: str) -> HttpResponse:
    """The page; each change asks the server again and answers in place."""
    bench = bench_of(request, code)
    form = _form(request, bench, _filled(bench, request.GET))
    context = _context(request, bench, form, DraftForm(initial={"title": _title(form)}))
    if request.htmx:  # type: ignore[attr-defined]
        return render(request, "rollers/sizing_answer.html", context)
    return render(request, "rollers/sizing.html", context)


def _title(form: SizingForm) -> str:
    codes = form.data.getlist("products") if isinstance(form.data, QueryDict) else []
    return ", ".join(codes)


@require_POST
def draft(request: HttpRequest, code: str) -> HttpResponse:
    """Draft the recipe that the page shows, computed again by the product's own data."""
    bench = bench_of(request, code)
    form, titled = _form(request, bench, request.POST), DraftForm(request.POST)
    answer, status = tried_of(form, bench), 422
    if answer is not None and titled.is_valid():
        step, stock, tried = answer
        try:
            version = draft_recipe(
                step=step,
                title=titled.cleaned_data["title"],
                products=[row.version.product for row in tried.products],
                stock=stock if tried.bands else None,
                bands=tried.bands,
                by=shown.person_of(request),
                at=shown.moment_at(request),
                note=titled.cleaned_data["note"],
            )
        except Refused as refusal:
            status = keep_on_form(titled, refusal)
        else:
            messages.success(request, f"Drafted as version {version.number}. It holds nowhere until it is signed.")
            return redirect("rollers:recipe", version.pk)
    return render(request, "rollers/sizing.html", _context(request, bench, form, titled), status=status)
