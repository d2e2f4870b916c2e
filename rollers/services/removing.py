"""Taking tape off: begun under lockout, piece by piece into the bag, the face cleaned and looked at."""

from collections.abc import Mapping
from datetime import datetime

from django.db import transaction

from plant.audit.services import Confirmation, record
from plant.errors import Refused
from plant.floor.models import Position
from plant.people.models import Person
from rollers.models import Application, Bag, PieceFact, RecipeVersion, TapeFact, Task
from rollers.models.tape import TapeState
from rollers.queries_application import lanes_for, pieces_on
from rollers.services.applications import let_work, note_exception
from rollers.services.lockouts import require_lockout
from rollers.services.pieces import Taken, add_piece, adopt_tape, next_number, refuse_taken, tell_missing, write_taken
from rollers.services.spot import NOW, Sent, Spot, carry_on, lock_spot, move_on, need_application, write_fact
from training.services.telling import tell_job_done

TAKING = (Application.State.REMOVING, Application.State.PARTIAL)
RESIDUES = (("none", "none"), ("cleaned", "was there, is cleaned"), ("stays", "stays"))


@transaction.atomic
def begin_removal(position: Position, *, by: Person, at: datetime, sent: Sent = NOW, reason: str = "") -> TapeFact:
    """Begin to take tape off: from now on the line may not run with what is left."""
    spot = lock_spot(position, by, at, sent)
    if spot.known:
        return spot.known
    lockout = require_lockout(position, by, spot.done_at)
    standing = let_work(spot, by, f"Taking tape off {position}", started_at=lockout.begun_at)
    application = adopt_tape(spot, by)
    if application is None:
        application = _found_job(spot, by)
    elif application.state in (Application.State.PLANNED, Application.State.LOCKED_OUT):
        raise Refused("nothing-on", f"{position} is {spot.state}: there is no tape on record to remove.")
    elif application.state == Application.State.REMOVING:
        raise Refused("begun", f"{position}: taking off is begun already. Record the pieces.")
    elif application.state != Application.State.PARTIAL:
        move_on(application, Application.State.REMOVING)
    unknown = spot.state == TapeState.UNKNOWN
    fact = carry_on(
        spot,
        TapeFact.Kind.REMOVING,
        by=by,
        state=TapeState.UNKNOWN if unknown else TapeState.PARTIAL,
        sentence=f"{by.name} begins to take tape off {position}: {spot.pieces} pieces on record",
        application=application,
        details={"lock_number": lockout.lock_number},
        reason=reason.strip(),
    )
    note_exception(standing, fact, spot, by=by)
    return fact


def _found_job(spot: Spot, by: Person) -> Application:
    """Tape without a record, or left by a voided taping, comes off as a job of its own that was never valid."""
    carries = spot.fact is not None and spot.fact.carries_tape and spot.state != TapeState.RESIDUE
    if not carries:
        sentence = f"{spot.position} is {spot.state}: there is no tape on record to remove."
        if spot.state == TapeState.UNKNOWN:
            sentence += " Look at it: record it bare, or report the tape that you find."
        raise Refused("nothing-on", sentence)
    return Application.objects.create(
        body=spot.body,
        position=spot.position,
        state=Application.State.REMOVING,
        origin=Application.Origin.FOUND,
        planned_by=by,
        planned_at=spot.done_at,
    )


@transaction.atomic
def take_off(
    position: Position,
    *,
    outcomes: Mapping[int, str],
    bag: Bag | None,
    by: Person,
    at: datetime,
    extra: int = 0,
    second: Confirmation | None = None,
    note: str = "",
    sent: Sent = NOW,
) -> TapeFact:
    """Record what became of pieces, by their keys: intact, in parts, missing. The others are still on.

    `extra` are pieces that no record shows; only where tape was found.
    """
    spot = lock_spot(position, by, at, sent)
    if spot.known:
        return spot.known
    application = need_application(spot, *TAKING, what="take off")
    lockout = require_lockout(position, by, spot.done_at)
    standing = let_work(spot, by, f"Taking tape off {position}", started_at=lockout.begun_at)
    on = {piece.pk: piece for piece in pieces_on(spot.body)}
    taken = Taken(outcomes, bag, second, note)
    if extra < 0 or (not outcomes and not extra):
        raise Refused("pieces", "Record at least one piece: intact, in parts, or missing.", field="pieces")
    if extra:
        _refuse_extra(spot, application, bag)
    refuse_taken(spot, on, taken, by)
    write_taken(spot, on, taken, by=by)
    for index in range(extra):
        number = next_number(application)
        add_piece(
            application,
            number,
            PieceFact.State.INTACT,
            by=by,
            at=spot.done_at,
            recorded_at=at,
            bag=bag,
            note=f"no record, piece {index + 1} of {extra}",
        )
    left, missing = len(on) - len(outcomes), taken.number_of(PieceFact.State.MISSING)
    fact = _removed(spot, application, left, taken, extra, missing, by)
    note_exception(standing, fact, spot, by=by)
    if missing:
        tell_missing(spot, application, fact, missing, by=by)
    return fact


def _refuse_extra(spot: Spot, application: Application, bag: Bag | None) -> None:
    if bag is None:
        raise Refused("no-bag", "Every piece goes into a labelled bag. Type the label of the bag.", field="bag")
    found = TapeFact.objects.filter(body=spot.body, kind=TapeFact.Kind.FOUND, at__gte=application.planned_at).exists()
    if application.origin != Application.Origin.FOUND and not found:
        sentence = (
            f"{spot.pieces} pieces were on by the record. Count again; a piece too many is wrong too: report it as "
            "found tape first."
        )
        raise Refused("pieces", sentence, field="extra")


def _removed(
    spot: Spot, application: Application, left: int, taken: Taken, extra: int, missing: int, by: Person
) -> TapeFact:
    off = len(taken.outcomes) - missing + extra
    said = f"{by.name} took {off} pieces off {spot.position}"
    said += f"; {missing} missing" if missing else ""
    details = {
        "pieces_removed": off,
        "missing": missing,
        "extra": extra,
        "pieces": {str(pk): outcome for pk, outcome in taken.outcomes.items()},
        "bag": taken.bag.label if taken.bag else "",
    }
    # Until the face was looked at it counts as residue.
    state = TapeState.PARTIAL if left else TapeState.RESIDUE
    return carry_on(
        spot,
        TapeFact.Kind.REMOVED,
        by=by,
        state=state,
        sentence=f"{said}; {left} are left",
        application=application,
        pieces=left,
        details=details,
        **({} if left else {"recipe_version": None, "applier": None, "measured": False, "checked": False}),
    )


@transaction.atomic
def stop_removal(position: Position, *, reason: str, by: Person, at: datetime, sent: Sent = NOW) -> TapeFact:
    """Leave off with tape still on: the roller is partial, and the rest can only come off.

    It blocks, unless exactly what is left is a recipe in force for this position.
    """
    spot = lock_spot(position, by, at, sent)
    if spot.known:
        return spot.known
    application = need_application(spot, Application.State.REMOVING, what="leave off")
    require_lockout(position, by, spot.done_at)
    left = pieces_on(spot.body)
    if not left:
        raise Refused("none-left", f"{position}: no piece is left. Look at the face and finish the removal.")
    if len(reason.strip()) < 5:
        raise Refused("no-reason", "Say why the rest stays on for now.", field="reason")
    other = _recipe_of_rest(spot, application, {(piece.end, piece.lane) for piece in left})
    move_on(application, Application.State.PARTIAL)
    changes = {"recipe_version": other, "state": TapeState.TAPED} if other else {"state": TapeState.PARTIAL}
    what = f"; what is left is {other}" if other else ""
    return carry_on(
        spot,
        TapeFact.Kind.REMOVED,
        by=by,
        sentence=f"{by.name} left {len(left)} pieces on {position}{what}",
        details={"pieces_removed": 0, "stopped": True},
        reason=reason.strip(),
        **changes,
    )


def _recipe_of_rest(spot: Spot, application: Application, left: set[tuple[str, int]]) -> RecipeVersion | None:
    """Another recipe in force here whose lanes are exactly those that are left: same tape, places and wraps."""
    mine = application.recipe_version
    if mine is None or {piece.application_id for piece in pieces_on(spot.body)} != {application.pk}:
        return None
    rest = [lane for lane in lanes_for(mine, spot.body) if (lane.end, lane.lane) in left]
    shape = [(lane.end, lane.inner_mm, lane.outer_mm, lane.wraps) for lane in rest]
    others = RecipeVersion.objects.filter(
        recipe__position=spot.position, state=RecipeVersion.State.IN_FORCE, stock=mine.stock
    ).exclude(pk=mine.pk)
    for version in others.select_related("stock", "recipe").prefetch_related("bands"):
        its = [(lane.end, lane.inner_mm, lane.outer_mm, lane.wraps) for lane in lanes_for(version, spot.body)]
        if its == shape:
            return version
    return None


@transaction.atomic
def finish_removal(
    position: Position,
    *,
    residue: str,
    agent: str,
    surface_ok: bool,
    by: Person,
    at: datetime,
    sent: Sent = NOW,
) -> TapeFact:
    """All pieces are accounted for: the face is cleaned and looked at. Where residue stays, the roller says so."""
    spot = lock_spot(position, by, at, sent)
    if spot.known:
        return spot.known
    application = need_application(spot, *TAKING, what="finish")
    lockout = require_lockout(position, by, spot.done_at)
    standing = let_work(spot, by, f"Taking tape off {position}", started_at=lockout.begun_at)
    left = pieces_on(spot.body)
    if left:
        sentence = f"{position}: {len(left)} pieces are on by the record. Record each: intact, in parts, or missing."
        raise Refused("pieces-left", sentence, field="pieces")
    if residue not in dict(RESIDUES):
        raise Refused("residue", "Say whether residue is on the face: none, cleaned, or it stays.", field="residue")
    if residue == "cleaned" and not agent.strip():
        raise Refused("no-agent", "Name the approved cleaning agent, or “dry wipe”.", field="agent")
    bare = residue != "stays" and surface_ok
    move_on(application, Application.State.REMOVED, ended_at=spot.done_at)
    fact = write_fact(
        spot,
        TapeFact.Kind.REMOVED,
        TapeState.BARE if bare else TapeState.RESIDUE,
        by=by,
        sentence=f"{by.name} finished the removal at {position}: " + ("bare" if bare else "residue stays"),
        application=application,
        details={"residue": residue, "agent": agent.strip(), "surface_ok": surface_ok, "pieces_removed": 0},
    )
    note_exception(standing, fact, spot, by=by)
    _settle_tasks(application, by=by, at=at)
    key, beside = f"tape-fact:{fact.pk}", standing.answerable
    tell_job_done(by, "remove", spot.kind, spot.done_at, str(position), beside, key=key, recorded_at=at)
    return fact


def _settle_tasks(application: Application, *, by: Person, at: datetime) -> None:
    """What was asked of tape that is off now is answered."""
    kinds = (Task.Kind.STILL_NEEDED, Task.Kind.REDUCE, Task.Kind.STOP_AND_FIX, Task.Kind.CAUSE_SHEET)
    for task in Task.objects.select_for_update().filter(application=application, closed_at=None, kind__in=kinds):
        task.closed_at, task.closed_by, task.outcome = at, by, "The tape came off."
        task.save(update_fields=["closed_at", "closed_by", "outcome"])
        sentence = f"the tape came off: {task.sentence}"
        record(stream="tasks", action="close-task", subject=task, sentence=sentence, by=by, at=at)


@transaction.atomic
def clean_roller(
    position: Position, *, agent: str, surface_ok: bool, by: Person, at: datetime, sent: Sent = NOW
) -> TapeFact:
    """Residue is off, the face is dry and was looked at: the roller is bare."""
    spot = lock_spot(position, by, at, sent)
    if spot.known:
        return spot.known
    if spot.state != TapeState.RESIDUE:
        raise Refused("no-residue", f"{position} is {spot.state}: no residue is on record.")
    if spot.application is not None and spot.application.state in TAKING:
        raise Refused("not-finished", f"{position}: finish the removal; the face is looked at there.")
    lockout = require_lockout(position, by, spot.done_at)
    standing = let_work(spot, by, f"Cleaning {position}", started_at=lockout.begun_at)
    if not agent.strip():
        raise Refused("no-agent", "Name the approved cleaning agent, or “dry wipe”.", field="agent")
    if not surface_ok:
        sentence = f"{position}: look at the face in good light. It is bare only when no residue and no damage is seen."
        raise Refused("surface", sentence, field="surface_ok")
    fact = write_fact(
        spot,
        TapeFact.Kind.CLEANED,
        TapeState.BARE,
        by=by,
        sentence=f"{by.name} cleaned {position} and looked at it; it is bare",
        details={"agent": agent.strip(), "surface_ok": True},
    )
    note_exception(standing, fact, spot, by=by)
    return fact
