"""Rooms and their class in time."""

from collections.abc import Sequence
from datetime import datetime

from django.db import transaction

from plant.audit.services import Confirmation, record, sign
from plant.errors import Refused
from plant.floor import rules
from plant.floor.models import Room, RoomClass, RoomKind
from plant.floor.services.coded import create_coded
from plant.people.access import require_role
from plant.people.models import Person, Role

STREAM = "floor"
STRICTNESS = {RoomKind.GENERAL: 0, RoomKind.FOOD: 1, RoomKind.MEDICAL: 2}


def _kind(text: str) -> RoomKind:
    if text not in RoomKind.values:
        raise Refused("no-class", f"{text!r} is no room class; write general, food or medical.", field="kind")
    return RoomKind(text)


@transaction.atomic
def add_room(
    *,
    code: str,
    name: str,
    kind: str,
    valid_from: datetime,
    by: Person,
    at: datetime,
    cleanliness: str = "",
    earlier: Sequence[tuple[str, datetime]] = (),
) -> Room:
    """Enter a room with its class now; `earlier` are classes it had before, oldest first, with their starts."""
    require_role(by, Role.KEEPER, Role.ENGINEER, Role.QA, at=at, act="Entering a room")
    if (earlier[0][1] if earlier else valid_from) > at:
        raise Refused("future", "The class of a new room starts now or earlier. Check the date.", field="valid_from")
    history = [(_kind(word), start) for word, start in (*earlier, (kind, valid_from))]
    starts = [start for _, start in history]
    if sorted(set(starts)) != starts:
        sentence = "The classes of a room follow one another: each starts later than the one before it."
        raise Refused("out-of-order", sentence, field="valid_from")
    room = create_coded(
        Room,
        what="room",
        code=rules.checked_code(code, what="room", most=12),
        name=rules.checked_name(name, what="room"),
        cleanliness=cleanliness.strip()[:120],
    )
    RoomClass.objects.bulk_create(
        RoomClass(room=room, kind=word, valid_from=start, valid_to=end)
        for (word, start), end in zip(history, [*starts[1:], None], strict=True)
    )
    record(
        stream=STREAM,
        action="add-room",
        subject=room,
        sentence=f"room {room.code} entered, class {history[-1][0]}",
        by=by,
        at=at,
        facts={"classes": [[word.value, start] for word, start in history], "cleanliness": room.cleanliness},
    )
    return room


@transaction.atomic
def reclassify_room(
    room: Room,
    *,
    kind: str,
    valid_from: datetime,
    reason: str,
    by: Person,
    at: datetime,
    confirmation: Confirmation | None = None,
) -> RoomClass:
    """Give a room another class from a moment on. A looser class takes a QA signature."""
    require_role(by, Role.QA, Role.KEEPER, at=at, act="Reclassifying a room")
    word = _kind(kind)
    if not reason.strip():
        raise Refused("no-reason", "Say why the class changes; the reason stands in the record.", field="reason")
    room = Room.objects.select_for_update().get(pk=room.pk)
    now = RoomClass.objects.filter(room=room, valid_to=None).first()
    if now is None:
        raise Refused("no-room-class", f"Room {room.code} has no class to change. Ask the system keeper.")
    if word == now.kind:
        raise Refused("same-class", f"Room {room.code} is {now.kind} already.", field="kind")
    if valid_from <= now.valid_from:
        sentence = f"The present class began {now.valid_from:%Y-%m-%d %H:%M} UTC; the new one starts later."
        raise Refused("out-of-order", sentence, field="valid_from")
    if valid_from < at.replace(hour=0, minute=0, second=0, microsecond=0):
        sentence = "A class does not change in the past: what was recorded then was judged by the class of then."
        raise Refused("past", sentence + " Choose today or later.", field="valid_from")
    facts: dict[str, object] = {"before": now.kind, "after": word.value, "from": valid_from}
    if STRICTNESS[word] < STRICTNESS[RoomKind(now.kind)]:
        facts["signature"] = _signed_loosening(room, now, word, valid_from, reason, confirmation, at)
    now.valid_to = valid_from
    now.save(update_fields=["valid_to"])
    made = RoomClass.objects.create(room=room, kind=word, valid_from=valid_from)
    sentence = f"room {room.code} becomes {word} from {valid_from:%Y-%m-%d %H:%M} UTC, before {now.kind}"
    record(
        stream=STREAM,
        action="reclassify-room",
        subject=room,
        sentence=sentence,
        by=by,
        at=at,
        facts=facts,
        reason=reason,
    )
    return made


def _signed_loosening(
    room: Room,
    now: RoomClass,
    word: RoomKind,
    valid_from: datetime,
    reason: str,
    confirmation: Confirmation | None,
    at: datetime,
) -> str:
    if confirmation is None:
        sentence = f"From {now.kind} to {word} loosens the rules of room {room.code}: QA signs with the own password."
        raise Refused("needs-signature", sentence, field="secret")
    require_role(confirmation.person, Role.QA, at=at, act="Signing a looser room class")
    content = {"room": room.code, "before": now.kind, "after": word.value, "from": valid_from, "reason": reason}
    return sign(confirmation, meaning="room class loosened", subject=room, content=content).digest
