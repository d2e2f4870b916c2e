"""What was done is stored first and judged afterwards: late entries, paper forms, tablets that were offline.

A report never makes tape valid. The roller reads unknown until a certified second person has looked at it; rules that
were broken become deviations with an owner. Two persons who recorded different things stop the line until a third,
who may check here, has looked.
"""

from datetime import datetime
from typing import Any

from django.db import transaction

from plant.errors import Refused
from plant.floor.models import Position
from plant.people.models import Person, Role
from rollers.models import Alert, Application, Deviation, PieceFact, TapeFact
from rollers.models.tape import TapeState
from rollers.queries_application import lanes_for, pieces_on
from rollers.rules import STRICT
from rollers.rules_application import ON
from rollers.services.judging import KINDS, Broken, Done, judge
from rollers.services.looking import follow_look, refuse_look, require_active, write_look
from rollers.services.reels import cut
from rollers.services.spot import Sent, Spot, carry_on, lock_spot, move_on, write_fact
from rollers.services.tasks import open_deviation, raise_alert

LEADS_TO = {"applied": "taped", "removed": "bare", "cleaned": "bare", "bare": "bare", "looked": "taped"}
SETS_STATE = (
    TapeFact.Kind.APPLIED,
    TapeFact.Kind.REMOVED,
    TapeFact.Kind.CLEANED,
    TapeFact.Kind.BARE,
    TapeFact.Kind.SURVEYED,
)


@transaction.atomic
def report_done(position: Position, done: Done, *, by: Person, at: datetime, sent: Sent) -> TapeFact:
    """Store what was done by `done.by` at `sent.done_at`; then judge it. Nothing is refused because a rule was broken.

    Refused is only what cannot be: a time in the future, an unknown kind, a late entry without its reason.
    """
    spot = lock_spot(position, done.by, at, sent, ordered=False, in_conflict=True)
    if spot.known:
        return spot.known
    require_active(by, at)
    if done.kind not in dict(KINDS):
        raise Refused("kind", "Choose what was done.", field="kind")
    if done.pieces < 0 or done.pieces > 200:
        raise Refused("pieces", "Type the number of pieces as they were counted.", field="pieces")
    broken = judge(spot, done)
    against = _contradicted(spot, done)
    if done.kind == "looked":
        return _looked(spot, done, broken, by=by)
    fact = _stored(spot, done, by=by, settled=against is None)
    _open_all(spot, fact, done, broken, by=by)
    if fact.application is not None and done.kind == "applied" and against is None:
        _cut_reported(spot, done, fact.application)
    if against is not None:
        _conflict(spot, fact, against, done, by=by)
    return fact


# --- storing ----------------------------------------------------------------------------------------------------


def _details(done: Done, by: Person) -> dict[str, Any]:
    details: dict[str, Any] = {"reported": True, "recorded_by": by.staff_no, "pieces_reported": done.pieces}
    for name in ("lock_number", "agent", "note"):
        if getattr(done, name).strip():
            details[name] = getattr(done, name).strip()
    if done.reel is not None:
        details["reel"] = done.reel.label
    return details


def _stored(spot: Spot, done: Done, *, by: Person, settled: bool) -> TapeFact:
    """The report as a fact. Unless it contradicts another, it also moves what is on record, never to valid."""
    who = f"{done.by.name}" if done.by.pk == by.pk else f"{done.by.name} (written down by {by.name})"
    words = dict(KINDS)[done.kind].lower()
    fields: dict[str, Any] = {"details": _details(done, by), "pieces": spot.pieces}
    if done.kind == "applied":
        fields |= {"recipe_version": done.version, "applier": done.by, "rotation": done.rotation}
        fields |= {"orientation": spot.mounting.orientation}
        if settled and spot.application is None:
            fields |= {"application": _reported(spot, done), "pieces": done.pieces}
    elif done.kind == "removed" and settled:
        fields |= {"pieces": _reported_off(spot, done)}
    kind = {"applied": "applied", "removed": "removed", "cleaned": "cleaned", "bare": "bare"}[done.kind]
    sentence = f"{who} reports for {spot.position}: {words}; to be looked at by a second person"
    return write_fact(spot, kind, TapeState.UNKNOWN, by=done.by, sentence=sentence, **fields)


def _reported(spot: Spot, done: Done) -> Application:
    """A taping that nobody could be asked about. Its pieces count from the moment that somebody certified sees them."""
    return Application.objects.create(
        body=spot.body,
        position=spot.position,
        recipe_version=done.version,
        state=Application.State.APPLIED,
        origin=Application.Origin.REPORT,
        planned_by=done.by,
        planned_at=spot.done_at,
        applier=done.by,
    )


def _cut_reported(spot: Spot, done: Done, application: Application) -> None:
    """The tape is cut, whatever is thought of it; a reel that may not be used opens a deviation."""
    version = done.version
    lanes = lanes_for(version, spot.body) if version is not None else ()
    metres = sum(lane.length_mm for lane in lanes) / 1000
    if done.reel is not None and metres > 0 and application.state == Application.State.APPLIED:
        room, when = spot.position.room, spot.done_at
        cut(done.reel, metres, application=application, room=room, by=done.by, at=spot.at, done_at=when, reported=True)


def _reported_off(spot: Spot, done: Done) -> int:
    """Pieces left on record after a reported removal: none where the count is right, else all, for nobody can say
    which."""
    on = pieces_on(spot.body)
    if len(on) != done.pieces or not on:
        return spot.pieces if on or spot.pieces != done.pieces else 0
    for piece in on:
        PieceFact.objects.create(
            piece=piece,
            state=PieceFact.State.INTACT,
            at=spot.done_at,
            recorded_at=spot.at,
            by=done.by,
            note="reported, to be looked at",
        )
    if spot.application is not None and spot.application.state in ON:
        move_on(spot.application, Application.State.REMOVING)
    return 0


def _looked(spot: Spot, done: Done, broken: list[Broken], *, by: Person) -> TapeFact:
    refuse_look(spot, done.result, done.defects, done.grade)
    fact = write_look(spot, done.result, done.defects, done.pieces, done.grade, spot.application, by=done.by)
    _open_all(spot, fact, done, broken, by=by)
    follow_look(spot, fact, by=by)
    return fact


def _open_all(spot: Spot, fact: TapeFact, done: Done, broken: list[Broken], *, by: Person) -> None:
    owner = Role.QA if spot.kind in STRICT else Role.SUPERVISOR
    for code, severity, sentence in broken:
        open_deviation(
            code,
            severity,
            f"{spot.position}: {sentence}",
            at=spot.at,
            owner_role=Role.QA if severity == Deviation.Severity.CRITICAL else owner,
            by=by,
            fact=fact,
            line=spot.position.line,
            position=spot.position,
            application=fact.application,
            person=done.by,
        )


# --- conflicts --------------------------------------------------------------------------------------------------


def _contradicted(spot: Spot, done: Done) -> TapeFact | None:
    """What another person recorded meanwhile and cannot be true together with the report."""
    if done.kind == "looked":
        return None
    later = TapeFact.objects.filter(body=spot.body, kind__in=SETS_STATE).exclude(by=done.by).select_related("by")
    seen = spot.sent.seen
    later = later.filter(pk__gt=seen) if seen is not None else later.filter(at__gte=spot.done_at)
    for fact in later.order_by("-pk"):
        if _led_to(fact) != LEADS_TO[done.kind]:
            return fact
    return None


def _led_to(fact: TapeFact) -> str:
    if fact.kind == TapeFact.Kind.APPLIED or fact.state in (TapeState.TAPED, TapeState.PARTIAL):
        return "taped"
    return "bare"


def _conflict(spot: Spot, fact: TapeFact, against: TapeFact, done: Done, *, by: Person) -> TapeFact:
    names = sorted({done.by.name, against.by.name})
    spot = lock_spot(spot.position, by, spot.at, Sent(), ordered=False, in_conflict=True)
    sentence = f"{spot.position}: {names[0]} and {names[1]} recorded different things"
    made = carry_on(
        spot,
        TapeFact.Kind.CONFLICT,
        by=done.by,
        state=TapeState.UNKNOWN,
        sentence=sentence,
        details={"entries": [against.pk, fact.pk], "by": [against.by_id, done.by.pk]},
    )
    about = {"line": spot.position.line, "position": spot.position, "application": fact.application}
    said = f"{sentence}: “{against.get_kind_display()}” and “{fact.get_kind_display()}”. Somebody else looks."
    open_deviation(
        "conflict", Deviation.Severity.MAJOR, said, at=spot.at, owner_role=Role.QA, by=by, fact=made, **about
    )
    raise_alert(
        f"conflict:{made.pk}",
        Alert.Level.MAJOR,
        said,
        next_action="A person with Check who made neither entry looks at the roller and settles it",
        for_role=Role.SUPERVISOR,
        at=spot.at,
        line=spot.position.line,
    )
    return made
