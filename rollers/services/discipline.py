"""Tape must not spread: a cap per line, a ground for new tape, an owner, and whether it is still needed."""

from datetime import datetime, timedelta

from plant.errors import Refused
from plant.floor.models import Position
from plant.floor.queries import plant_date
from plant.people.models import Person, Role
from rollers.control import controls
from rollers.matters import taped_without_ground
from rollers.models import Alert, Application, TapeFact, Task
from rollers.models.tape import TapeState
from rollers.queries import tape_on_line
from rollers.services.tasks import open_task, raise_alert


def taped_on(position: Position) -> list[str]:
    """Codes of the other rollers of the line that carry tape now."""
    rows = list(position.line.positions.exclude(pk=position.pk))
    on = tape_on_line(rows)
    worn = (TapeState.TAPED, TapeState.PARTIAL)
    return [row.code for row in rows if row.pk in on and on[row.pk][1].state in worn]


def refuse_overdue_review(position: Position, at: datetime) -> None:
    """Tape whose review is overdue is not put on again before somebody answered whether it is still needed."""
    task = Task.objects.filter(position=position, kind=Task.Kind.STILL_NEEDED, closed_at=None, due__lte=at).first()
    if task is not None:
        sentence = (
            f"{position}: whether tape is still needed here was to be answered until {task.due:%Y-%m-%d}. "
            "The process engineer answers it first: a run without tape, or why it stays."
        )
        raise Refused("review-overdue", sentence)


def refuse_over_cap(position: Position, reason: str, by_engineer: bool) -> bool:
    """One taped roller more than the plant allows takes the reason of a process engineer. Returns whether it is one."""
    taped = taped_on(position)
    cap = int(controls()["tape_cap"])
    if len(taped) < cap:
        return False
    if not by_engineer or len(reason.strip()) < 20:
        sentence = (
            f"Line {position.line} has {len(taped)} taped rollers ({', '.join(taped)}); {cap} are allowed. "
            "Take one off first, or a process engineer plans this taping with a reason of 20 characters or more."
        )
        raise Refused("tape-cap", sentence, field="reason")
    return True


def tell_over_cap(application: Application, reason: str, at: datetime) -> None:
    """The manager hears of every taped roller above the cap."""
    line = application.position.line
    raise_alert(
        f"tape-cap:{application.pk}",
        Alert.Level.MINOR,
        f"Line {line}: {application.position} is taped above the cap. {reason.strip()}",
        next_action="Read the reason; ask when one comes off",
        for_role=Role.MANAGER,
        at=at,
        line=line,
    )


def follow_new_tape(application: Application, fact: TapeFact, *, by: Person, at: datetime) -> None:
    """After tape went on: who owns it, when it is asked for again, and what still has to be shown for it."""
    settings = controls()
    version = application.recipe_version
    application.owner = version.author if version else by
    application.review_due = plant_date(at) + timedelta(days=int(settings["review_days"]))
    application.save(update_fields=["owner", "review_due"])
    open_task(
        Task.Kind.STILL_NEEDED,
        f"still-needed:{application.pk}",
        f"{application.position}: is this tape still needed? Try a run without it, or write why it stays.",
        at=at,
        by=by,
        for_role=Role.ENGINEER,
        owner=application.owner,
        due=at + timedelta(days=settings["review_days"]),
        line=application.position.line,
        position=application.position,
        application=application,
    )
    if taped_without_ground(application):
        hours = settings["emergency_hours"]
        open_task(
            Task.Kind.CAUSE_SHEET,
            f"cause-sheet:{application.pk}",
            f"{application.position}: taped without line walk and cause sheet; record both, or the tape comes off.",
            at=at,
            by=by,
            for_role=Role.ENGINEER,
            due=fact.at + timedelta(hours=hours),
            line=application.position.line,
            position=application.position,
            application=application,
        )
