"""After work on a roller the question comes back: does it still wrinkle, and is the tape still needed?"""

from datetime import datetime, timedelta

from django.db.models import QuerySet

from plant.floor.models import Position
from plant.people.models import Person, Role
from rollers.control import control
from rollers.models import Decision, Task
from rollers.queries import mounted
from rollers.queries_registry import tape_state
from rollers.services.tasks import open_task

ANSWER_WITHIN = timedelta(days=3)  # our proposal
MOVED_MM_PER_M = 0.02  # two readings of one level differ by as much: our own default
SUSPECTED = (Decision.Answer.TAPE, Decision.Answer.FIX)


def is_taped(position: Position) -> bool:
    """Whether tape is on the roller that sits there, whole or in part."""
    mounting = mounted([position]).get(position.pk)
    return mounting is not None and tape_state(mounting.body) in ("taped", "partial")


def ask_again(position: Position, done: str, *, key: str, cause_fixed: bool, by: Person | None, at: datetime) -> Task:
    """Ask the engineer; where tape is on and its cause was mended, a run without tape becomes due as well.

    `key` tells one piece of work from another, so that the same is never asked twice.
    """
    taped = is_taped(position)
    ask = "Is the tape still needed?" if taped else "Does it still wrinkle? Look again before any tape."
    question = open_task(
        Task.Kind.STILL_NEEDED,
        f"cause-question:{key}",
        f"{done} {ask}",
        at=at,
        by=by,
        for_role=Role.ENGINEER,
        due=at + ANSWER_WITHIN,
        line=position.line,
        position=position,
    )
    waiting = Task.objects.filter(position=position, kind=Task.Kind.RUN_WITHOUT, closed_at=None)
    if taped and cause_fixed and not waiting.exists():
        open_task(
            Task.Kind.RUN_WITHOUT,
            f"run-without:{key}",
            f"{done} Run once without the tape and look: the cause may be gone.",
            at=at,
            by=by,
            for_role=Role.SUPERVISOR,
            due=at + timedelta(days=control("run_without_days")),
            line=position.line,
            position=position,
        )
    return question


def after_work(position: Position, done: str, *, key: str, cause_fixed: bool, by: Person, at: datetime) -> Task | None:
    """Work that nobody ordered asks too, where tape is on or the newest decision suspects the roller.

    While a question about the same roller is open, it covers this work as well.
    """
    newest = Decision.objects.filter(position=position).order_by("-pk").first()
    if not is_taped(position) and (newest is None or newest.answer not in SUSPECTED):
        return None
    if open_questions(position).exists():
        return None
    return ask_again(position, done, key=key, cause_fixed=cause_fixed, by=by, at=at)


def open_questions(position: Position) -> QuerySet[Task]:
    """Questions after work that the engineer has not answered."""
    return Task.objects.filter(
        position=position, kind=Task.Kind.STILL_NEEDED, key__startswith="cause-question:", closed_at=None
    )


def after_alignment(
    position: Position, before: float | None, now: float, *, key: str, by: Person, at: datetime
) -> Task | None:
    """A roller that stands otherwise than it was last measured was worked on; nearer to square, its cause is mended."""
    if before is not None and abs(now - before) <= MOVED_MM_PER_M:
        return None
    was = "not measured before" if before is None else f"{before:g} mm/m before"
    done = f"{position.code}: misalignment is {now:g} mm/m now, {was}."
    mended = before is not None and abs(now) < abs(before) - MOVED_MM_PER_M
    return after_work(position, done, key=key, cause_fixed=mended, by=by, at=at)
