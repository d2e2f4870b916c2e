"""Tape of a room: what is on every roller now, and how many rollers carried tape over time. Reads only."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime, timedelta

from plant.floor.models import Position, Room
from rollers.models import Application, TapeFact
from rollers.queries import mounted, newest_facts, on_roller
from rollers.rules import OnRoller


@dataclass(frozen=True)
class RollerTape:
    """One roller of a room."""

    position: Position
    serial: str
    on: OnRoller
    fact: TapeFact | None
    application: Application | None


def tape_now(room: Room) -> list[RollerTape]:
    """Every roller of a room in path order, with what is on it. A fixed number of queries."""
    positions = list(room.positions.select_related("line").order_by("line__code", "order"))
    mountings = mounted(positions)
    facts = newest_facts(row.body for row in mountings.values())
    rows = Application.objects.filter(position__in=positions).exclude(state__in=Application.ENDED)
    applications = {row.body_id: row for row in rows.select_related("applier", "checker")}
    found = []
    for position in positions:
        mounting = mountings.get(position.pk)
        fact = facts.get(mounting.body_id) if mounting else None
        application = applications.get(mounting.body_id) if mounting else None
        serial = mounting.body.serial if mounting else ""
        found.append(RollerTape(position, serial, on_roller(fact), fact, application))
    return found


def counts_over_time(
    spans: Iterable[tuple[datetime, datetime | None]], since: datetime, until: datetime
) -> list[tuple[datetime, int]]:
    """How many spans hold at each moment at which that changes, from `since` to `until`. Pure."""
    changes: dict[datetime, int] = {since: 0}
    for begins, ends in spans:
        if begins > until or (ends is not None and ends <= since):
            continue
        changes[max(begins, since)] = changes.get(max(begins, since), 0) + 1
        if ends is not None and ends <= until:
            changes[ends] = changes.get(ends, 0) - 1
    count, found = 0, []
    for moment in sorted(changes):
        count += changes[moment]
        found.append((moment, count))
    return [*found, (until, count)]


def taped_over_time(room: Room, at: datetime, days: int = 90) -> list[tuple[datetime, int]]:
    """Taped rollers of a room over the last days."""
    rows = Application.objects.filter(position__room=room, applied_at__isnull=False)
    spans = [(begins, ends) for begins, ends in rows.values_list("applied_at", "ended_at") if begins is not None]
    return counts_over_time(spans, at - timedelta(days=days), at)
