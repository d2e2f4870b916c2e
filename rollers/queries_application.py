"""Reads about tapings: which is open, its pieces, its locks and steps, and which looks are due."""

from collections import defaultdict
from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from django.db.models import Max, OuterRef, Q, QuerySet, Subquery

from plant.floor.models import Line, Position, Run
from plant.floor.queries import shift_at
from rollers.control import controls
from rollers.models import Application, Body, Lockout, Piece, PieceFact, RecipeVersion, TapeFact
from rollers.rooms import room_kinds
from rollers.rules_application import ON, RESTART, Lane, Look, RestartStep, lanes_of, look_due, next_restart_step

IN_WORK = (Application.State.LOCKED_OUT, Application.State.APPLIED, Application.State.REMOVING)


def open_application(body: Body) -> Application | None:
    """The taping of a body that is not over: there is at most one."""
    rows = Application.objects.select_related("recipe_version__recipe__position", "recipe_version__stock")
    rows = rows.select_related("applier", "trainee", "checker", "position__line", "position__room")
    return rows.filter(body=body).exclude(state__in=Application.ENDED).first()


def open_applications(bodies: Iterable[Body]) -> dict[int, Application]:
    """The taping that is not over, by body id."""
    rows = Application.objects.filter(body__in=list(bodies)).exclude(state__in=Application.ENDED)
    return {row.body_id: row for row in rows.select_related("position", "applier", "checker", "recipe_version")}


def lanes_for(version: RecipeVersion, body: Body) -> tuple[Lane, ...]:
    """The pieces that a recipe has on a body."""
    stock = version.stock
    if stock is None:
        return ()
    return lanes_of(
        version.bands.all(),
        tape_width_mm=stock.width_mm,
        tape_mm=stock.thickness_mm,
        diameter_mm=body.diameter_mm or body.drawing_diameter_mm or 0,
    )


# --- pieces -----------------------------------------------------------------------------------------------------


def with_state(pieces: QuerySet[Piece]) -> QuerySet[Any]:
    """Pieces with `now`, where each is by its newest fact."""
    newest = PieceFact.objects.filter(piece=OuterRef("pk")).order_by("-pk").values("state")[:1]
    return pieces.annotate(now=Subquery(newest))


def pieces_on(body: Body) -> list[Piece]:
    """Every piece that is on a body by the record, of whatever taping, also of one that was voided."""
    rows = with_state(Piece.objects.filter(application__body=body)).filter(now=PieceFact.State.ON)
    return list(rows.select_related("application", "reel__lot").order_by("application", "number"))


def missing_pieces(positions: Iterable[Position]) -> list[Piece]:
    """Pieces that were not found at a removal, and not since."""
    rows = with_state(Piece.objects.filter(application__position__in=list(positions)))
    rows = rows.filter(now=PieceFact.State.MISSING).select_related("application__position__room", "application__body")
    return list(rows.order_by("pk"))


# --- locks and unfinished work ----------------------------------------------------------------------------------


def locks_on(positions: Iterable[Position]) -> list[Lockout]:
    """Lockouts that were begun and whose lock is not recorded as off."""
    rows = Lockout.objects.filter(position__in=list(positions), removed_at=None)
    return list(rows.select_related("position", "person", "application").order_by("position", "pk"))


def lock_of(position: Position, person_id: int) -> Lockout | None:
    """A person's own lockout at a position, as far as it has come."""
    return Lockout.objects.filter(position=position, person=person_id, removed_at=None).first()


def unfinished_jobs(line: Line, at: datetime) -> list[Application]:
    """Tapings of a line on which somebody works, or stopped in the middle: locked out, wound but not measured and
    counted, or half removed."""
    locked = Q(lockouts__removed_at=None, lockouts__begun_at__lte=at) & Q(lockouts__isnull=False)
    rows = Application.objects.filter(position__line=line).filter(Q(state__in=IN_WORK) | locked)
    return list(rows.select_related("position", "body", "applier", "trainee").distinct().order_by("position__order"))


def knives_out(application: Application) -> list[str]:
    """Numbers of knives that went to this job and are not back."""
    moves = application.knife_moves.select_related("knife").order_by("pk")
    newest = {move.knife.number: move.kind for move in moves}
    return sorted(number for number, kind in newest.items() if kind == "out")


# --- facts of one taping ----------------------------------------------------------------------------------------


def facts_of_application(application: Application, *kinds: str) -> QuerySet[TapeFact]:
    """Facts of one taping in the order they were recorded."""
    rows = TapeFact.objects.filter(application=application).select_related("by").order_by("pk")
    return rows.filter(kind__in=kinds) if kinds else rows


def restart_steps(application: Application) -> list[RestartStep]:
    """The steps of the slow restart that were recorded."""
    return [
        RestartStep(fact.details["step"], fact.details["grade"], fact.details["passed"])
        for fact in facts_of_application(application, TapeFact.Kind.RESTART)
    ]


def restart_done(application: Application) -> bool:
    """Whether all three steps are passed."""
    return next_restart_step(restart_steps(application)) == ""


def restarts_wanted(positions: Iterable[Position]) -> list[tuple[Application, str]]:
    """Tapings whose slow restart is not complete, each with the step that comes next: the next run still asks."""
    states = (Application.State.MEASURED, Application.State.CHECKED, Application.State.RESTART)
    rows = Application.objects.filter(position__in=list(positions), state__in=states).select_related("position")
    found = [(row, next_restart_step(restart_steps(row))) for row in rows]
    return [(row, step) for row, step in found if step]


RESTART_WORDS = dict(RESTART)


def is_counted(application: Application) -> bool:
    """Whether pieces, offcuts and knife were counted after winding."""
    return facts_of_application(application, TapeFact.Kind.COUNTED).exists()


def reported_only(application: Application) -> bool:
    """Whether the taping was reported after it was done, and nobody certified has looked at it yet."""
    return application.origin == Application.Origin.REPORT and application.applied_at is None


def conflicts_on(bodies: Iterable[Body]) -> dict[int, TapeFact]:
    """Conflicts that are not resolved yet, by body id."""
    kinds = (TapeFact.Kind.CONFLICT, TapeFact.Kind.RESOLVED, TapeFact.Kind.REMOVED)
    rows = TapeFact.objects.filter(body__in=list(bodies), kind__in=kinds)
    newest = rows.values("body").annotate(last=Max("pk")).values("last")
    found = TapeFact.objects.filter(pk__in=newest, kind=TapeFact.Kind.CONFLICT)
    return {fact.body_id: fact for fact in found}


def conflict_on(body: Body) -> TapeFact | None:
    """The conflict that is not resolved yet."""
    return conflicts_on([body]).get(body.pk)


# --- looks ------------------------------------------------------------------------------------------------------

FULL_LOOKS = (TapeFact.Kind.APPLIED, TapeFact.Kind.CHECKED, TapeFact.Kind.LOOKED, TapeFact.Kind.SURVEYED)


@dataclass(frozen=True)
class LookDue:
    """The next look at one taped roller."""

    application: Application
    last: datetime
    result: str
    look: Look
    word: str


def looks_due(positions: Collection[Position], at: datetime) -> list[LookDue]:
    """When each taped roller of these positions is to be looked at, the most pressing first."""
    rows = Application.objects.filter(position__in=[position.pk for position in positions], state__in=ON)
    found = list(rows.select_related("position__line", "position__room", "body"))
    kinds = room_kinds({row.position.room_id for row in found}, at)
    return looks_of(found, at, kinds=kinds, values=controls())


def on_positions(applications: Iterable[Application], positions: Collection[Position]) -> list[Application]:
    """Those of the tapings whose tape is on, at these positions."""
    here = {position.pk for position in positions}
    return [row for row in applications if row.position_id in here and row.state in ON]


def looks_of(
    rows: list[Application], at: datetime, *, kinds: Mapping[int, str], values: Mapping[str, float]
) -> list[LookDue]:
    """When tapings whose tape is on are to be looked at; `kinds` of rooms by id and `values` of tape control."""
    if not rows:
        return []
    last, shift = _last_looks(rows), shift_at(at)
    lines = {row.position.line_id for row in rows}
    running = Run.objects.filter(line__in=lines, state=Run.State.RELEASED)
    released = dict(running.values_list("line", "released_at"))
    found = []
    for row in rows:
        if row.pk not in last:
            continue
        seen, result = last[row.pk]
        look = look_due(
            seen,
            room_kind=kinds[row.position.room_id],
            controls=values,
            result=result,
            released_at=released.get(row.position.line_id),
            shift=(shift.starts_at, shift.ends_at) if shift else None,
        )
        found.append(LookDue(row, seen, result, look, look.word(at)))
    return sorted(found, key=lambda each: each.look.late)


def _last_looks(rows: list[Application]) -> Mapping[int, tuple[datetime, str]]:
    facts = TapeFact.objects.filter(application__in=rows, kind__in=FULL_LOOKS)
    newest = facts.values("application").annotate(last=Max("pk")).values("last")
    last: dict[int, tuple[datetime, str]] = {}
    for fact in TapeFact.objects.filter(pk__in=newest):
        if fact.application_id is not None:
            last[fact.application_id] = (fact.at, fact.details.get("result", ""))
    return last


def look_of(application: Application, at: datetime) -> LookDue | None:
    """When one taped roller is to be looked at next."""
    return next((row for row in looks_due([application.position], at) if row.application.pk == application.pk), None)


def jobs_by_position(positions: Iterable[Position]) -> dict[int, list[Application]]:
    """The open tapings by position id."""
    found: dict[int, list[Application]] = defaultdict(list)
    rows = Application.objects.filter(position__in=list(positions)).exclude(state__in=Application.ENDED)
    for row in rows.select_related("recipe_version", "applier"):
        found[row.position_id].append(row)
    return found
