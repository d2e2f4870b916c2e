"""Proposals and comments about a roller."""

from datetime import datetime

from django.db import transaction

from plant.audit.services import record
from plant.errors import Refused
from plant.floor.models import Position
from plant.floor.rules import refuse_sides
from plant.people.models import Person
from rollers.causes.models import Remark
from rollers.causes.services.sightings import require_active, stream_of


@transaction.atomic
def remark(position: Position, *, kind: str, text: str, by: Person, at: datetime) -> Remark:
    """Keep a proposal or comment; guests may, and it decides nothing."""
    require_active(by, at, "Writing a remark")
    if kind not in Remark.Kind.values:
        raise Refused("kind", "Choose proposal or comment.", field="kind")
    if len(text.strip()) < 5:
        raise Refused("empty", "Write what you propose, in a sentence.", field="text")
    refuse_sides(text, field="text")
    made = Remark.objects.create(position=position, kind=kind, text=text.strip(), at=at, by=by)
    record(
        stream=stream_of(position.line),
        action="remark",
        subject=made,
        sentence=f"{by.name}, {kind} for {position.code}: {made.text[:200]}",
        by=by,
        at=at,
    )
    return made
