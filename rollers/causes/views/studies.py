"""Studies, and whether it pays."""

from typing import Any

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from plant.errors import Refused
from plant.floor.models import Position, Product
from plant.floor.queries import local
from plant.people.access import require_insider
from plant.people.gates import for_roles
from plant.people.models import Role
from plant.people.requests import PersonRequest
from plant.web.refusing import keep_on_form
from plant.web.spreadsheet import headed, neutralised, written
from plant.web.svg import curve_plot
from plant.web.svg.ratios import ratios
from rollers.access import position_by_code
from rollers.causes import access
from rollers.causes.forms.desk import StudyForm
from rollers.causes.models import Study, StudyResult
from rollers.causes.paying import Paying, csv_rows, paying_of
from rollers.causes.pictures import ratios_picture, run_chart
from rollers.causes.services.studies import READERS, plan_study, work_out
from rollers.causes.views.frame import trail_of
from rollers.models import TapeFact
from rollers.views.shown import local_text

VERDICTS = {"better": "fits", "worse": "refused"}
COLUMNS = (
    "study",
    "measure",
    "window",
    "roll",
    "starts",
    "length_m",
    "running_h",
    "wrinkles",
    "breaks",
    "waste_kg",
    "made_kg",
)


def _trail(position: Position, *more: tuple[str, str]) -> list[tuple[str, str]]:
    return trail_of(position.line, (position.code, reverse("causes:roller", args=[position.code])), *more)


@require_http_methods(["GET", "POST"])
@for_roles(Role.ENGINEER, act="Planning a study")
def plan(request: PersonRequest, code: str) -> HttpResponse:
    """Fix the windows before anybody looks."""
    position = position_by_code(code)
    text = request.GET.get("replaces", "")
    replaces = access.study(int(text)) if text.isascii() and text.isdigit() and len(text) < 15 else None
    products = Product.objects.filter(lines=position.line).order_by("code")
    form, status = StudyForm(request.POST or None, products=products), 200
    if form.is_bound:
        status = 422
        if form.is_valid():
            try:
                made = _plan(request, position, form.cleaned_data, replaces)
            except Refused as refusal:
                status = keep_on_form(form, refusal)
            else:
                messages.success(request, "The windows are fixed. Work it out when the window after has ended.")
                return redirect("causes:study", made.pk)
    context = {
        "position": position,
        "form": form,
        "replaces": replaces,
        "trail": _trail(position, ("Plan a study", "")),
    }
    return render(request, "causes/plan_study.html", context, status=status)


def _plan(request: PersonRequest, position: Position, given: dict[str, Any], replaces: Study | None) -> Study:
    moments = {
        name: given[name].replace(tzinfo=request.zone) if given[name].tzinfo is None else given[name]
        for name in ("before_from", "before_to", "after_from", "after_to")
    }
    return plan_study(
        position,
        product=given["product"],
        measure=given["measure"],
        what=given["what"],
        before=(moments["before_from"], moments["before_to"]),
        after=(moments["after_from"], moments["after_to"]),
        co_changes=given["co_changes"],
        saved_per_event=given["saved_per_event"],
        cost=given["cost"],
        currency=given["currency"],
        replaces=replaces,
        by=request.user,
        at=request.at,
    )


def _windows(request: PersonRequest, study: Study) -> list[tuple[str, str, str]]:
    zone = request.zone
    return [
        ("Before", local_text(study.before_from, zone), local_text(study.before_to, zone)),
        ("After", local_text(study.after_from, zone), local_text(study.after_to, zone)),
    ]


def _tape_events(study: Study) -> list[tuple[Any, str]]:
    rows = TapeFact.objects.filter(
        position=study.position_id, kind__in=("applied", "removed"), at__gte=study.before_from, at__lte=study.after_to
    )
    return [(row.at, f"tape {row.kind}") for row in rows.order_by("at")]


def _chart(study: Study, result: StudyResult, key: str) -> str:
    drawn = run_chart(study, result, _tape_events(study), key=key)
    return curve_plot(drawn) if drawn else ""


@require_GET
def study(request: PersonRequest, pk: int) -> HttpResponse:
    """The plan, and every result since."""
    found = access.study(pk)
    results = list(StudyResult.objects.filter(study=found).select_related("by").order_by("-pk"))
    newest = results[0] if results else None
    context = {
        "study": found,
        "windows": _windows(request, found),
        "planned": local_text(found.planned_at, request.zone),
        "result": newest,
        "answer": newest.answer if newest else {},
        "verdict": VERDICTS.get(newest.verdict, "cannot tell") if newest else "",
        "chart": _chart(found, newest, f"run-{found.pk}") if newest else "",
        "results": [(row, local_text(row.at, request.zone)) for row in results],
        "later": found.replaced_by.first(),
        "is_open": request.at < found.after_to,
        "may_work_out": bool(set(READERS) & request.roles),
        "is_engineer": Role.ENGINEER in request.roles,
        "trail": _trail(found.position, (f"Study {found.pk}", "")),
    }
    return render(request, "causes/study.html", context)


@require_POST
def compute(request: PersonRequest, pk: int) -> HttpResponse:
    """Count the windows as they were fixed."""
    made = work_out(access.study(pk), by=request.user, at=request.at)
    messages.success(request, f"Worked out: {made.verdict}.")
    return redirect("causes:study", pk)


@require_GET
def pays(request: PersonRequest) -> HttpResponse:
    """Every roller with a study."""
    positions = (
        Position.objects.filter(studies__isnull=False).distinct().select_related("line").order_by("line", "order")
    )
    rows = [(position, paying_of(position)) for position in positions]
    context = {
        "rows": [
            {
                "position": position,
                "said": [(study.get_measure_display(), result.verdict) for study, result in found.rows],
                "marks": [VERDICTS.get(result.verdict, "cannot tell") for _, result in found.rows],
                "planned": len(found.planned),
                "money": found.money,
            }
            for position, found in rows
        ],
        "trail": [("Lines", reverse("home")), ("Does it pay", "")],
    }
    return render(request, "causes/pays.html", context)


@require_GET
def pays_of(request: PersonRequest, code: str) -> HttpResponse:
    """One roller: what changed, how sure, what it cost; and what no figure says."""
    position = position_by_code(code)
    found = paying_of(position)
    context = {
        "position": position,
        "found": found,
        "rows": [_row(request, study, result) for study, result in found.rows],
        "planned": found.planned,
        "picture": ratios(ratios_picture(f"{position.code}: after over before", found.rows)) if found.rows else "",
        "changes": sorted({said for _, result in found.rows for said in result.answer.get("co_changes", [])}),
        "is_short": 0 < found.weeks < 4,
        "is_guest": not (request.roles - {Role.GUEST}),
        "trail": [("Lines", reverse("home")), ("Does it pay", reverse("causes:pays")), (position.code, "")],
    }
    return render(request, "causes/pays_of.html", context)


def _row(request: PersonRequest, study: Study, result: StudyResult) -> dict[str, Any]:
    return {
        "study": study,
        "result": result,
        "answer": result.answer,
        "verdict": VERDICTS.get(result.verdict, "cannot tell"),
        "windows": _windows(request, study),
        "chart": _chart(study, result, f"run-{study.pk}"),
    }


@require_GET
def pays_csv(request: PersonRequest, code: str) -> HttpResponse:
    """The rows every figure was counted from."""
    require_insider(request.user, at=request.at)
    position = position_by_code(code)
    found = paying_of(position)
    rows = csv_rows(found)
    facts = [
        ("roller", position.code),
        ("written", local(request.at).isoformat(timespec="seconds")),
        ("by", f"{request.user.name} ({request.user.staff_no})"),
        ("rows", str(len(rows))),
        *_facts(found),
    ]
    lines = [list(COLUMNS), *([_cell(row[name]) for name in COLUMNS] for row in rows)]
    text = headed("Does it pay", facts) + written(lines)
    response = HttpResponse("\ufeff" + text, content_type="text/csv; charset=utf-8")
    response.headers["Content-Disposition"] = f'attachment; filename="does-it-pay-{position.code}.csv"'
    return response


def _cell(value: Any) -> str:
    return "" if value is None else neutralised(str(value))


def _facts(found: Paying) -> list[tuple[str, str]]:
    """What else is needed to work the figures out again."""
    facts = []
    for study, result in found.rows:
        windows = f"{study.before_from.isoformat()} to {study.before_to.isoformat()}"
        windows += f" against {study.after_from.isoformat()} to {study.after_to.isoformat()}"
        facts.append((f"study {study.pk}", f"{study.get_measure_display()}, {study.product.code}, {windows}"))
        facts.append((f"study {study.pk} verdict", result.verdict))
        if study.saved_per_event is not None:
            facts.append((f"study {study.pk} price", f"{study.saved_per_event:g} {study.currency} each"))
        if study.cost is not None:
            facts.append((f"study {study.pk} cost", f"{study.cost:g} {study.currency}"))
    return facts
