"""One mounted roller, locked for one act, and how a fact about it is written."""

from collections.abc import Collection
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from plant.audit.services import record
from plant.errors import Conflict, Refused
from plant.floor.models import Position
from plant.people.models import Person
from rollers.access import mounting_at
from rollers.models import Body, Mounting, TapeFact
from rollers.models.tape import TapeState
from rollers.queries import newest_facts
from rollers.readiness import room_kinds

LOCKOUT = (
    ("prepare", "I know which energies this roller has and how each is locked out"),
    ("shut-down", "The line is stopped in the orderly way"),
    ("isolate", "Every energy-isolating device is off"),
    ("lock", "My own lock and tag are on"),
    ("stored", "Stored energy is released or blocked: tension, dancers, air, raised rolls"),
    ("verify", "I tried to start it and nothing moved"),
)
"""The order of 29 CFR 1910.147(d)(1)-(6). The plant's own procedure comes first; the program knows nothing of the
machine's real state."""
SOON = 120  # seconds a device's clock may be ahead


@dataclass(frozen=True)
class Spot:
    """A mounted roller with its newest fact, locked for one act."""

    position: Position
    mounting: Mounting
    fact: TapeFact | None
    kind: str

    @property
    def body(self) -> Body:
        return self.mounting.body

    @property
    def state(self) -> str:
        return self.fact.state if self.fact else TapeState.UNKNOWN


def lock_spot(position: Position, seen: int | None, at: datetime) -> Spot:
    """Take the body; refuse if somebody recorded something since the person looked."""
    mounting = mounting_at(position)
    Body.objects.select_for_update().get(pk=mounting.body_id)
    if mounting_at(position).pk != mounting.pk:
        raise Conflict("changed", f"The roller at {position} was changed since you looked. Look again.")
    fact = newest_facts([mounting.body]).get(mounting.body_id)
    if seen is not None and (fact.pk if fact else 0) != seen:
        who = f"{fact.by.name} recorded “{fact.get_kind_display()}” at {position}" if fact else "the roller changed"
        raise Conflict("changed", f"Changed since you looked: {who}. Look again; nothing was overwritten.")
    return Spot(position, mounting, fact, room_kinds({position.room_id}, at)[position.room_id])


def done_time(done_at: datetime | None, at: datetime, spot: Spot) -> datetime:
    """When it was done: not in the future, not before what is on record already."""
    done_at = done_at or at
    if (done_at - at).total_seconds() > SOON:
        raise Refused("in-the-future", "The time lies in the future. Check the clock and the date.", field="done_at")
    if spot.fact and done_at < spot.fact.at:
        sentence = (
            f"{spot.position}: something was recorded at {spot.fact.at:%Y-%m-%d %H:%M} UTC already, later than this."
        )
        raise Refused("before-last", sentence, field="done_at")
    return done_at


def write_fact(
    spot: Spot, kind: str, state: str, *, by: Person, at: datetime, done_at: datetime, sentence: str, **fields: Any
) -> TapeFact:
    """Add one fact and its audit event."""
    fact = TapeFact.objects.create(
        body=spot.body,
        position=spot.position,
        kind=kind,
        state=state,
        by=by,
        at=done_at,
        recorded_at=at,
        **fields,
    )
    record(
        stream=f"roller:{spot.body.serial}",
        action=f"tape-{kind}",
        subject=fact,
        sentence=sentence,
        by=by,
        at=at,
        facts={"position": spot.position.code, "state": state, "pieces": fact.pieces, "details": fact.details},
        reason=fact.reason,
    )
    return fact


def confirm_lockout(confirmed: Collection[str], lock_number: str) -> dict[str, Any]:
    """The six steps, each confirmed, and the number of the own lock; comes before anything that is measured."""
    missing = [sentence for key, sentence in LOCKOUT if key not in confirmed]
    if missing:
        sentence = f"Lock out first, step by step. Not confirmed yet: {missing[0]}. Your plant's procedure comes first."
        raise Refused("lockout", sentence, field="lockout", details=missing)
    if not lock_number.strip():
        raise Refused("no-lock-number", "Type the number of your own lock.", field="lock_number")
    return {"lockout": [key for key, _ in LOCKOUT], "lock_number": lock_number.strip()}


def carry_on(spot: Spot, fact: TapeFact, kind: str, *, details: dict[str, Any], **changes: Any) -> TapeFact:
    """A further fact about the same tape: what is not said stays."""
    kept = {
        name: getattr(fact, name)
        for name in ("recipe_version", "orientation", "rotation", "applier", "measured", "checked", "pieces")
    }
    said = {key: changes.pop(key) for key in ("by", "at", "done_at", "sentence")}
    return write_fact(spot, kind, fact.state, **said, **(kept | changes), details=details)
