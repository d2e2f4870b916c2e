"""The sizing page: how much tape does this roller take for these products? A start value, never a decision."""

import math
from typing import Any

from django.contrib import messages
from django.http import HttpRequest, HttpResponse, QueryDict
from django.shortcuts import redirect, render
from django.urls import reverse
from django.views.decorators.http import require_GET, require_POST

from calcs.case import parse_case
from plant.errors import Refused
from plant.floor.models import PathStep
from plant.web.refusing import keep_on_form
from plant.web.svg import bars, roller_drawing, strain_profile, window_plot
from rollers.failed_tries import FailedTry, tries_at
from rollers.forms.figures import dict_of
from rollers.forms.sizing import WHAT_IF, DraftForm, SizingForm
from rollers.models import TapeStock
from rollers.pictures import check_bars, profile_picture, roller_picture, window_picture
from rollers.services.recipes import draft_recipe
from rollers.trial import OneProduct, Tried, hold_parts
from rollers.views import shown, sizing_parts
from rollers.views.bench import Bench, bench_of, filled, form_of, tried_of
from training.queries import standing

STANDING = (
    "Start value. Not a safety or product-release decision. "
    "Follow plant lockout, machine maker limits and product specification."
)


def _product_parts(row: OneProduct, tried: Tried, number: int, failed: list[FailedTry]) -> dict[str, Any]:
    """The drawings and figures of one product; `failed` are tries of this tape that made it worse."""
    case = parse_case(row.changed_case or row.case)
    drawn = check_bars(row.code, row.shown, key=f"bars-{number}")
    plot = window_picture(row, tried, key=f"window-{number}", failed=failed)
    return {
        "row": row,
        "hold": hold_parts(row.shown),
        "check_rows": shown.check_rows(row.shown),
        "bars": bars(drawn) if drawn.bars else "",
        "profile": strain_profile(profile_picture(row.code, case, row.shown, tried.limits, key=f"profile-{number}")),
        "window": window_plot(plot) if plot else "",
        "failed": [one for one in failed if one.product == row.code],
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


def _deeper(
    request: HttpRequest, bench: Bench, form: SizingForm, answer: tuple[PathStep, TapeStock, Tried] | None
) -> list[dict[str, Any]]:
    """The parts that are worked out when they are looked at; without scripts one at a time, by a link."""
    query = dict_of(form.data)
    for name in ("part", "troughs_of", "csrfmiddlewaretoken"):
        query.pop(name, None)
    opened = request.GET.get("part", "") if not request.htmx else ""  # type: ignore[attr-defined]
    if answer is None:
        return sizing_parts.deeper(bench, query.urlencode(), "", None)
    _, stock, tried = answer
    content = sizing_parts.worked(sizing_parts.Asked(request, bench, stock, tried), opened)
    return sizing_parts.deeper(bench, query.urlencode(), opened, content)


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
    context["deeper"] = _deeper(request, bench, form, answer)
    if answer is None:
        return context
    step, stock, tried = answer
    person = shown.person_of(request)
    may = standing(person, "size", bench.room_kind, shown.moment_at(request))
    versions = [row.version for row in tried.products]
    picture = roller_picture(step, bench.body, stock=stock, shapes=tried.bands, versions=versions)
    failed = [one for one in tries_at(bench.position) if one.stock == stock.code]
    label = f"{stock.code} × {tried.wraps}, {dict(form.fields['ends'].choices)[form.cleaned_data['ends'] or 'both']}"  # type: ignore[attr-defined]
    return context | {
        "step": step,
        "stock": stock,
        "tried": tried,
        "label": label if tried.wraps else "Bare: no tape",
        "is_suggestion": tried.wraps == tried.suggestion.wraps,
        "products": [_product_parts(row, tried, number, failed) for number, row in enumerate(tried.products)],
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
    form = form_of(request, bench, filled(bench, request.GET))
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
    form, titled = form_of(request, bench, request.POST), DraftForm(request.POST)
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
