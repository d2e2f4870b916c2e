"""Rolls of product as they come off the winder: what a hold and a recall are about."""

from datetime import datetime, timedelta

from django.db import transaction
from django.db.models import Q

from plant.audit.services import record
from plant.errors import Refused
from plant.floor.models import Line, Run
from plant.people.access import require_role
from plant.people.models import Person, Role
from rollers.control import control
from rollers.models import Roll
from rollers.services.runs import stream_of

WINDERS = (Role.OPERATOR, Role.SUPERVISOR, Role.ENGINEER, Role.QA)
LONGEST_M = 200_000.0


def run_of(line: Line, began_at: datetime, ended_at: datetime) -> Run:
    """The run of a line in which a roll was wound, from its first to its last moment.

    Raises
    ------
    Refused
        When no run was released all that time: a roll belongs to one run.
    """
    runs = Run.objects.filter(Q(ended_at=None) | Q(ended_at__gte=ended_at), line=line, released_at__lte=began_at)
    found = runs.order_by("-released_at").first()
    if found is None:
        sentence = (
            f"No run of line {line} was released from {began_at:%d %b %H:%M} to {ended_at:%d %b %H:%M} UTC. A roll "
            "belongs to one run: check both times, or ask the shift supervisor."
        )
        raise Refused("no-run", sentence, field="began_at")
    return found


@transaction.atomic
def record_roll(
    line: Line, *, number: str, began_at: datetime, ended_at: datetime, length_m: float, by: Person, at: datetime
) -> Roll:
    """Record a finished roll: its number, when it was wound, and its length."""
    require_role(by, *WINDERS, at=at, act="Recording a roll")
    number = number.strip()
    if not number or len(number) > 40:
        raise Refused("no-number", "Type the number on the roll, at most 40 characters.", field="number")
    if Roll.objects.filter(number__iexact=number).exists():
        raise Refused("twice", f"Roll {number} is recorded already. Check the number on the roll.", field="number")
    if ended_at <= began_at:
        raise Refused("out-of-order", "The roll must end after it began. Check both times.", field="ended_at")
    if ended_at > at + timedelta(minutes=control("clock_ahead_minutes")):
        raise Refused("future", "The roll would end in the future; record it when it is off.", field="ended_at")
    if not 0 < length_m <= LONGEST_M:
        sentence = f"A roll of {length_m:g} m is not meant: type more than 0 and at most {LONGEST_M:g} m."
        raise Refused("length", sentence, field="length_m")
    Line.objects.select_for_update().get(pk=line.pk)
    run = run_of(line, began_at, ended_at)
    other = Roll.objects.filter(run=run, began_at__lt=ended_at, ended_at__gt=began_at).first()
    if other is not None:
        sentence = (
            f"Roll {other.number} was on the winder from {other.began_at:%d %b %H:%M} to {other.ended_at:%H:%M} UTC. "
            "Two rolls do not overlap: check both times."
        )
        raise Refused("overlap", sentence, field="began_at")
    roll = Roll.objects.create(run=run, number=number, began_at=began_at, ended_at=ended_at, length_m=length_m)
    sentence = f"{by.name} recorded roll {number}: {length_m:g} m, {began_at:%d %b %H:%M} to {ended_at:%H:%M} UTC"
    facts = {"run": run.pk, "began": began_at, "ended": ended_at, "length_m": f"{length_m:g}"}
    record(stream=stream_of(line), action="record-roll", subject=roll, sentence=sentence, by=by, at=at, facts=facts)
    return roll
