"""A line: where wrinkles were seen, and how near each roller is for any product."""

from typing import Any

from django.core.paginator import Paginator
from django.http import HttpResponse
from django.shortcuts import render
from django.urls import reverse
from django.views.decorators.http import require_GET

from calcs.walk import beside_ranking
from plant.floor.access import line_by_code
from plant.people.models import Role
from plant.people.requests import PersonRequest
from plant.web.quantities import stored, usual_unit
from plant.web.svg.pathmargins import path_margins, path_table
from plant.web.svg.wrinklemap import wrinkle_map
from rollers.cases import SetPoints
from rollers.causes import access
from rollers.causes.forms.desk import WhatIfForm
from rollers.causes.models import Walk, WalkResult
from rollers.causes.pictures import map_of, margins_picture
from rollers.causes.queries import newest_looks, result_of, sightings_of
from rollers.causes.ranking import path_ranking
from rollers.causes.services.sightings import words_of
from rollers.causes.services.walks import says
from rollers.causes.views.frame import path_on, product_now, products_on, steps_on, trail_of
from rollers.views.shown import brief_text, units_of


@require_GET
def line(request: PersonRequest, code: str) -> HttpResponse:
    """The map of sightings with the table behind it, and the walks."""
    found = line_by_code(code)
    path = path_on(found)
    rows = sightings_of(found)
    codes = [step.position.code for step in steps_on(path)]
    page = Paginator(rows, 40).get_page(request.GET.get("page"))
    drawn = map_of(f"Line {found.code}, the last two weeks", codes, rows[:600], until=request.at, zone=request.zone)
    looks = len(drawn.seen)
    context = {
        "line": found,
        "picture": wrinkle_map(drawn),
        "page": page,
        "rows": [{"row": row, "at": brief_text(row.at, request.zone), "words": words_of(row)} for row in page],
        "looks": looks,
        "events": sum(row.grade > 0 for row in drawn.seen),
        "walks": _walks(request, found),
        "codes": codes,
        "trail": trail_of(found),
    }
    return render(request, "causes/line.html", context)


def _walks(request: PersonRequest, line: Any) -> list[dict[str, Any]]:
    walks = list(Walk.objects.filter(line=line).select_related("starts_from", "by", "product_version__product")[:12])
    newest = {row.walk_id: row for row in WalkResult.objects.filter(walk__in=walks).order_by("pk")}
    return [{"walk": row, "at": brief_text(row.at, request.zone), "result": newest.get(row.pk)} for row in walks]


@require_GET
def what_if(request: PersonRequest, code: str) -> HttpResponse:
    """The whole line for a product, whether it was ever run here or not."""
    found = line_by_code(code)
    path, products = path_on(found), products_on(found)
    form = WhatIfForm(_asked(request), products=products, units=units_of(request))
    version, points, status = product_now(found) or products.first(), None, 200
    if form.is_bound:
        if form.is_valid():
            version = form.cleaned_data["product"]
            points = _points(form, version)
        else:
            status = 422
    ranking = path_ranking(path, version, points) if version else None
    picture = margins_picture(ranking) if ranking else None
    context = {
        "line": found,
        "form": form
        if form.is_bound
        else WhatIfForm(initial={"product": version}, products=products, units=units_of(request)),
        "ranking": ranking,
        "picture": path_margins(picture) if picture else "",
        "table": path_table(picture) if picture else None,
        "trail": trail_of(found, ("What if", "")),
    }
    return render(request, "causes/what_if.html", context, status=status)


def _asked(request: PersonRequest) -> Any:
    """What was asked, with the plant's units where a link names none."""
    if "product" not in request.GET:
        return None
    data = request.GET.copy()
    for name in WhatIfForm.figures:
        data.setdefault(f"{name}_unit", usual_unit(name, units_of(request)))
    return data


def _points(form: WhatIfForm, version: Any) -> SetPoints:
    typed = form.values()
    tension, speed = (
        stored(name, typed[name])[0] if typed[name] else getattr(version, name.replace("_", "_set_", 1))
        for name in ("tension_n_per_m", "speed_m_per_min")
    )
    return SetPoints(max(float(tension or 0), 1.0), max(float(speed or 0), 0.1))


@require_GET
def walk(request: PersonRequest, pk: int) -> HttpResponse:
    """One walk: what each roller showed, what follows, and the mechanics beside it."""
    found = access.walk(pk)
    result = result_of(found)
    points = SetPoints(found.tension_n_per_m, found.speed_m_per_min)
    ranking = path_ranking(found.path, found.product_version, points)
    first = result.first if result else None
    looks = newest_looks(found)
    picture = margins_picture(ranking, first.code if first else "", key=f"margins-{found.pk}")
    chances = result.answer["chances"] if result else {}
    now = beside_ranking(says(steps_on(found.path), looks), [row.code for row in ranking.order]) if result else ""
    context = {
        "walk": found,
        "result": result,
        "answer": result.answer if result else {},
        "looks": [(look, f"{100 * chances.get(look.position.code, 0):.0f} %" if result else "–") for look in looks],
        "picture": path_margins(picture),
        "ranking": ranking,
        "agrees_now": now if result and now != result.answer["agreement"] else "",
        "at": brief_text(found.at, request.zone),
        "sheet_url": reverse("causes:open-sheet", args=[first.code]) if first else "",
        "may_open": bool({Role.ENGINEER, Role.MAINTENANCE, Role.QA, Role.OPERATOR} & request.roles),
        "trail": trail_of(found.line, (f"Walk {found.pk}", "")),
    }
    return render(request, "causes/walk.html", context)
