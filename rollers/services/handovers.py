"""Handing a line over at shift change: what is open is listed, both sign, and no unfinished job goes on silently."""

from datetime import datetime
from typing import Any

from django.db import transaction

from plant.audit.services import Confirmation, record, sign
from plant.errors import Refused
from plant.floor.models import Line, Shift
from plant.people.access import require_role
from plant.people.models import Role
from rollers.models import Application, Deviation, Handover, Hold, Lockout, Task
from rollers.queries import label_of
from rollers.services.blocks import open_blocks, settle_blocks
from rollers.services.runs import stream_of

UNDER_HANDS = (Application.State.PLANNED, Application.State.LOCKED_OUT, Application.State.REMOVING)
GIVERS = (Role.OPERATOR, Role.SUPERVISOR)


def open_items(line: Line, at: datetime) -> list[dict[str, Any]]:
    """Everything the next shift has to know of a line: blocks, jobs under hands, locks, holds, tasks, deviations."""
    items = [
        {"kind": "block", "sentence": row.sentence, "since": row.opened_at, "who": row.who}
        for row in settle_blocks(line, at=at) or open_blocks(line)
    ]
    jobs = Application.objects.filter(position__line=line, state__in=UNDER_HANDS)
    for job in jobs.select_related("position", "recipe_version__recipe", "recipe_version__stock"):
        what = label_of(job.recipe_version) if job.recipe_version else "tape without a recipe"
        items.append(
            {
                "kind": "job",
                "sentence": f"{job.position}: {what}, {job.get_state_display()}; {job.pieces.count()} pieces cut",
                "since": job.planned_at,
                "who": job.applier.name if job.applier else "",
            }
        )
    for lock in Lockout.objects.filter(position__line=line, removed_at=None).select_related("position", "person"):
        items.append(
            {
                "kind": "lock",
                "sentence": f"{lock.position}: lock {lock.lock_number or 'without a number yet'} of {lock.person.name}",
                "since": lock.begun_at,
                "who": lock.person.name,
            }
        )
    for hold in Hold.objects.filter(line=line, closed_at=None):
        items.append({"kind": "hold", "sentence": hold.sentence, "since": hold.opened_at, "who": "QA"})
    for task in Task.objects.filter(line=line, closed_at=None).select_related("owner"):
        who = task.owner.name if task.owner else Role(task.for_role).label if task.for_role else ""
        items.append({"kind": "task", "sentence": task.sentence, "since": task.opened_at, "who": who})
    for one in Deviation.objects.filter(line=line, closed_at=None).exclude(severity=Deviation.Severity.INFO):
        who = Role(one.owner_role).label
        items.append({"kind": "deviation", "sentence": one.sentence, "since": one.opened_at, "who": who})
    return items


@transaction.atomic
def hand_over(
    line: Line, *, giver: Confirmation, taker: Confirmation, at: datetime, note: str = "", shift: Shift | None = None
) -> Handover:
    """One shift gives a line to the next; both sign what was open. A lock whose owner leaves is handed over first."""
    require_role(giver.person, *GIVERS, at=at, act="Handing a line over")
    require_role(taker.person, *GIVERS, at=at, act="Taking a line over")
    if giver.person.pk == taker.person.pk:
        raise Refused("same-person", "A handover takes two: the one who goes and the one who comes.", field="taker")
    Line.objects.select_for_update().get(pk=line.pk)
    left = Lockout.objects.filter(position__line=line, removed_at=None, person=giver.person).select_related("position")
    if left:
        where = ", ".join(sorted(lock.position.code for lock in left))
        sentence = (
            f"Your lock is still on at {where}. Take it off, or hand the job over there first: pieces are counted and "
            "the next person's lock goes on before yours comes off."
        )
        raise Refused("own-lock", sentence, details=[where])
    items = open_items(line, at)
    content = {"line": line.code, "open": items, "note": note.strip(), "at": at}
    made = Handover.objects.create(
        line=line,
        shift=shift,
        open_items=[{key: str(value) for key, value in item.items()} for item in items],
        giver_signature=sign(giver, meaning="line handed over", subject=line, content=content),
        taker_signature=sign(taker, meaning="line taken over", subject=line, content=content),
        at=at,
        note=note.strip(),
    )
    record(
        stream=stream_of(line),
        action="hand-over",
        subject=made,
        sentence=f"{giver.person.name} handed line {line} to {taker.person.name} with {len(items)} open items",
        by=giver.person,
        at=at,
        facts={"open": len(items), "digest": made.taker_signature.digest},
    )
    return made
