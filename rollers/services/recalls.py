"""Recalls: a lot is locked at once, QA and the shift are told, its product is held; drills are timed."""

from datetime import datetime

from django.db import transaction

from plant.audit.services import Confirmation, record, sign
from plant.errors import Conflict, Refused
from plant.people.access import require_role
from plant.people.models import Person, Role
from rollers.models import Alert, Application, Deviation, Hold, Lot
from rollers.queries_recall import Recall, TapingOfLot, open_drill, recall_of
from rollers.services.blocks import settle_blocks
from rollers.services.holds import hold_between
from rollers.services.lots import locked_lot, write_act
from rollers.services.tasks import open_deviation, raise_alert

DRILLS = "drills"
MAY_RECALL = (Role.QA, Role.STOREKEEPER, Role.SUPERVISOR)


@transaction.atomic
def recall_lot(lot: Lot, *, reason: str, contaminating: bool, by: Person, at: datetime) -> Recall:
    """Lock a lot: nothing is cut from it any more, and where its tape is on a roller the line is told.

    Anybody of QA, the store or the shift may, for it stops harm; only QA ends what follows. Food and medical lines
    stop at the end of the current roll, at once where the lot contaminates.
    """
    require_role(by, *MAY_RECALL, at=at, act="Recalling a lot")
    lot = locked_lot(lot)
    if lot.status == Lot.Status.RECALLED and (lot.contaminating or not contaminating):
        raise Conflict("recalled", f"Lot {lot.code} is recalled already. Reload the page.")
    if len(reason.strip()) < 10:
        sentence = "Say why it is recalled and who told it, in a sentence: the reason goes to every line concerned."
        raise Refused("no-reason", sentence, field="reason")
    lot.contaminating = contaminating
    kind = "contaminating" if contaminating else "not contaminating"
    sentence = f"{by.name} recalled lot {lot.code} of {lot.stock} ({kind})"
    before = {"contaminating": contaminating}
    write_act(lot, Lot.Status.RECALLED, sentence, by=by, at=at, action="recall-lot", reason=reason, details=before)
    found = recall_of(lot, at)
    for line in sorted({one.application.position.line for one in found.live}, key=lambda line: line.pk):
        settle_blocks(line, at=at, by=by)
    _tell(found, reason.strip(), at, by)
    return found


def _tell(found: Recall, reason: str, at: datetime, by: Person) -> None:
    lot, counts = found.lot, found.counts
    for taping in found.live:
        _deviate(lot, taping, reason, at, by)
    raise_alert(
        f"recall:{lot.pk}:{found.act.pk if found.act else 0}",
        Alert.Level.CRITICAL,
        f"Lot {lot.code} of {lot.stock} is recalled: {reason} {counts['live']} live and {counts['past']} past tapings, "
        f"{counts['rolls']} rolls, {counts['reels']} reels left.",
        next_action="Open the recall: live tapings off, reels locked away, product decided",
        for_role=Role.QA,
        at=at,
        address=f"/store/recalls/{lot.pk}/",
    )
    for taping in found.live:
        position = taping.application.position
        when = "now" if lot.contaminating or not taping.strict else "at the end of this roll"
        raise_alert(
            f"recalled-on:{taping.application.pk}",
            Alert.Level.CRITICAL if taping.strict else Alert.Level.MAJOR,
            f"{position}: tape of recalled lot {lot.code} is on ({reason})",
            next_action=f"Stop line {position.line} {when}, take the tape off and count every piece",
            for_role=Role.SUPERVISOR,
            at=at,
            address=f"/board/{position.line.code}/",
            line=position.line,
        )


def _deviate(lot: Lot, taping: TapingOfLot, reason: str, at: datetime, by: Person) -> None:
    position = taping.application.position
    open_deviation(
        "recalled-lot",
        Deviation.Severity.CRITICAL if taping.strict else Deviation.Severity.MAJOR,
        f"{position}: tape of recalled lot {lot.code} is on since {taping.since:%Y-%m-%d %H:%M} UTC. {reason}",
        at=at,
        owner_role=Role.QA,
        by=by,
        line=position.line,
        position=position,
        application=taping.application,
    )


@transaction.atomic
def lift_recall(lot: Lot, *, reason: str, confirmation: Confirmation) -> Lot:
    """QA takes back a recall that named the wrong lot: the lot is then on hold, not released."""
    by, at = confirmation.person, confirmation.at
    require_role(by, Role.QA, at=at, act="Taking back a recall")
    lot = locked_lot(lot)
    if lot.status != Lot.Status.RECALLED:
        raise Refused("not-recalled", f"Lot {lot.code} is {lot.get_status_display()}, not recalled.")
    if len(reason.strip()) < 10:
        raise Refused("no-reason", "Say why the recall does not concern this lot, in a sentence.", field="reason")
    content = {"lot": lot.code, "stock": lot.stock.code, "reason": reason.strip()}
    signature = sign(confirmation, meaning="recall taken back", subject=lot, content=content)
    lot.contaminating = False
    sentence = f"{by.name} took back the recall of lot {lot.code}; it is on hold"
    write_act(
        lot,
        Lot.Status.HELD,
        sentence,
        by=by,
        at=at,
        action="lift-recall",
        reason=reason,
        details={"signatures": [signature.digest]},
    )
    return lot


@transaction.atomic
def hold_product(lot: Lot, application: Application, *, by: Person, at: datetime) -> Hold:
    """Hold all product that passed a taping of a recalled lot, also one that is long removed. QA decides by roll."""
    require_role(by, Role.QA, at=at, act="Holding product of a recall")
    lot = locked_lot(lot)
    if lot.status != Lot.Status.RECALLED:
        raise Refused("not-recalled", f"Lot {lot.code} is {lot.get_status_display()}, not recalled.")
    if Hold.objects.filter(lot=lot, application=application).exists():
        raise Conflict("held", f"The product of {application.position} is held already. Reload the page.")
    taping = next((one for one in recall_of(lot, at).tapings if one.application.pk == application.pk), None)
    if taping is None:
        raise Refused("not-of-lot", f"{application.position}: this taping has no tape of lot {lot.code}.")
    return hold_between(
        application.position.line,
        taping.since,
        taping.until or at,
        why=Hold.Why.RECALL,
        sentence=f"{application.position}: tape of recalled lot {lot.code} of {lot.stock} was on.",
        by=by,
        at=at,
        application=application,
        lot=lot,
    )


@transaction.atomic
def begin_drill(lot: Lot, *, by: Person, at: datetime) -> None:
    """Begin a mock recall: the clock runs until everything is found. Nothing is locked."""
    require_role(by, Role.QA, at=at, act="A mock recall")
    lot = locked_lot(lot)
    if open_drill(lot) is not None:
        raise Conflict("drill", f"A drill on lot {lot.code} is going on already.")
    sentence = f"{by.name} began a mock recall of lot {lot.code} of {lot.stock}"
    record(stream=DRILLS, action="begin-recall-drill", subject=lot, sentence=sentence, by=by, at=at)


@transaction.atomic
def finish_drill(lot: Lot, *, found: str, by: Person, at: datetime) -> float:
    """Finish a mock recall with what was really found on the floor. Returns the minutes it took."""
    require_role(by, Role.QA, at=at, act="A mock recall")
    lot = locked_lot(lot)
    begun = open_drill(lot)
    if begun is None:
        raise Refused("no-drill", f"No drill is going on for lot {lot.code}. Begin one first.")
    if len(found.strip()) < 10:
        sentence = "Write what was found: the reels and tapings seen, and what was not where the ledger has it."
        raise Refused("no-outcome", sentence, field="found")
    minutes = (at - begun.at).total_seconds() / 60
    counts = recall_of(lot, at).counts
    record(
        stream=DRILLS,
        action="finish-recall-drill",
        subject=lot,
        sentence=f"{by.name} finished the mock recall of lot {lot.code} after {minutes:.0f} minutes: {found.strip()}",
        by=by,
        at=at,
        facts={"minutes": f"{minutes:.1f}", "begun": begun.at, "by_ledger": counts, "found": found.strip()},
    )
    return minutes
