"""Holds on product: opened with everything that may contain tape, decided roll by roll by QA, closed by QA."""

from datetime import datetime

from django.db import transaction
from django.db.models import Q

from plant.audit.services import Confirmation, record, sign
from plant.errors import Conflict, Refused
from plant.floor.models import Line, Run
from plant.people.access import require_role
from plant.people.models import Person, Role
from rollers.models import Application, HeldRoll, Hold, Lot, Reconciliation, Roll, SetPoint, TapeFact
from rollers.rules_holds import Ran, RollTime, Touched, touched
from rollers.services.runs import stream_of

FULL_COUNTS = (TapeFact.Kind.APPLIED, TapeFact.Kind.CHECKED, TapeFact.Kind.LOOKED, TapeFact.Kind.HANDED_OVER)


def ran(run: Run, now: datetime) -> Ran:
    """A released run as stretches of speed, up to now if it still goes."""
    began = run.released_at or now
    changes = SetPoint.objects.filter(run=run, quantity=SetPoint.Quantity.SPEED).order_by("at", "pk")
    rows = list(changes.values_list("at", "before", "after"))
    first = rows[0][1] if rows else run.speed_m_per_min
    speeds = [(began, first), *[(at, after) for at, _, after in rows]]
    return Ran(began, run.ended_at or now, tuple(speeds))


def runs_between(line: Line, since: datetime, until: datetime) -> list[Run]:
    """Runs of a line that went in some part of a time, the first first."""
    rows = Run.objects.filter(Q(ended_at=None) | Q(ended_at__gt=since), line=line, released_at__lt=until)
    return list(rows.exclude(released_at=None).select_related("product_version__product").order_by("released_at"))


def last_right_count(application: Application) -> datetime | None:
    """When all pieces of a taping were last seen: at applying, check, look or handover with the full count."""
    facts = TapeFact.objects.filter(application=application, kind__in=FULL_COUNTS).order_by("-at", "-pk")
    for fact in facts:
        seen = fact.details.get("pieces_seen", fact.pieces)
        if seen == fact.pieces and fact.pieces:
            return fact.at
    right = Reconciliation.objects.filter(scope=Reconciliation.Scope.APPLICATION, key=str(application.pk))
    return right.filter(differs=False).order_by("-at").values_list("at", flat=True).first()


def open_hold_for_missing(application: Application, *, missing: int, by: Person, at: datetime) -> Hold:
    """Hold everything that ran on the line since all pieces were last seen, not since the loss was noticed.

    Runs inside the act that found the piece missing. Only QA closes the hold; nothing overrides it.
    """
    line = application.position.line
    since = last_right_count(application) or application.applied_at or application.planned_at
    word = "1 piece" if missing == 1 else f"{missing} pieces"
    sentence = f"{application.position}: {word} of tape missing. Everything since {since:%Y-%m-%d %H:%M} UTC is held."
    return hold_between(line, since, at, why=Hold.Why.MISSING, sentence=sentence, by=by, at=at, application=application)


def hold_between(
    line: Line,
    since: datetime,
    until: datetime,
    *,
    why: str,
    sentence: str,
    by: Person | None,
    at: datetime,
    application: Application | None = None,
    lot: Lot | None = None,
) -> Hold:
    """Hold every roll any part of which ran between two moments. Runs inside the act that causes it."""
    found: list[Touched] = []
    metres = 0.0
    for run in runs_between(line, since, until):
        went = ran(run, at)
        metres += went.metres(since, until)
        rolls = [
            RollTime(row.pk, row.number, row.began_at, row.ended_at, row.length_m)
            for row in Roll.objects.filter(run=run, began_at__lt=until, ended_at__gt=since)
        ]
        label = f"{run.product_version.product.code}, run {run.pk}"
        found += touched(went, rolls, since, until, unrolled=label)
    hold = Hold.objects.create(
        line=line,
        why=why,
        application=application,
        lot=lot,
        sentence=sentence,
        since=since,
        until=until,
        metres=metres,
        opened_at=at,
    )
    for one in found:
        HeldRoll.objects.create(hold=hold, roll_id=one.key, label=one.label, length_m=one.length_m, part=one.part)
    record(
        stream=stream_of(line),
        action="open-hold",
        subject=hold,
        sentence=f"{sentence} {len(found)} rolls or parts, {metres:.0f} m",
        by=by,
        at=at,
        facts={"since": since, "until": until, "rolls": [one.label for one in found], "metres": f"{metres:.1f}"},
    )
    return hold


def _content(held: HeldRoll) -> dict[str, str]:
    return {"hold": str(held.hold_id), "roll": held.label, "decision": held.decision, "reason": held.reason}


@transaction.atomic
def decide_roll(held: HeldRoll, *, decision: str, reason: str, confirmation: Confirmation) -> HeldRoll:
    """QA releases or rejects one held roll. Each roll is signed by itself: no signature stands for many."""
    by, at = confirmation.person, confirmation.at
    require_role(by, Role.QA, at=at, act="Deciding about a held roll")
    held = HeldRoll.objects.select_for_update().select_related("hold__line").get(pk=held.pk)
    if held.decision != HeldRoll.Decision.OPEN:
        raise Conflict("decided", f"{held.label} is {held.get_decision_display()} already. Reload the page.")
    if decision not in (HeldRoll.Decision.RELEASED, HeldRoll.Decision.REJECTED):
        raise Refused("decision", "Choose: release the roll, or reject it.", field="decision")
    if len(reason.strip()) < 10:
        raise Refused(
            "no-reason", "Say how you know, in a sentence: what was looked at, and with what.", field="reason"
        )
    held.decision, held.reason = decision, reason.strip()
    held.signature = sign(confirmation, meaning=f"roll {decision}", subject=held, content=_content(held))
    held.save(update_fields=["decision", "reason", "signature"])
    record(
        stream=stream_of(held.hold.line),
        action="decide-roll",
        subject=held,
        sentence=f"{by.name}: {held.label} {held.get_decision_display()}",
        by=by,
        at=at,
        facts={"digest": held.signature.digest},
        reason=held.reason,
    )
    return held


@transaction.atomic
def close_hold(hold: Hold, *, reason: str, confirmation: Confirmation) -> Hold:
    """QA closes a hold when every roll has a decision."""
    by, at = confirmation.person, confirmation.at
    require_role(by, Role.QA, at=at, act="Closing a hold")
    hold = Hold.objects.select_for_update().select_related("line").get(pk=hold.pk)
    if hold.closed_at is not None:
        raise Conflict("closed", "This hold is closed already. Reload the page.")
    waiting = list(hold.rolls.filter(decision=HeldRoll.Decision.OPEN).values_list("label", flat=True))
    if waiting:
        sentence = f"{len(waiting)} of the rolls have no decision yet, the first is {waiting[0]}. Decide about each."
        raise Refused("undecided-rolls", sentence, details=waiting)
    if len(reason.strip()) < 10:
        raise Refused("no-reason", "Say why the hold may end: where the piece is, or why it is not in product.")
    content = {
        "hold": hold.sentence,
        "since": hold.since,
        "until": hold.until,
        "rolls": [[row.label, row.decision, row.reason] for row in hold.rolls.order_by("pk")],
        "reason": reason.strip(),
    }
    hold.signature = sign(confirmation, meaning="hold closed", subject=hold, content=content)
    hold.closed_at = at
    hold.save(update_fields=["signature", "closed_at"])
    record(
        stream=stream_of(hold.line),
        action="close-hold",
        subject=hold,
        sentence=f"{by.name} closed the {hold}",
        by=by,
        at=at,
        facts={"digest": hold.signature.digest},
        reason=reason.strip(),
    )
    return hold
