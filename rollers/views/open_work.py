"""Everything that is open: alerts, blocks, holds, tasks, deviations; and closing them."""

from datetime import datetime
from typing import Any

from django.contrib import messages
from django.db.models import Q
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from plant.errors import NotFound, Refused
from plant.floor.models import Line, Room, Run
from plant.people.access import person_by_number, require_role
from plant.people.models import Role
from plant.people.queries import role_words
from plant.web.refusing import keep_on_form
from rollers.changeover import change_sheet
from rollers.forms.line import OutcomeForm, TieForm
from rollers.models import Alert, Block, Deviation, Hold, Override, Task
from rollers.reports_line import BLANKS
from rollers.rules_overrides import PASSABLE
from rollers.services.blocks import settle_blocks
from rollers.services.tasks import acknowledge_alert, close_deviation, close_task
from rollers.services.tying import HEAVY, tie_to_person
from rollers.views import shown


def age_words(since: datetime, at: datetime) -> str:
    """How long something has been open."""
    minutes = max(0, int((at - since).total_seconds() // 60))
    if minutes < 120:
        return f"{minutes} min"
    return f"{minutes // 60} h" if minutes < 48 * 60 else f"{minutes // 1440} days"


def _alerts(request: HttpRequest) -> list[Alert]:
    roles = shown.roles_held(request)
    mine = Q(for_role__in=roles) | Q(escalated_to__in=roles)
    return list(Alert.objects.filter(mine, acknowledged_at=None, over_at=None).select_related("line")[:50])


def _tasks(request: HttpRequest, *, everybody: bool) -> list[dict[str, Any]]:
    person, roles, at = shown.person_of(request), shown.roles_held(request), shown.moment_at(request)
    rows = Task.objects.filter(closed_at=None).select_related("owner", "position", "line")
    if not everybody:
        rows = rows.filter(Q(owner=person) | Q(for_role__in=roles))
    return [
        {
            "row": row,
            "mine": row.owner_id == person.pk or row.for_role in roles,
            "who": row.owner.name if row.owner else ", ".join(role_words([row.for_role])) if row.for_role else "",
            "due": shown.brief_text(row.due, shown.zone_of(request)),
            "over": row.due is not None and row.due <= at,
        }
        for row in rows.order_by("due", "pk")[:200]
    ]


@require_GET
def open_work(request: HttpRequest) -> HttpResponse:
    """One page for the shift: what stands in the way, since when, and who clears it."""
    at, roles = shown.moment_at(request), shown.roles_held(request)
    everybody = "all" in request.GET
    for line in Line.objects.filter(in_use=True):
        settle_blocks(line, at=at)
    coming = Run.objects.filter(state=Run.State.PLANNED)
    coming = coming.select_related("line", "product_version__product", "path__line")
    first_of_line = {run.line_id: run for run in coming.order_by("-starts_at", "-pk")}
    blocks = Block.objects.filter(cleared_at=None).select_related("line", "position", "run__product_version__product")
    deviations = Deviation.objects.filter(closed_at=None).exclude(severity=Deviation.Severity.INFO)
    overrides = Override.objects.filter(begins_at__lte=at, ends_at__gt=at)
    context = {
        "alerts": [(row, age_words(row.due_at, at)) for row in _alerts(request)],
        "blocks": [
            (row, age_words(row.opened_at, at), row.code in PASSABLE and Role.SUPERVISOR in roles) for row in blocks
        ],
        "changes": [
            (change_sheet(run, at), shown.brief_text(run.starts_at, shown.zone_of(request)))
            for run in sorted(first_of_line.values(), key=lambda run: run.starts_at)
        ],
        "holds": [
            (row, age_words(row.opened_at, at))
            for row in Hold.objects.filter(closed_at=None).select_related("line").order_by("opened_at")
        ],
        "tasks": _tasks(request, everybody=everybody),
        "everybody": everybody,
        "deviations": [
            (row, ", ".join(role_words([row.owner_role])), row.owner_role in roles)
            for row in deviations.select_related("line", "position").order_by("-pk")[:200]
        ],
        "overrides": [
            (row, shown.brief_text(row.ends_at, shown.zone_of(request)))
            for row in overrides.select_related("line", "position", "supervisor_signature", "second_signature")
        ],
        "rooms": Room.objects.all(),
        "blanks": [(name, title) for name, (title, _, _) in BLANKS.items()],
        "trail": [("Lines", reverse("home")), ("Open work", "")],
    }
    return render(request, "rollers/line/open_work.html", context)


@require_POST
def acknowledge(request: HttpRequest, pk: int) -> HttpResponse:
    """Take an alert."""
    alert = Alert.objects.filter(pk=pk).first()
    if alert is None:
        raise NotFound("alert", str(pk), "Choose from the page of open work.")
    acknowledge_alert(alert, by=shown.person_of(request), at=shown.moment_at(request))
    messages.success(request, f"You took it. Next: {alert.next_action}.")
    return redirect(alert.address or "rollers:open-work")


def _closing(request: HttpRequest, row: Task | Deviation, title: str, *, tie: bool = False) -> HttpResponse:
    form, status = OutcomeForm(request.POST if request.method == "POST" else None), 200
    if request.method == "POST":
        status = 422
        if form.is_valid():
            common = {"outcome": form.cleaned_data["outcome"], "by": shown.person_of(request)}
            try:
                if isinstance(row, Task):
                    close_task(row, at=shown.moment_at(request), **common)
                else:
                    close_deviation(row, at=shown.moment_at(request), **common)
            except Refused as refusal:
                status = keep_on_form(form, refusal)
            else:
                messages.success(request, f"Closed: {row}")
                return redirect("rollers:open-work")
    context = {
        "row": row,
        "form": form,
        "tie": tie,
        "title": title,
        "opened": shown.local_text(row.opened_at, shown.zone_of(request)),
        "closed": shown.local_text(row.closed_at, shown.zone_of(request)),
        "trail": [("Open work", reverse("rollers:open-work")), (title, "")],
    }
    return render(request, "rollers/line/close.html", context, status=status)


@require_http_methods(["GET", "POST"])
def task(request: HttpRequest, pk: int) -> HttpResponse:
    """One task, and closing it with what came of it."""
    row = Task.objects.select_related("owner", "position", "line", "closed_by").filter(pk=pk).first()
    if row is None:
        raise NotFound("task", str(pk), "Choose from the page of open work.")
    return _closing(request, row, row.get_kind_display().capitalize())


def _deviation(pk: int) -> Deviation:
    row = Deviation.objects.select_related("position", "line", "person", "closed_by").filter(pk=pk).first()
    if row is None:
        raise NotFound("deviation", str(pk), "Choose from the page of open work.")
    return row


@require_http_methods(["GET", "POST"])
def deviation(request: HttpRequest, pk: int) -> HttpResponse:
    """One deviation, and closing it with what was found and done."""
    row = _deviation(pk)
    tie = row.severity in HEAVY and Role.QA in shown.roles_held(request)
    return _closing(request, row, f"Deviation, {row.get_severity_display()}", tie=tie)


@require_http_methods(["GET", "POST"])
def tie(request: HttpRequest, pk: int) -> HttpResponse:
    """QA says whose work a heavy deviation came of."""
    by, at = shown.person_of(request), shown.moment_at(request)
    require_role(by, Role.QA, at=at, act="Tying a finding to a person")
    row, status = _deviation(pk), 200
    form = TieForm(request.POST if request.method == "POST" else None)
    if request.method == "POST":
        status = 422
        if form.is_valid():
            asked = form.cleaned_data
            try:
                person = person_by_number(asked["person"].strip())
                tie_to_person(row, person, asked["skill"], reason=asked["reason"], by=by, at=at)
            except Refused as refusal:
                status = keep_on_form(form, refusal)
            else:
                messages.success(request, f"{person.name} needs a refresher and works on it no more until then.")
                return redirect("rollers:deviation", pk)
    title = "Tie it to a person"
    trail = [("Open work", reverse("rollers:open-work")), ("Deviation", reverse("rollers:deviation", args=[pk]))]
    context = {"row": row, "form": form, "title": title, "trail": [*trail, (title, "")]}
    return render(request, "rollers/line/tie.html", context, status=status)
