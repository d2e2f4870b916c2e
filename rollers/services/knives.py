"""Numbered knives: counted out and in. In food and medical rooms none with a snap-off blade."""

from datetime import datetime
from typing import Any

from django.db import transaction

from plant.audit.services import record
from plant.errors import Refused
from plant.floor.models import Room
from plant.people.access import require_role
from plant.people.models import Person, Role
from rollers.access_store import require_hands
from rollers.models import Alert, Application, Deviation, Knife, KnifeMove
from rollers.queries_knives import KnifeNow, knives_now
from rollers.rooms import room_kinds
from rollers.rules import STRICT
from rollers.services.tasks import open_deviation, raise_alert

STREAM = "knives"
KEEPERS = (Role.STOREKEEPER, Role.SUPERVISOR, Role.QA)


@transaction.atomic
def enter_knife(number: str, *, snap_off: bool, by: Person, at: datetime) -> Knife:
    """Give a knife its number."""
    require_role(by, *KEEPERS, at=at, act="Entering a knife")
    number = number.strip().upper()
    if not number or len(number) > 20:
        raise Refused("no-number", "Type the number on the knife, at most 20 characters.", field="number")
    if Knife.objects.filter(number__iexact=number).exists():
        sentence = f"Knife {number} is entered already. Each number stands once; a retired one is not used again."
        raise Refused("twice", sentence, field="number")
    knife = Knife.objects.create(number=number, snap_off=snap_off)
    kind = "with a snap-off blade" if snap_off else "with a fixed blade"
    sentence = f"knife {number} {kind} entered"
    record(stream=STREAM, action="enter-knife", subject=knife, sentence=sentence, by=by, at=at)
    return knife


def _locked(knife: Knife) -> KnifeNow:
    Knife.objects.select_for_update().get(pk=knife.pk)
    return knives_now(Knife.objects.filter(pk=knife.pk))[0]


@transaction.atomic
def take_out(
    knife: Knife, *, room: Room, by: Person, at: datetime, application: Application | None = None
) -> KnifeMove:
    """A knife goes out into a room, for a taping there."""
    require_hands(by, at=at, act="Taking a knife")
    now = _locked(knife)
    if now.knife.retired_at is not None:
        raise Refused("retired", f"Knife {knife} is retired. Take another from the store.", field="knife")
    if now.is_out and now.last is not None:
        sentence = (
            f"Knife {knife} is out already: {now.last.by.name} took it to room {now.last.room} at "
            f"{now.last.at:%H:%M} UTC. Take another, or have that person bring it back first."
        )
        raise Refused("knife-out", sentence, field="knife")
    kind = room_kinds({room.pk}, at)[room.pk]
    if now.knife.snap_off and kind in STRICT:
        sentence = (
            f"Knife {knife} has a snap-off blade, which may not go into a {kind} room: a segment can break off. Ask "
            "the storekeeper for one with a fixed blade."
        )
        raise Refused("snap-off", sentence, field="knife")
    return _moved(knife, KnifeMove.Kind.OUT, room, application, f"{by.name} took knife {knife} to room {room}", by, at)


@transaction.atomic
def bring_back(
    knife: Knife,
    *,
    by: Person,
    at: datetime,
    whole: bool = True,
    application: Application | None = None,
    note: str = "",
) -> KnifeMove:
    """A knife comes back: whole, or with a part of its blade missing. Then the part is searched like a piece."""
    require_hands(by, at=at, act="Bringing a knife back")
    now = _locked(knife)
    if not now.is_out or now.last is None:
        raise Refused("knife-in", f"Knife {knife} is not out by the record. Check its number.", field="knife")
    room = now.last.room
    job = application or now.last.application
    if whole:
        return _moved(
            knife, KnifeMove.Kind.BACK, room, job, f"{by.name} brought knife {knife} back, whole", by, at, note
        )
    sentence = f"knife {knife} came back from room {room} with a part of its blade missing"
    move = _moved(knife, KnifeMove.Kind.BROKEN, room, job, f"{by.name}: {sentence}", by, at, note)
    Knife.objects.filter(pk=knife.pk).update(retired_at=at)
    strict = room_kinds({room.pk}, at)[room.pk] in STRICT
    level = Deviation.Severity.CRITICAL if strict else Deviation.Severity.MAJOR
    owner = Role.QA if strict else Role.SUPERVISOR
    position = job.position if job else None
    about: dict[str, Any] = {"line": position.line if position else None, "position": position, "application": job}
    found = open_deviation(
        "broken-blade",
        level,
        f"The {sentence}. {note}".strip(),
        at=at,
        owner_role=owner,
        by=by,
        **about,
    )
    raise_alert(
        f"deviation:{found.pk}",
        Alert.Level.CRITICAL if strict else Alert.Level.MAJOR,
        f"The {sentence}.",
        next_action="Stop, freeze access, search for the part; QA decides about the product" if strict else "Search",
        for_role=owner,
        at=at,
        line=about["line"],
    )
    return move


def _moved(
    knife: Knife,
    kind: str,
    room: Room,
    application: Application | None,
    sentence: str,
    by: Person,
    at: datetime,
    reason: str = "",
) -> KnifeMove:
    move = KnifeMove.objects.create(knife=knife, kind=kind, room=room, application=application, at=at, by=by)
    facts = {"kind": str(kind), "room": room.code, "application": application.pk if application else None}
    record(
        stream=STREAM,
        action=f"knife-{kind}",
        subject=knife,
        sentence=sentence,
        by=by,
        at=at,
        facts=facts,
        reason=reason.strip(),
    )
    return move


@transaction.atomic
def retire_knife(knife: Knife, *, reason: str, by: Person, at: datetime) -> Knife:
    """A worn knife goes out of use for good. One that is out comes back first."""
    require_role(by, *KEEPERS, at=at, act="Retiring a knife")
    now = _locked(knife)
    if now.is_out:
        raise Refused("knife-out", f"Knife {knife} is out. Take it back first; then it can be retired.")
    if now.knife.retired_at is not None:
        raise Refused("retired", f"Knife {knife} is retired already.")
    if len(reason.strip()) < 5:
        raise Refused("no-reason", "Say why it is retired, in a few words.", field="reason")
    knife = now.knife
    knife.retired_at = at
    knife.save(update_fields=["retired_at"])
    sentence = f"{by.name} retired knife {knife}"
    record(stream=STREAM, action="retire-knife", subject=knife, sentence=sentence, by=by, at=at, reason=reason.strip())
    return knife
