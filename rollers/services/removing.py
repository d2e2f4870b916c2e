"""Taking tape off: removed and counted, cleaned, or found without a record."""

from collections.abc import Collection
from datetime import datetime

from django.db import transaction

from plant.errors import Refused
from plant.floor.models import Position
from plant.people.models import Person
from plant.people.queries import active_people
from rollers.models import Survey, TapeFact
from rollers.models.tape import TapeState
from rollers.services.spot import confirm_lockout, done_time, lock_spot, write_fact
from training.access import require_skill


@transaction.atomic
def remove_tape(
    position: Position,
    *,
    pieces: int,
    residue: bool,
    lockout: Collection[str],
    lock_number: str,
    by: Person,
    at: datetime,
    done_at: datetime | None = None,
    seen: int | None = None,
    reason: str = "",
) -> TapeFact:
    """Record pieces taken off and counted into the bag. Fewer than are on leave the roller partial; no guess."""
    spot = lock_spot(position, seen, at)
    require_skill(by, "apply", spot.kind, at, f"Taking tape off {position}")
    done_at = done_time(done_at, at, spot)
    if spot.fact is None or spot.state not in (TapeState.TAPED, TapeState.PARTIAL, TapeState.UNKNOWN):
        raise Refused("nothing-on", f"{position} is {spot.state}: there is no tape on record to remove.")
    details = confirm_lockout(lockout, lock_number) | {"pieces_removed": pieces}
    if pieces < 1:
        raise Refused("pieces", "Count the pieces in the bag: at least one.", field="pieces")
    left = spot.fact.pieces - pieces
    if left < 0 and spot.state != TapeState.UNKNOWN:
        sentence = f"{spot.fact.pieces} pieces were on, you count {pieces}. Count again; a piece too many is wrong too."
        raise Refused("pieces", sentence, field="pieces")
    state = TapeState.PARTIAL if left > 0 else TapeState.RESIDUE if residue else TapeState.BARE
    partial = state == TapeState.PARTIAL
    return write_fact(
        spot,
        TapeFact.Kind.REMOVED,
        state,
        by=by,
        at=at,
        done_at=done_at,
        sentence=f"{by.name} took {pieces} pieces off {position}; it is {state} now",
        recipe_version=spot.fact.recipe_version if partial else None,
        orientation=spot.fact.orientation if partial else "",
        rotation=spot.fact.rotation if partial else "",
        applier=spot.fact.applier if partial else None,
        pieces=max(left, 0) if partial else 0,
        details=details,
        reason=reason,
    )


@transaction.atomic
def clean_roller(
    position: Position,
    *,
    agent: str,
    by: Person,
    at: datetime,
    done_at: datetime | None = None,
    seen: int | None = None,
) -> TapeFact:
    """Residue is off, the face is dry and was looked at: the roller is bare."""
    spot = lock_spot(position, seen, at)
    require_skill(by, "apply", spot.kind, at, f"Cleaning {position}")
    if spot.state != TapeState.RESIDUE:
        raise Refused("no-residue", f"{position} is {spot.state}: no residue is on record.")
    if not agent.strip():
        raise Refused("no-agent", "Name the approved cleaning agent, or “dry wipe”.", field="agent")
    return write_fact(
        spot,
        TapeFact.Kind.CLEANED,
        TapeState.BARE,
        by=by,
        at=at,
        done_at=done_time(done_at, at, spot),
        sentence=f"{by.name} cleaned {position} and looked at it; it is bare",
        details={"agent": agent.strip()},
    )


@transaction.atomic
def report_found_tape(
    position: Position,
    *,
    what: str,
    by: Person,
    at: datetime,
    done_at: datetime | None = None,
    seen: int | None = None,
) -> TapeFact:
    """Tape that no record shows never becomes valid: the roller is unknown until the tape is off and counted."""
    spot = lock_spot(position, seen, at)
    if not active_people(at).filter(pk=by.pk).exists():
        raise Refused("not-active", f"{by.name} has no access now. Ask the system keeper.")
    if not what.strip():
        raise Refused("no-text", "Say what you found and where on the roller.", field="what")
    if not Survey.objects.filter(room=position.room, closed_at__isnull=False).exists():
        sentence = f"The go-live survey of room {position.room} is not closed yet: record the tape in the survey."
        raise Refused("survey-open", sentence)
    return write_fact(
        spot,
        TapeFact.Kind.FOUND,
        TapeState.UNKNOWN,
        by=by,
        at=at,
        done_at=done_time(done_at, at, spot),
        sentence=f"{by.name} found tape without a record on {position}",
        pieces=spot.fact.pieces if spot.fact else 0,
        details={"what": what.strip()},
    )
