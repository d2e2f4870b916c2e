"""What the store does with reels: issued to a room, taken back, scrapped, counted."""

from dataclasses import dataclass
from datetime import datetime

from django.db import transaction

from plant.errors import Refused
from plant.floor.models import Room
from plant.people.access import require_role
from plant.people.models import Person, Role
from plant.people.queries import active_people
from rollers.models import Application, Reel, ReelMove
from rollers.queries_store import troubles_by_reel
from rollers.rooms import room_kinds
from rollers.rules_store import NEARLY_NOTHING_M, wanted_from_reel
from rollers.services.reels import correct, locked_reel, refuse, write_move

KEEPERS = (Role.STOREKEEPER, Role.QA)


@dataclass(frozen=True)
class Issued:
    """What came of an issue, and what to say about it."""

    move: ReelMove
    hint: str = ""


@transaction.atomic
def issue(
    reel: Reel,
    room: Room,
    *,
    to: Person,
    by: Person,
    at: datetime,
    application: Application | None = None,
    wanted_m: float = 0.0,
    reason: str = "",
) -> Issued:
    """Give a reel out of the store to a person for a room, or for one taping there.

    `wanted_m` is what the lanes need; the reel is looked at for that and five in a hundred.
    """
    require_role(by, *KEEPERS, at=at, act="Issuing a reel")
    now = locked_reel(reel)
    if now.room is not None:
        where = "there already" if now.room.pk == room.pk else f"in room {now.room}"
        sentence = (
            f"Reel {reel.label} is {where}. A reel goes from room to room only through the store: take it back "
            "first, then issue it."
        )
        raise Refused("not-in-store", sentence, field="reel")
    if not active_people(at).filter(pk=to.pk).exists():
        raise Refused("not-active", f"{to.name} has no access now. Issue it to somebody of the shift.", field="to")
    if application is not None and application.position.room_id != room.pk:
        sentence = f"{application.position} stands in room {application.position.room}, not in {room}."
        raise Refused("other-room", sentence, field="room")
    kind = room_kinds({room.pk}, at)[room.pk]
    position = application.position if application else None
    refuse(reel, troubles_by_reel([now], room_kind=kind, at=at, position=position)[reel.pk], at)
    move = write_move(
        now,
        ReelMove.Kind.ISSUED,
        now.left_m,
        by=by,
        at=at,
        sentence=f"{by.name} issued reel {reel.label} ({now.left_m:.2f} m) to {to.name} for room {room}",
        room=room,
        to=to,
        application=application,
        reason=reason,
    )
    needed = wanted_from_reel(wanted_m)
    short = f"{needed:.2f} m are wanted (with 5 %), {now.left_m:.2f} m are on it: issue a second reel."
    return Issued(move, short if needed > now.left_m + NEARLY_NOTHING_M else "")


@transaction.atomic
def take_back(reel: Reel, *, by: Person, at: datetime, reason: str = "") -> ReelMove:
    """Take a reel back into the store. A locked lot comes back too: it must."""
    require_role(by, *KEEPERS, at=at, act="Taking a reel back")
    now = locked_reel(reel)
    if now.room is None:
        sentence = f"Reel {reel.label} is in the store by the ledger. Nothing was changed; check the label."
        raise Refused("in-store", sentence, field="reel")
    return write_move(
        now,
        ReelMove.Kind.RETURNED,
        now.left_m,
        by=by,
        at=at,
        sentence=f"{by.name} took reel {reel.label} ({now.left_m:.2f} m) back from room {now.room}",
        room=None,
        reason=reason,
    )


@transaction.atomic
def scrap(reel: Reel, length_m: float | None, *, reason: str, by: Person, at: datetime) -> ReelMove:
    """Scrap tape: a length, or all that is left. The reason stands in the ledger."""
    require_role(by, *KEEPERS, Role.SUPERVISOR, at=at, act="Scrapping tape")
    now = locked_reel(reel)
    length = now.left_m if length_m is None else length_m
    if len(reason.strip()) < 5:
        raise Refused("no-reason", "Say why it is scrapped and where it went, in a few words.", field="reason")
    if length <= 0:
        raise Refused("length", f"Nothing is left on reel {reel.label} by the ledger.", field="length_m")
    if length > now.left_m + NEARLY_NOTHING_M:
        sentence = f"Reel {reel.label} has {now.left_m:.2f} m by the ledger; {length:.2f} m cannot be scrapped from it."
        raise Refused("too-long", f"{sentence} Count the reel first.", field="length_m")
    return write_move(
        now,
        ReelMove.Kind.SCRAPPED,
        length,
        by=by,
        at=at,
        sentence=f"{by.name} scrapped {length:.2f} m of reel {reel.label}",
        room=now.room,
        reason=reason,
    )


@transaction.atomic
def count_length(reel: Reel, length_m: float, *, reason: str, by: Person, at: datetime) -> ReelMove:
    """Correct what is left on a reel to what was measured on it. The difference is the record."""
    require_role(by, *KEEPERS, Role.SUPERVISOR, at=at, act="Counting a reel")
    now = locked_reel(reel)
    if length_m < 0:
        raise Refused("length", "Type the length that is on the reel; 0 for an empty one.", field="length_m")
    if len(reason.strip()) < 5:
        raise Refused("no-reason", "Say how it was counted: by weight, by diameter, unwound.", field="reason")
    return correct(now, length_m - now.left_m, by=by, at=at, reason=reason)
