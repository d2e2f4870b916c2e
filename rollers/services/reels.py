"""Reels: may this one be used here, and tape cut from it. What is left on a reel follows from its moves."""

from datetime import datetime

from django.db import transaction

from plant.audit.services import record
from plant.errors import Refused
from plant.floor.models import Position, Room
from plant.people.access import names_of
from plant.people.models import Person, Role
from plant.people.queries import people_with_role
from rollers import rules_store
from rollers.control import control
from rollers.models import Application, Deviation, Reel, ReelMove
from rollers.queries_store import ReelNow, reel_now, troubles_by_reel, usable_reels
from rollers.rooms import room_kinds
from rollers.rules import STRICT
from rollers.rules_store import NEARLY_NOTHING_M, Trouble
from rollers.services.tasks import open_deviation

HELPS = {rules_store.STORE: Role.STOREKEEPER, rules_store.QA: Role.QA, rules_store.ENGINEER: Role.ENGINEER}


def _who(trouble: Trouble, at: datetime) -> str:
    """Who can help with it, by name where somebody holds the role."""
    people = list(people_with_role(HELPS[trouble.who], at=at))
    return f"{trouble.sentence} Who can help: {names_of(people)}." if people else trouble.sentence


def refuse(reel: Reel, troubles: tuple[Trouble, ...], at: datetime, others: list[ReelNow] | None = None) -> None:
    """Refuse with the first of some troubles, if there is one."""
    if not troubles:
        return
    sentence = _who(troubles[0], at)
    if others:
        sentence += " Usable here: " + ", ".join(now.reel.label for now in others[:3]) + "."
    raise Refused(
        troubles[0].code,
        f"Reel {reel.label} cannot be used. {sentence}",
        field="reel",
        details=[one.sentence for one in troubles[1:]],
    )


def reel_troubles(reel: Reel, *, position: Position, room_kind: str, at: datetime) -> tuple[Trouble, ...]:
    """Everything that speaks against cutting from a reel for a roller."""
    now = reel_now(reel)
    return troubles_by_reel([now], room_kind=room_kind, at=at, position=position)[reel.pk]


def require_usable(reel: Reel, *, position: Position, room_kind: str, at: datetime) -> None:
    """Let pass a reel that may be used on a roller now.

    Raises
    ------
    Refused
        With the first reason and who can help; further reasons stand in its details.
    """
    troubles = reel_troubles(reel, position=position, room_kind=room_kind, at=at)
    if troubles:
        others = [now for now in usable_reels(position, at) if now.reel.pk != reel.pk]
        refuse(reel, troubles, at, others)


def locked_reel(reel: Reel) -> ReelNow:
    """The reel, held until the act is over, so that two people do not cut the same tape."""
    held = Reel.objects.select_for_update(of=("self",)).select_related("lot__stock").get(pk=reel.pk)
    return reel_now(held)


def write_move(
    now: ReelNow,
    kind: str,
    length_m: float,
    *,
    by: Person,
    at: datetime,
    sentence: str,
    room: Room | None,
    done_at: datetime | None = None,
    to: Person | None = None,
    application: Application | None = None,
    reason: str = "",
) -> ReelMove:
    """Write one move of a locked reel, with its event in the trail of the lot."""
    move = ReelMove.objects.create(
        reel=now.reel,
        kind=kind,
        length_m=length_m,
        room=room,
        to=to,
        application=application,
        at=done_at or at,
        recorded_at=at,
        by=by,
        reason=reason.strip(),
    )
    facts = {"reel": now.reel.label, "kind": str(kind), "length_m": f"{length_m:.3f}", "done_at": done_at or at}
    record(
        stream=f"lot:{now.reel.lot_id}",
        action=f"reel-{kind}",
        subject=now.reel,
        sentence=sentence,
        by=by,
        at=at,
        facts=facts | {"room": room.code if room else "store", "application": application.pk if application else None},
        reason=reason.strip(),
    )
    return move


@transaction.atomic
def cut(
    reel: Reel,
    length_m: float,
    *,
    application: Application,
    room: Room,
    by: Person,
    at: datetime,
    done_at: datetime | None = None,
    reported: bool = False,
) -> ReelMove:
    """Tape cut from a reel for one taping. Runs inside the act that winds it.

    `reported`: it is done already, so nothing is refused that is only a broken rule; that becomes a deviation.
    """
    if length_m <= 0:
        raise Refused("length", "Type the length that was cut, above nothing.", field="length")
    now = locked_reel(reel)
    kind = room_kinds({room.pk}, done_at or at)[room.pk]
    if not reported:
        _refuse_elsewhere(now, room)
        _refuse_other_tape(now, application)
        require_usable(now.reel, position=application.position, room_kind=kind, at=done_at or at)
    broken = _broken(now, application, kind, room, done_at or at) if reported else []
    over = length_m - now.left_m
    if over > NEARLY_NOTHING_M:
        _refuse_too_long(now, length_m, over, reported)
        correct(now, over, by=by, at=at, reason="More was cut than the ledger had on the reel")
    move = write_move(
        now,
        ReelMove.Kind.CUT,
        length_m,
        by=by,
        at=at,
        done_at=done_at,
        sentence=f"{by.name} cut {length_m:.3f} m from reel {reel.label} for {application.position}",
        room=now.room,
        application=application,
    )
    if broken:
        open_deviation(
            "unusable-reel",
            Deviation.Severity.CRITICAL if kind in STRICT else Deviation.Severity.MAJOR,
            f"{application.position}: tape of reel {reel.label} is on, against the rules. {' '.join(broken)}",
            at=at,
            owner_role=Role.QA,
            by=by,
            line=application.position.line,
            position=application.position,
            application=application,
            person=by,
        )
    return move


def _broken(now: ReelNow, application: Application, kind: str, room: Room, at: datetime) -> list[str]:
    troubles = troubles_by_reel([now], room_kind=kind, at=at, position=application.position)[now.reel.pk]
    said = [one.sentence for one in troubles]
    if now.room is None or now.room.pk != room.pk:
        said.append(f"By the ledger the reel was in {now.place}, not in room {room}.")
    said += [other] if (other := _other_tape(now, application)) else []
    return said


def _refuse_elsewhere(now: ReelNow, room: Room) -> None:
    if now.room is not None and now.room.pk == room.pk:
        return
    if now.room is None:
        sentence = f"Reel {now.reel.label} is in the store by the ledger. Have the storekeeper issue it to room {room}."
    else:
        sentence = (
            f"Reel {now.reel.label} belongs in room {now.room}; this is room {room}. Reels go from room to room only "
            "through the store: bring it back there and take one that was issued here."
        )
    raise Refused("reel-elsewhere", sentence, field="reel")


def _other_tape(now: ReelNow, application: Application) -> str:
    wanted = application.recipe_version.stock if application.recipe_version else None
    if wanted is None or wanted.pk == now.reel.lot.stock_id:
        return ""
    return (
        f"The recipe of {application.position} asks for tape {wanted}; reel {now.reel.label} is {now.reel.lot.stock}."
    )


def _refuse_other_tape(now: ReelNow, application: Application) -> None:
    if said := _other_tape(now, application):
        raise Refused("other-tape", f"{said} Take one of the right tape from the storekeeper.", field="reel")


def _refuse_too_long(now: ReelNow, length_m: float, over: float, reported: bool) -> None:
    """A ledger of lengths is a little off; more than its tolerance is another reel, or a typing error."""
    tolerance = now.reel.length_m * control("length_tolerance_pct") / 100
    if reported or over <= tolerance:
        return
    sentence = (
        f"Reel {now.reel.label} has {now.left_m:.2f} m by the ledger; {length_m:.2f} m cannot come from it. Check the "
        "label and the length, or have the storekeeper count the reel."
    )
    raise Refused("too-long", sentence, field="length")


def correct(now: ReelNow, difference: float, *, by: Person, at: datetime, reason: str) -> ReelMove:
    return write_move(
        now,
        ReelMove.Kind.COUNTED,
        difference,
        by=by,
        at=at,
        sentence=f"length of reel {now.reel.label} corrected by {difference:+.3f} m",
        room=now.room,
        reason=reason,
    )
