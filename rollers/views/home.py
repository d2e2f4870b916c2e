"""The first page: the lines with the word for each, and what waits for this person."""

from dataclasses import dataclass
from typing import Any

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.urls import reverse
from django.views.decorators.http import require_GET

from plant.floor.models import Line, Run
from plant.floor.queries import LineView, lines_overview
from rollers.readiness import Readiness
from rollers.services.runs import readiness_of
from rollers.views import shown
from rollers.waiting import Waiting, waiting_for


@dataclass(frozen=True)
class LineCard:
    """A line as the first page shows it: what runs, what is planned next, and the word for that."""

    line: Line
    running: Run | None
    next_run: Run | None
    found: Readiness | None
    running_since: str
    next_at: str

    @property
    def verdict(self) -> str:
        """Mark of the word."""
        if self.found is None:
            return "notice"
        cautions = any(row.cautions for row in self.found.positions)
        return "refused" if not self.found.may_run else "caution" if cautions else "fits"

    @property
    def word(self) -> str:
        """The word for what comes next, else for what runs."""
        if self.found is None:
            return "nothing planned"
        product = self.found.product_version.product.code
        if not self.found.may_run:
            return f"{product}: not ready"
        cautions = sum(len(row.cautions) for row in self.found.positions)
        tail = f", {cautions} caution{'s' if cautions > 1 else ''}" if cautions else ""
        return f"{product}: ready{tail}"

    @property
    def why(self) -> str:
        """How many things stop it and the first of them, else the first caution."""
        if self.found is None:
            return ""
        cautions = [one for row in self.found.positions for one in row.cautions]
        first = next((one.sentence for one in (*self.found.blocks, *cautions)), "")
        return f"{shown.stop_words(len(self.found.blocks))}. {first}" if self.found.blocks else first


def _cards(request: HttpRequest, overview: list[LineView]) -> list[LineCard]:
    open_runs = Run.objects.filter(state__in=[Run.State.PLANNED, Run.State.RELEASED])
    rows = list(open_runs.select_related("line", "path__line", "product_version__product").order_by("starts_at", "pk"))
    zone, at = shown.zone_of(request), shown.moment_at(request)
    cards = []
    for view in overview:
        mine = [run for run in rows if run.line_id == view.line.pk]
        running = next((run for run in mine if run.state == Run.State.RELEASED), None)
        next_run = next((run for run in mine if run.state == Run.State.PLANNED), None)
        asked = next_run or running
        cards.append(
            LineCard(
                view.line,
                running,
                next_run,
                readiness_of(asked, at) if asked else None,
                shown.brief_text(running.released_at, zone) if running else "",
                shown.brief_text(next_run.starts_at, zone) if next_run else "",
            )
        )
    return cards


def _url_of(one: Waiting) -> str:
    return reverse(f"rollers:{one.kind}", args=[one.pk])


@require_GET
def home(request: HttpRequest) -> HttpResponse:
    """Where everybody begins."""
    overview = lines_overview()
    person = shown.person_of(request)
    waiting: list[dict[str, Any]] = [
        {"row": one, "url": _url_of(one)}
        for one in waiting_for(person, shown.roles_held(request), shown.moment_at(request))
    ]
    ready = [view for view in overview if view.positions and view.products and view.paths]
    context = {
        "cards": _cards(request, overview),
        "waiting": waiting,
        "little_is_set_up": not ready,
        "setup_guide": ["floor/_setup_progress.html", "rollers/home/begin.html"],
        "person": person,
    }
    return render(request, "rollers/home/home.html", context)
