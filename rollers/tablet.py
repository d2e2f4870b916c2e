"""What the tablet shows of a line and of a roller: reads only."""

from dataclasses import dataclass, replace
from datetime import datetime
from typing import Any

from plant.floor.models import Line, Position, ProductVersion, Run, WebPath
from plant.people.models import Person
from plant.web.svg import LineDrawing, line_drawing, roller_drawing
from rollers import pictures
from rollers.access import position_by_code
from rollers.cases import SetPoints
from rollers.models import Application, Band, Body, RecipeVersion, TapeFact
from rollers.queries import mounted, newest_facts, on_roller
from rollers.queries_application import (
    LookDue,
    conflict_on,
    is_counted,
    look_of,
    open_application,
    restart_steps,
)
from rollers.readiness import PositionReadiness, Readiness, readiness
from rollers.rooms import room_kinds
from rollers.rules import Place, Required, deciding_check
from rollers.rules_application import ON, next_restart_step
from rollers.services.applying import HOT_ABOVE_C, expected_pieces
from training.queries import Standing, standing

RESTARTING = (Application.State.MEASURED, Application.State.CHECKED, Application.State.RESTART)


def run_on(line: Line) -> Run | None:
    """The run that is released on a line, else the one planned next."""
    runs = Run.objects.filter(line=line).select_related("product_version__product", "path__line")
    released = runs.filter(state=Run.State.RELEASED).first()
    return released or runs.filter(state=Run.State.PLANNED).order_by("starts_at", "pk").first()


def path_in_use(line: Line) -> WebPath | None:
    """The path that a line is threaded on where no run says so."""
    return line.paths.select_related("line").filter(in_use=True).order_by("name", "-version").first()


@dataclass(frozen=True)
class LineNow:
    """A line with the product it runs or runs next, and the answer for it."""

    line: Line
    run: Run | None
    version: ProductVersion | None
    found: Readiness | None

    @property
    def product_words(self) -> str:
        """Which product the answer is for, and whether it runs already."""
        if self.version is None:
            return "no product chosen"
        if self.run is None or self.run.product_version_id != self.version.pk:
            return f"{self.version.product.code}, chosen here"
        return f"{self.version.product.code}, {'running' if self.is_running else 'next'}"

    @property
    def is_running(self) -> bool:
        """Whether the answer is about the run that is released now."""
        run, version = self.run, self.version
        if run is None or version is None or run.product_version_id != version.pk:
            return False
        return bool(run.state == Run.State.RELEASED)


def line_now(line: Line, at: datetime, version: ProductVersion | None = None) -> LineNow:
    """The answer for the product of the run, or for one that was chosen."""
    run = run_on(line)
    chosen = version or (run.product_version if run else None)
    path = run.path if run else path_in_use(line)
    if chosen is None or path is None:
        return LineNow(line, run, chosen, None)
    same = run is not None and run.product_version_id == chosen.pk
    points = SetPoints(run.tension_n_per_m, run.speed_m_per_min) if run and same else None
    return LineNow(line, run, chosen, readiness(path, chosen, at=at, set_points=points))


def line_picture(found: Readiness, href: Any) -> str:
    """The line as its rollers, for the tablet."""
    drawing: LineDrawing = replace(pictures.board_picture(found, href), audience="tablet")
    return line_drawing(drawing)


@dataclass(frozen=True)
class RollerNow:
    """Everything the roller's page says."""

    row: PositionReadiness
    now: LineNow
    body: Body | None
    fact: TapeFact | None
    recipe: RecipeVersion | None
    apply: Standing
    check: Standing
    drawing: str
    application: Application | None = None
    conflict: TapeFact | None = None
    counted: bool = False
    next_restart: str = ""
    look: LookDue | None = None

    @property
    def seen(self) -> int:
        """The newest fact that the person looked at."""
        return self.fact.pk if self.fact else 0

    @property
    def pieces(self) -> int:
        """How many pieces the recipe has."""
        return expected_pieces(self.recipe) if self.recipe else 0

    @property
    def worst(self) -> dict[str, Any] | None:
        """The check that decides the verdict of what is on the roller."""
        return deciding_check(self.row.result) if self.row.result else None

    @property
    def recipe_bands(self) -> list[Band]:
        """The bands of the recipe, operator end first as in the drawing."""
        bands = list(self.recipe.bands.all()) if self.recipe else []
        return sorted(bands, key=lambda band: (band.end != Band.End.OPERATOR, band.inner_mm))

    @property
    def asked_for(self) -> str:
        """The act that this roller waits for; none where it stands as it must."""
        first = self.acts[0] if self.acts else ""
        waits = ("measure", "count", "check", "restart", "bare", "confirm", "settle")
        if first in waits:
            return first
        return first if first and self.row.blocks else ""

    @property
    def acts(self) -> list[str]:
        """What can be done here next, first things first."""
        on, required = self.row.on, self.row.required
        if self.conflict:
            return ["settle"]
        if on.state == "unknown":
            return self._of_unknown
        if on.state == "taped":
            stays = required.kind != "bare" and self.row.action != "change"
            steps = self._proof_steps
            return [*steps, "look", "remove"] if stays else ["remove", *steps, "look"]
        return {
            "bare": ["apply"] if self.recipe is not None and self.recipe.stock_id else [],
            "partial": ["remove", "look"],
            "residue": ["remove"] if self.is_removing else ["clean"],
        }[on.state]

    @property
    def is_removing(self) -> bool:
        """Whether taking off was begun and is not finished."""
        job = self.application
        return job is not None and job.state in (Application.State.REMOVING, Application.State.PARTIAL)

    @property
    def _of_unknown(self) -> list[str]:
        fact, job = self.fact, self.application
        if fact is not None and fact.details.get("reported"):
            waits = job is not None and job.origin == Application.Origin.REPORT and job.applied_at is None
            return ["confirm", "bare"] if waits else ["bare", "remove"] if not fact.pieces else ["remove"]
        if fact is not None and (fact.carries_tape or self.is_removing):
            return ["remove"]
        return ["bare"]

    @property
    def _proof_steps(self) -> list[str]:
        on, job = self.row.on, self.application
        if not on.measured:
            return ["measure"]
        planned = job is not None and job.origin == Application.Origin.PLAN
        if job is not None and planned and job.state == Application.State.MEASURED and not self.counted:
            return ["count"]
        steps = ["check"] if not on.checked else []
        return [*steps, "restart"] if self.next_restart and job is not None and self.now.is_running else steps


def roller_now(code: str, person: Person, at: datetime, version: ProductVersion | None = None) -> RollerNow:
    """The state of one position for one person, now."""
    position = position_by_code(code)
    now = line_now(position.line, at, version)
    row = _row(position.pk, now) or _without_product(position, at)
    fact = newest_facts([row.body]).get(row.body.pk) if row.body else None
    recipe = _recipe(row)
    hot = position.surface_temp_c is not None and position.surface_temp_c > HOT_ABOVE_C
    kind = row.place.room_kind
    job = open_application(row.body) if row.body else None
    restarting = job is not None and job.state in RESTARTING
    return RollerNow(
        row=row,
        now=now,
        body=row.body,
        fact=fact,
        recipe=recipe,
        apply=standing(person, "apply", kind, at, hot=hot),
        check=standing(person, "check", kind, at),
        drawing=_drawing(row, fact, recipe, now.version),
        application=job,
        conflict=conflict_on(row.body) if row.body else None,
        counted=job is not None and job.state == Application.State.MEASURED and is_counted(job),
        next_restart=next_restart_step(restart_steps(job)) if job is not None and restarting else "",
        look=look_of(job, at) if job is not None and job.state in ON else None,
    )


def _row(position_id: int, now: LineNow) -> PositionReadiness | None:
    if now.found is None:
        return None
    rows = (*now.found.positions, *now.found.others)
    return next((row for row in rows if row.position.pk == position_id), None)


def _without_product(position: Position, at: datetime) -> PositionReadiness:
    """No product is known: what is on the roller, without asking what belongs there."""
    path = path_in_use(position.line)
    step = path.steps.select_related("position").filter(position=position).first() if path else None
    mounting = mounted([position]).get(position.pk)
    body = mounting.body if mounting else None
    kind = room_kinds({position.room_id}, at)[position.room_id]
    place = Place(
        position.code,
        kind,
        body.serial if body else "",
        mounting.orientation if mounting else "normal",
        step.rotation if step else "",
    )
    on = on_roller(newest_facts([body]).get(body.pk) if body else None)
    return PositionReadiness(position, step, body, place, Required("undecided"), on, ())


def _recipe(row: PositionReadiness) -> RecipeVersion | None:
    if row.required.version_id is None:
        return None
    versions = RecipeVersion.objects.select_related("stock", "recipe__position", "step").prefetch_related("bands")
    return versions.get(pk=row.required.version_id)


def _drawing(
    row: PositionReadiness, fact: TapeFact | None, recipe: RecipeVersion | None, version: ProductVersion | None
) -> str:
    """The roller with what is on it; while it is bare, with what the recipe will put there."""
    if row.body is None or row.step is None:
        return ""
    on = fact.recipe_version if fact and fact.state in ("taped", "partial") else None
    shown = on or (recipe if row.on.state == "bare" else None)
    drawn = pictures.roller_picture(
        row.step,
        row.body,
        stock=shown.stock if shown else None,
        shapes=list(shown.bands.all()) if shown else [],
        versions=[version] if version else [],
    )
    drawn = replace(drawn, audience="tablet", state=row.on.state)
    wound = row.on.orientation and row.on.orientation != row.place.orientation
    return roller_drawing(drawn.swapped() if wound else drawn)
