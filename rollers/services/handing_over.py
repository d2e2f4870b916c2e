"""An unfinished job goes from one person to the next: pieces counted, the lock passed on."""

from datetime import datetime

from django.db import transaction

from plant.audit.services import Confirmation, record, sign
from plant.errors import Refused
from plant.floor.models import Position
from plant.floor.queries import shift_at
from rollers.models import Application, Handover, Lockout, TapeFact
from rollers.queries_application import IN_WORK, is_counted, knives_out, lock_of
from rollers.rules_application import LOCKOUT
from rollers.services.applications import is_hot
from rollers.services.lockouts import stream_of
from rollers.services.spot import NOW, Sent, Spot, carry_on, lock_spot
from training.access import require_skill


@transaction.atomic
def hand_over_job(
    position: Position,
    *,
    giver: Confirmation,
    taker: Confirmation,
    pieces: int,
    lock_number: str,
    lock_on: bool,
    tried: bool,
    at: datetime,
    note: str = "",
    sent: Sent = NOW,
) -> TapeFact:
    """Giver and taker stand at the roller, each signs with the own secret; the taker is asked for the certificate.

    29 CFR 1910.147(f)(4): the taker's lock is on before the giver's comes off. Both names stay.
    """
    by, person = giver.person, taker.person
    spot = lock_spot(position, by, at, sent)
    if spot.known:
        return spot.known
    application, lock = _job(spot, by.pk)
    if person.pk == by.pk:
        raise Refused("same-person", "A job is handed over to somebody else.", field="taker_no")
    act = f"Taking over the job at {position}"
    require_skill(person, "apply", spot.kind, spot.done_at, act, hot=is_hot(position))
    _refuse_count(spot, application, pieces)
    if not lock_number.strip():
        raise Refused("no-lock-number", "Type the number of the taker's own lock.", field="lock_number")
    if not (lock_on and tried):
        sentence = "The taker's own lock is on before the giver's comes off, and the taker tries to start the machine."
        raise Refused("lock-not-on", sentence, field="lock_on" if not lock_on else "tried")
    following = _pass_on(lock, taker, lock_number.strip(), at)
    fact = carry_on(
        spot,
        TapeFact.Kind.HANDED_OVER,
        by=by,
        sentence=f"{by.name} handed the job at {position} over to {person.name}: {pieces} pieces on the roller",
        details={
            "taker": person.staff_no,
            "pieces_seen": pieces,
            "lock_given": lock.lock_number,
            "lock_taken": following.lock_number,
            "knives": knives_out(application),
            "note": note.strip(),
        },
    )
    _sign_both(spot, application, fact, giver, taker, note)
    return fact


def _job(spot: Spot, giver: int) -> tuple[Application, Lockout]:
    application = spot.application
    counting = application is not None and application.state == Application.State.MEASURED
    in_work = application is not None and (application.state in IN_WORK or (counting and not is_counted(application)))
    if application is None or not in_work:
        raise Refused("no-job", f"{spot.position}: no unfinished job is open here.")
    lock = lock_of(spot.position, giver)
    if lock is None or not lock.holds:
        sentence = f"{spot.position}: the giver has no complete lockout here. Only who works there hands over."
        raise Refused("no-lockout", sentence)
    return application, lock


def _refuse_count(spot: Spot, application: Application, pieces: int) -> None:
    if application.state == Application.State.LOCKED_OUT:
        return  # lanes wound so far are not on record yet; the count is kept as it was seen
    if pieces != spot.pieces:
        sentence = (
            f"{spot.pieces} pieces are on record, you count {pieces}. Count again together; if one is missing, "
            "record it as missing before you hand over."
        )
        raise Refused("pieces", sentence, field="pieces")


def _pass_on(lock: Lockout, taker: Confirmation, number: str, at: datetime) -> Lockout:
    person, position = taker.person, lock.position
    standing = lock_of(position, person.pk)
    if standing is None:
        standing = Lockout(position=position, person=person, begun_at=at)
    standing.application, standing.purpose = lock.application, lock.purpose
    standing.lock_number = number[:20]
    standing.steps = [{"key": key, "at": at.isoformat(), "taken_over": True} for key, _ in LOCKOUT]
    standing.complete_at = at
    standing.save()
    Lockout.objects.filter(pk=lock.pk).update(removed_at=at, handed_to=standing)
    record(
        stream=stream_of(position),
        action="pass-lock-on",
        subject=standing,
        sentence=f"{position}: lock {number} of {person.name} is on, lock {lock.lock_number} of {lock.person.name} off",
        by=person,
        at=at,
        facts={"given": lock.lock_number, "taken": number},
    )
    return standing


def _sign_both(
    spot: Spot, application: Application, fact: TapeFact, giver: Confirmation, taker: Confirmation, note: str
) -> None:
    content = {
        "position": spot.position.code,
        "application": application.pk,
        "state": application.state,
        "pieces": fact.details["pieces_seen"],
        "locks": [fact.details["lock_given"], fact.details["lock_taken"]],
    }
    Handover.objects.create(
        line=spot.position.line,
        shift=shift_at(spot.at),
        open_items={"jobs": [content]},
        giver_signature=sign(giver, meaning="handed the job over", subject=fact, content=content),
        taker_signature=sign(taker, meaning="took the job over", subject=fact, content=content),
        at=spot.at,
        note=note.strip(),
    )
