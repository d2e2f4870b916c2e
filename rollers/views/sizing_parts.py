"""The further parts of the sizing page, each worked out when it is looked at: the first answer does not wait."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.urls import reverse
from django.views.decorators.http import require_GET

from calcs.case import parse_case
from calcs.common import common_wraps
from calcs.span_report import as_answer
from plant.errors import NotFound, Refused
from plant.web.refusing import keep_on_form
from plant.web.svg import (
    Ladder,
    Rung,
    curve_plot,
    curve_table,
    ladder_table,
    margin_plot,
    margin_table,
    span_map,
    span_table,
    strain_ladder,
    tornado,
    tornado_table,
)
from rollers import how_sure, web_in_span
from rollers.forms.sure import SureForm
from rollers.models import TapeStock
from rollers.queries_measured import measured_of
from rollers.trial import OneProduct, Tried
from rollers.views.bench import Bench, bench_of, filled, form_of, tried_of


@dataclass(frozen=True)
class Asked:
    """What the page asked, and its first answer."""

    request: HttpRequest
    bench: Bench
    stock: TapeStock
    tried: Tried


STOOD_FOR = 3
"""Products that are worked out in two dimensions on one page; more would take longer than anybody waits."""


def _case(row: OneProduct) -> dict[str, Any]:
    return row.changed_case or row.case


def _shown(tried: Tried) -> list[tuple[int, OneProduct]]:
    return list(enumerate(tried.products))[:STOOD_FOR]


def _left_out(tried: Tried) -> str:
    rest = [row.code for row in tried.products[STOOD_FOR:]]
    if not rest:
        return ""
    return f"Worked out for the first {STOOD_FOR} products; choose {', '.join(rest)} alone to see them as well."


def _web(number: int, row: OneProduct) -> dict[str, Any]:
    case = _case(row)
    try:
        report = web_in_span.report_of(case)
    except Refused as refusal:
        return {"code": row.code, "why_not": refusal.sentence}
    parsed, answer = parse_case(case), as_answer(report)
    with_tape = web_in_span.map_picture(row.code, parsed, report.taped, f"span-{number}")
    stress = web_in_span.stress_picture(row.code, parsed, report, f"stress-{number}")
    maps = [with_tape]
    if web_in_span.taped_places(parsed):
        maps.append(web_in_span.map_picture(row.code, parsed, report.bare, f"span-bare-{number}"))
    pictures = [(span_map(one), span_table(one)) for one in maps]
    pictures.append((curve_plot(stress), curve_table(stress)))
    return web_in_span.parts_of(row.code, answer) | {"pictures": pictures}


def web(asked: Asked) -> dict[str, Any]:
    """What the tape does to the web, for each product."""
    return {"products": [_web(number, row) for number, row in _shown(asked.tried)], "left_out": _left_out(asked.tried)}


def _troughs(asked: Asked, number: int, row: OneProduct) -> dict[str, Any]:
    """The margin at once; where the span itself troughs takes seconds, so it is worked out when asked for."""
    case, wanted = _case(row), asked.request.GET.getlist("troughs_of")
    try:
        found = web_in_span.troughs_of(case) if row.code in wanted else None
        margin = web_in_span.margin_picture(row.code, parse_case(case), found, f"margin-{number}")
    except Refused as refusal:
        return {"code": row.code, "why_not": refusal.sentence}
    query = asked.request.GET.copy()
    query.pop("part", None)
    query.setlist("troughs_of", [*wanted, row.code])
    return {
        "code": row.code,
        "troughs": found,
        "query": query.urlencode(),
        "drawing": margin_plot(margin),
        "table": margin_table(margin),
    }


def troughs(asked: Asked) -> dict[str, Any]:
    """How far the roller may be out of line, with the tape and without it."""
    products = [_troughs(asked, number, row) for number, row in _shown(asked.tried)]
    return {"products": products, "left_out": _left_out(asked.tried)}


def sure(asked: Asked) -> dict[str, Any]:
    """The chance that every check fits, what matters most, and the wraps with the best chance."""
    form, tried = SureForm(asked.request.GET), asked.tried
    measured = measured_of(asked.bench.body, asked.stock)
    context: dict[str, Any] = {"sure_form": form, "draws": how_sure.DRAWS, "measured": measured}
    if not form.is_valid():
        return context
    products = []
    for number, row in enumerate(tried.products):
        try:
            found = how_sure.how_sure(how_sure.widened(_case(row), form.percents, measured), tried.limits)
        except Refused as refusal:
            field = f"sure_{refusal.field}" if refusal.field else ""
            keep_on_form(form, Refused(refusal.code, f"{row.code}: {refusal.sentence}", field=field))
            return context
        picture = how_sure.tornado_picture(row.code, found, f"tornado-{number}")
        products.append(
            {
                "code": row.code,
                "found": found,
                "sentences": how_sure.sentences(found),
                "drawing": tornado(picture),
                "table": tornado_table(picture),
                "at_risk": [one for one in found.checks if one.caution + one.refused > 0],
                "wraps": found.wraps,
            }
        )
    return context | {"products": products}


def _ladder(tried: Tried) -> Ladder:
    rungs = []
    for row in tried.products:
        strains = [row.version.tension_min_n_per_m, row.version.tension_set_n_per_m, row.version.tension_max_n_per_m]
        stiff = row.version.modulus_md_mpa * row.version.thickness_um
        low, at_set, high = (100 * tension / stiff for tension in strains)
        rungs.append(Rung(row.code, at_set, low, high, row.result["verdict"]))
    first = tried.products[0].parsed
    step = first.tape.thickness.nominal * tried.wraps / (first.roller.diameter.nominal / 2) if first.tape else 0.0
    return Ladder("Strain ladder", tuple(rungs), 100 * step, key="ladder")


def common(asked: Asked) -> dict[str, Any]:
    """What several products of this roller can share."""
    tried = asked.tried
    found = common_wraps([row.parsed for row in tried.products], tried.limits, names=[r.code for r in tried.products])
    ladder = _ladder(tried)
    return {"common": found, "drawing": strain_ladder(ladder), "table": ladder_table(ladder)}


Worked = Callable[[Asked], dict[str, Any]]
PARTS: Mapping[str, tuple[str, Worked]] = {
    "web": ("What the tape does to the web", web),
    "troughs": ("How far the roller may be out of line", troughs),
    "sure": ("How sure this is", sure),
    "common": ("Several products on this roller", common),
}


def deeper(bench: Bench, query: str, opened: str, context: dict[str, Any] | None) -> list[dict[str, Any]]:
    """The parts as the page lists them; `opened` is the one asked for without scripts, `context` its content."""
    page = reverse("rollers:sizing", args=[bench.position.code])
    return [
        {
            "name": name,
            "title": title,
            "template": f"rollers/sizing_{name}.html",
            "load_url": f"{reverse('rollers:sizing-part', args=[bench.position.code, name])}?{query}",
            "page_url": f"{page}?{query}&part={name}#deep-{name}",
            "content": context if name == opened else None,
        }
        for name, (title, _) in PARTS.items()
    ]


def worked(asked: Asked, name: str) -> dict[str, Any] | None:
    """The content of a part; None where there is no such part."""
    return PARTS[name][1](asked) if name in PARTS else None


@require_GET
def part(request: HttpRequest, code: str, name: str) -> HttpResponse:
    """One part, for the page that is open."""
    if name not in PARTS:
        raise NotFound("part of the sizing page", name, "Open the sizing page of the roller.")
    bench = bench_of(request, code)
    form = form_of(request, bench, filled(bench, request.GET))
    answer = tried_of(form, bench)
    if answer is None:
        return render(request, "rollers/sizing_part_refused.html", {"form": form}, status=422)
    _, stock, tried = answer
    content = {"position": bench.position, "part": worked(Asked(request, bench, stock, tried), name)}
    return render(request, f"rollers/sizing_{name}.html", content)
