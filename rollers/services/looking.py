"""Looking at a roller: at the tape on it by interval, at one of which nothing is known, and what is found."""

from collections.abc import Collection
from datetime import datetime
from typing import Any

from django.db import transaction

from plant.errors import Forbidden, Refused
from plant.floor.models import Position
from plant.people.models import Person, Role
from plant.people.queries import active_people
from rollers.models import Alert, Application, Deviation, Survey, TapeFact, Task
from rollers.models.tape import TapeState
from rollers.queries_application import pieces_on
from rollers.rules import STRICT
from rollers.rules_application import DEFECTS, RESULTS
from rollers.services.checking import who_worked
from rollers.services.pieces import adopt_tape
from rollers.services.removing import TAKING
from rollers.services.spot import NOW, Sent, Spot, carry_on, lock_spot, move_on, write_fact
from rollers.services.tasks import open_deviation, open_task, raise_alert
from training.access import require_skill
from training.queries import standing
from training.services.telling import tell_trigger

REPORTED = (TapeFact.Kind.APPLIED, TapeFact.Kind.REMOVED, TapeFact.Kind.CLEANED)


def require_active(by: Person, at: datetime) -> None:
    """Reports and looks are open to everybody who has access."""
    if not active_people(at).filter(pk=by.pk).exists():
        raise Forbidden("not-active", f"{by.name} has no access now. Ask the system keeper.")


@transaction.atomic
def record_look(
    position: Position,
    *,
    result: str,
    defects: Collection[str],
    pieces_seen: int,
    by: Person,
    at: datetime,
    grade: int | None = None,
    sent: Sent = NOW,
) -> TapeFact:
    """Record how tape that is on looks. *Not fit* stops the line and opens work; *watch* halves the interval."""
    spot = lock_spot(position, by, at, sent)
    if spot.known:
        return spot.known
    require_active(by, at)
    if spot.state not in (TapeState.TAPED, TapeState.PARTIAL):
        raise Refused("not-taped", f"{position} is {spot.state}: there is no recorded tape to look at.")
    refuse_look(spot, result, defects, grade)
    unchecked = spot.application if spot.application and spot.application.checked_at is None else None
    fact = write_look(spot, result, defects, pieces_seen, grade, adopt_tape(spot, by), by=by)
    follow_look(spot, fact, by=by)
    if unchecked is not None and fact.details["result"] == "fail":
        tell_failed_check(spot, fact, unchecked, by=by)
    return fact


def refuse_look(spot: Spot, result: str, defects: Collection[str], grade: int | None) -> None:
    """Shape of a look: a result, and a defect where it is not fine."""
    if result not in dict(RESULTS):
        raise Refused("result", "Choose: fine, watch it, or not fit to run.", field="result")
    if set(defects) - set(dict(DEFECTS)):
        raise Refused("defects", "Choose the defects from the list.", field="defects")
    if result != "ok" and not defects:
        raise Refused("defects", f"{spot.position}: say what you see: choose at least one defect.", field="defects")
    if grade is not None and not 0 <= grade <= 4:
        raise Refused("grade", "Grade the wrinkle 0 (flat) to 4 (steady crease or break).", field="grade")


def write_look(
    spot: Spot,
    result: str,
    defects: Collection[str],
    pieces_seen: int,
    grade: int | None,
    application: Application | None,
    *,
    by: Person,
) -> TapeFact:
    """The look as a fact. Fewer pieces than are on record make it *not fit*, whatever was chosen."""
    if pieces_seen != spot.pieces:
        result = "fail"
    details = {"result": result, "defects": sorted(defects), "pieces_seen": pieces_seen}
    if grade is not None:
        details["grade"] = grade
    said = {"ok": "fine", "watch": "to be watched", "fail": "not fit to run"}[result]
    return carry_on(
        spot,
        TapeFact.Kind.LOOKED,
        by=by,
        application=application,
        sentence=f"{by.name} looked at the tape on {spot.position}: {said}, {pieces_seen} of {spot.pieces} pieces",
        details=details,
    )


def follow_look(spot: Spot, fact: TapeFact, *, by: Person) -> None:
    """What a look sets off: a wrong count calls QA, *not fit* opens work that stops the line."""
    about: dict[str, Any] = {"line": spot.position.line, "position": spot.position, "application": fact.application}
    seen = fact.details["pieces_seen"]
    strict = spot.kind in STRICT
    if seen != spot.pieces:
        open_deviation(
            "count-off",
            Deviation.Severity.CRITICAL if strict else Deviation.Severity.MAJOR,
            f"{spot.position}: {spot.pieces} pieces are on record, {seen} were seen.",
            at=spot.at,
            owner_role=Role.QA,
            by=by,
            fact=fact,
            **about,
        )
    if fact.details["result"] == "fail":
        words = ", ".join(dict(DEFECTS)[key].lower() for key in fact.details["defects"]) or "the count is wrong"
        open_task(
            Task.Kind.STOP_AND_FIX,
            f"look-fail:{fact.pk}",
            f"{spot.position}: stop and mend: {words}. Take the tape off, or make it right and look again.",
            at=spot.at,
            by=by,
            for_role=Role.SUPERVISOR,
            **about,
        )
    if seen != spot.pieces and strict:
        raise_alert(
            f"count-off:{fact.pk}",
            Alert.Level.CRITICAL,
            f"{spot.position}: {seen} of {spot.pieces} pieces seen.",
            next_action="Stop, lock out, take the tape off and count",
            for_role=Role.QA,
            at=spot.at,
            line=spot.position.line,
        )


def tell_failed_check(spot: Spot, fact: TapeFact, application: Application, *, by: Person) -> None:
    """Fresh tape that somebody certified to check finds not fit: training hears of it, and counts.

    Who worked on it and finds the own fault stops the line, and nothing more; so does who may not check.
    """
    applier = application.applier
    if applier is None or application.origin != Application.Origin.PLAN or by.pk in who_worked(application):
        return
    if not standing(by, "check", spot.kind, spot.done_at).ok:
        return
    words = [dict(DEFECTS)[key].lower() for key in fact.details["defects"]]
    if fact.details["pieces_seen"] != spot.pieces:
        words.append(f"{fact.details['pieces_seen']} of {spot.pieces} pieces")
    tell_trigger(
        applier,
        "failed-check",
        skill_code="apply",
        reason=f"{by.name} found fresh tape not fit to run: {', '.join(words)}"[:300],
        by=by,
        at=spot.at,
        subject=str(spot.position),
        key=f"tape-fact:{fact.pk}",
    )


def pending_report(spot: Spot) -> TapeFact | None:
    """The report that a certified second person has to look at, if what is known of the roller rests on one."""
    fact = spot.fact
    reported = fact is not None and bool(fact.details.get("reported")) and fact.kind in REPORTED
    return fact if reported else None


@transaction.atomic
def look_bare(position: Position, *, by: Person, at: datetime, clean: bool, sent: Sent = NOW) -> TapeFact:
    """A roller of which nothing is known was looked at all round: bare and clean. Tape that is seen is found tape."""
    spot = lock_spot(position, by, at, sent)
    if spot.known:
        return spot.known
    report = pending_report(spot)
    require_skill(by, "check" if report else "aware", spot.kind, spot.done_at, f"Recording {position} as bare")
    if spot.state != TapeState.UNKNOWN:
        raise Refused("not-unknown", f"{position} is {spot.state} by the record; a look does not change that.")
    if report is not None and report.by_id == by.pk:
        raise Refused("same-person", f"{position}: {by.name} made the report; somebody else looks at the roller.")
    _refuse_pieces(spot)
    if not clean:
        sentence = f"{position}: bare means no tape, no residue, clean. Residue is cleaned first, tape is reported."
        raise Refused("not-clean", sentence, field="clean")
    if spot.application is not None:
        _end_reported(spot, spot.application)
    return write_fact(
        spot,
        TapeFact.Kind.BARE,
        TapeState.BARE,
        by=by,
        sentence=f"{by.name} looked at {position}: bare and clean",
        details={"clean": True} | ({"report": report.pk} if report else {}),
    )


def _refuse_pieces(spot: Spot) -> None:
    left = len(pieces_on(spot.body))
    found = spot.fact is not None and spot.fact.kind in (TapeFact.Kind.FOUND, TapeFact.Kind.REMOVING)
    unsettled = spot.fact is not None and spot.fact.pieces > 0 and pending_report(spot) is None
    if left or found or unsettled:
        sentence = (
            f"{spot.position}: tape is on record here ({max(left, spot.pieces)} pieces). A look does not take it off: "
            "record the removal and the count; a person with Apply can."
        )
        raise Refused("taped", sentence)


def _end_reported(spot: Spot, application: Application) -> None:
    """A reported removal is confirmed by the look; a reported taping that is not there never was."""
    if application.state in TAKING:
        move_on(application, Application.State.REMOVED, ended_at=spot.done_at)
    elif application.origin == Application.Origin.REPORT:
        move_on(application, Application.State.VOID, ended_at=spot.done_at)
    else:
        raise Refused("job-open", f"{spot.position}: a taping is open here ({application.get_state_display()}).")


FOUND_SEVERITY = {
    "medical": Deviation.Severity.CRITICAL,
    "food": Deviation.Severity.MAJOR,
    "general": Deviation.Severity.MINOR,
}


@transaction.atomic
def report_found_tape(position: Position, *, what: str, by: Person, at: datetime, sent: Sent = NOW) -> TapeFact:
    """Tape that no record shows never becomes valid: the roller is unknown until the tape is off and counted."""
    spot = lock_spot(position, by, at, sent, in_conflict=True)
    if spot.known:
        return spot.known
    require_active(by, at)
    if not what.strip():
        raise Refused("no-text", "Say what you found and where on the roller.", field="what")
    if not Survey.objects.filter(room=position.room, closed_at__isnull=False).exists():
        sentence = f"The go-live survey of room {position.room} is not closed yet: record the tape in the survey."
        raise Refused("survey-open", sentence)
    fact = write_fact(
        spot,
        TapeFact.Kind.FOUND,
        TapeState.UNKNOWN,
        by=by,
        sentence=f"{by.name} found tape without a record on {position}",
        pieces=spot.pieces,
        details={"what": what.strip()},
    )
    severity = FOUND_SEVERITY[spot.kind]
    about = {"line": position.line, "position": position, "application": spot.application}
    sentence = f"{position}: tape without a record was found: {what.strip()}"
    open_deviation("found-tape", severity, sentence, at=at, owner_role=Role.QA, by=by, fact=fact, **about)
    if spot.kind in STRICT:
        raise_alert(
            f"found-tape:{fact.pk}",
            Alert.Level.CRITICAL if spot.kind == "medical" else Alert.Level.MAJOR,
            sentence,
            next_action="Stop, take the tape off under lockout and count it, ask where it came from",
            for_role=Role.QA,
            at=at,
            line=position.line,
        )
    return fact
