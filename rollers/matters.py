"""What stands against positions beside their tape, read in a fixed number of queries whatever their number."""

from collections import defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import replace
from datetime import datetime, timedelta

from plant.floor.models import Position
from rollers.models import Application, Body, Decision, Hold, Lockout, PieceFact, RecipeVersion, TapeFact, Task
from rollers.models.tape import TapeState
from rollers.queries_application import conflicts_on, looks_of, on_positions, open_applications
from rollers.queries_recalled import recalled_on
from rollers.rules_line import Matters

FIX_FIRST = (Task.Kind.STOP_AND_FIX, Task.Kind.REDUCE)


def _locks(positions: list[Position]) -> dict[int, list[str]]:
    found: dict[int, list[str]] = defaultdict(list)
    for row in Lockout.objects.filter(position__in=positions, removed_at=None).select_related("person"):
        number = f"lock {row.lock_number}" if row.lock_number else "a lockout"
        found[row.position_id].append(f"{number} of {row.person.name}")
    return found


def _missing(positions: list[Position]) -> dict[int, list[str]]:
    """Open holds for missing pieces, and pieces that are missing without a hold."""
    found: dict[int, list[str]] = defaultdict(list)
    holds = Hold.objects.filter(application__position__in=positions, why=Hold.Why.MISSING)
    settled: set[int | None] = (
        set()
    )  # a hold stands for its pieces: open, it says so itself; closed, QA is done with them
    for hold in holds.select_related("application"):
        settled.add(hold.application_id)
        if hold.application is not None and hold.closed_at is None:
            found[hold.application.position_id].append(f"{hold.sentence} QA decides about each roll.")
    newest: dict[int, PieceFact] = {}
    pieces = PieceFact.objects.filter(piece__application__position__in=positions)
    lost = pieces.filter(state=PieceFact.State.MISSING).values("piece")
    for fact in PieceFact.objects.filter(piece__in=lost).select_related("piece__application__position").order_by("pk"):
        newest[fact.piece_id] = fact
    count: dict[Application, int] = defaultdict(int)
    for fact in newest.values():
        if fact.state == PieceFact.State.MISSING and fact.piece.application_id not in settled:
            count[fact.piece.application] += 1
    for application, missing in count.items():
        word = "1 piece of tape is" if missing == 1 else f"{missing} pieces of tape are"
        found[application.position_id].append(f"{application.position}: {word} missing. Search, then call QA.")
    return found


def _tasks(positions: list[Position]) -> dict[int, list[Task]]:
    kinds = (*FIX_FIRST, Task.Kind.CAUSE_SHEET, Task.Kind.RUN_WITHOUT)
    found: dict[int, list[Task]] = defaultdict(list)
    for task in Task.objects.filter(position__in=positions, closed_at=None, kind__in=kinds):
        found[task.position_id or 0].append(task)
    return found


def _job(application: Application | None) -> str:
    """A job that was begun and is not in a state in which a line may run."""
    if application is None:
        return ""
    if application.state == Application.State.LOCKED_OUT:
        return "taping was begun and is not done. Finish it, hand it over, or give it up."
    if application.state == Application.State.REMOVING:
        return "taking tape off was begun and is not done. Finish it and count, or hand it over."
    return ""


def matters_of(
    positions: Iterable[Position],
    bodies: Mapping[int, Body],
    facts: Mapping[int, TapeFact],
    versions: Mapping[int, RecipeVersion],
    at: datetime,
    *,
    kinds: Mapping[int, str],
    settings: Mapping[str, float],
) -> dict[int, Matters]:
    """By position id. `bodies` by position id, `facts` by body id, `versions` the recipe asked for by position id.

    `kinds` are the classes of the rooms and `settings` those of tape control, as the caller read them already.
    """
    rows = list(positions)
    locks, missing, tasks = _locks(rows), _missing(rows), _tasks(rows)
    applications, recalled = open_applications(bodies.values()), recalled_on(rows, at)
    conflicts, then = conflicts_on(bodies.values()), diameters_of(versions)
    looks = {
        row.application.position_id: row.look
        for row in looks_of(on_positions(applications.values(), rows), at, kinds=kinds, values=settings)
    }
    found = {}
    for position in rows:
        body = bodies.get(position.pk)
        fact = facts.get(body.pk) if body else None
        application = applications.get(body.pk) if body else None
        matters = Matters(
            locks=tuple(locks[position.pk]),
            missing=tuple(missing[position.pk]),
            recalled=recalled[position.pk].words if position.pk in recalled else "",
            contaminating=position.pk in recalled and recalled[position.pk].contaminating,
            conflict=body is not None and body.pk in conflicts,
            look=looks.get(position.pk),
            fix=tuple(task.sentence for task in tasks[position.pk] if task.kind in FIX_FIRST),
            job_open=_job(application),
            cause_due=_due(tasks[position.pk], Task.Kind.CAUSE_SHEET),
            without_due=_due(tasks[position.pk], Task.Kind.RUN_WITHOUT),
        )
        if fact is not None and fact.state == TapeState.TAPED:
            matters = _of_tape(matters, fact, application)
        version = versions.get(position.pk)
        if body is not None and body.diameter_mm and version is not None and version.pk in then:
            before = then[version.pk]
            if abs(before - body.diameter_mm) > 1e-6:
                matters = replace(matters, diameters=(before, body.diameter_mm))
        found[position.pk] = matters
    return found


def _of_tape(matters: Matters, fact: TapeFact, application: Application | None) -> Matters:
    """What only tape that is on has: its life, whether its recipe is safe, its review."""
    version = fact.recipe_version
    stock = version.stock if version else None
    applied = application.applied_at if application else None
    ends = applied + timedelta(days=stock.max_life_days) if applied and stock and stock.max_life_days else None
    review = application.review_due if application else None
    return replace(
        matters,
        life_ends=ends,
        unsafe=version is not None and version.unsafe_at is not None,
        restart_open=application is not None
        and application.verified_at is None
        and application.state == Application.State.RESTART,
        review_due=datetime.combine(review, datetime.min.time(), fact.at.tzinfo) if review else None,
    )


def _due(tasks: list[Task], kind: str) -> datetime | None:
    return next((task.due for task in tasks if task.kind == kind and task.due), None)


def diameters_of(versions: Mapping[int, RecipeVersion]) -> dict[int, float]:
    """The roller diameter that each recipe version was computed or last tested again for, mm."""
    found: dict[int, float] = {}
    for version in versions.values():
        for row in version.products.all():
            diameter = row.calculation.case["roller"].get("diameter_mm") if row.calculation else None
            if isinstance(diameter, (int, float)):
                found[version.pk] = float(diameter)
        for again in version.re_checks.all():
            diameter = again.details.get("diameter_mm")
            if diameter is not None:
                found[version.pk] = float(diameter)
    return found


def taped_without_ground(application: Application) -> bool:
    """Whether no decision for tape stands behind a new taping: the walk and the cause sheet then follow."""
    rows = Decision.objects.filter(position=application.position).order_by("-pk")
    newest = rows.first()
    return newest is None or newest.answer != Decision.Answer.TAPE or newest.emergency
