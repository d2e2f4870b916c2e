"""Since when a line is blocked and by what: rows that follow the computed answer."""

from datetime import datetime, timedelta

from django.db import transaction

from plant.audit.services import record
from plant.floor.models import Line, Run
from plant.people.models import Person, Role
from rollers.control import control
from rollers.models import Alert, Block
from rollers.readiness import Readiness
from rollers.rules import Finding
from rollers.services.runs import readiness_of, stream_of
from rollers.services.tasks import raise_alert


def run_in_question(line: Line) -> Run | None:
    """The run that is released, else the one planned next."""
    runs = Run.objects.filter(line=line).select_related("product_version__product", "path__line", "line")
    released = runs.filter(state=Run.State.RELEASED).first()
    return released or runs.filter(state=Run.State.PLANNED).order_by("starts_at", "pk").first()


@transaction.atomic
def settle_blocks(line: Line, *, at: datetime, by: Person | None = None, found: Readiness | None = None) -> list[Block]:
    """Open a row for each new block of a line, clear the rows of those that are gone. Safe to run twice."""
    line = Line.objects.select_for_update().get(pk=line.pk)
    run = run_in_question(line)
    if found is None:
        found = readiness_of(run, at) if run else None
    wanted: dict[tuple[int | None, str], Finding] = {}
    for row in (*found.positions, *found.others) if found else ():
        for block in row.blocks:
            wanted[(row.position.pk, block.code)] = block
    for block in found.line_blocks if found else ():
        wanted[(None, block.code)] = block
    standing = {(row.position_id, row.code): row for row in Block.objects.filter(line=line, cleared_at=None)}
    gone = [row for key, row in standing.items() if key not in wanted]
    Block.objects.filter(pk__in=[row.pk for row in gone]).update(cleared_at=at, cleared_by=by)
    fresh = [
        Block.objects.create(
            line=line,
            position_id=position,
            code=code,
            sentence=block.sentence,
            who=block.who[:200],
            run=run,
            opened_at=at,
        )
        for (position, code), block in wanted.items()
        if (position, code) not in standing
    ]
    if gone or fresh:
        record(
            stream=stream_of(line),
            action="blocks",
            subject=line,
            sentence=f"line {line}: {len(fresh)} blocks came, {len(gone)} are gone",
            by=by,
            at=at,
            facts={"came": [row.sentence for row in fresh], "gone": [row.sentence for row in gone]},
        )
    return open_blocks(line)


def open_blocks(line: Line) -> list[Block]:
    """The blocks of a line, the oldest first."""
    rows = Block.objects.filter(line=line, cleared_at=None).select_related("position", "run__product_version__product")
    return list(rows.order_by("opened_at", "pk"))


def alert_old_blocks(at: datetime) -> int:
    """Raise an alert for each block that is older than the plant lets it be. Returns how many are that old."""
    before = at - timedelta(minutes=control("block_alert_minutes"))
    old = Block.objects.filter(cleared_at=None, opened_at__lte=before).select_related("line")
    for block in old:
        raise_alert(
            f"block:{block.pk}",
            Alert.Level.MAJOR,
            f"Line {block.line} is blocked since {block.opened_at:%H:%M} UTC: {block.sentence}",
            next_action=f"To be cleared by {block.who}"[:200],
            for_role=Role.SUPERVISOR,
            at=at,
            due_at=block.opened_at + timedelta(minutes=control("block_alert_minutes")),
            address=f"/board/{block.line.code}/",
            line=block.line,
        )
    return len(old)
