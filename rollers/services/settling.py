"""A certified second person looks at what was only reported, or at what two persons recorded differently."""

from datetime import datetime
from typing import Any

from django.db import transaction

from plant.errors import Refused
from plant.floor.models import Position
from plant.people.models import Person
from rollers.models import Application, Reel, ReelMove, TapeFact
from rollers.models.tape import TapeState
from rollers.queries_application import conflict_on, lanes_for, pieces_on
from rollers.services.applying import put_pieces
from rollers.services.spot import NOW, Sent, Spot, carry_on, lock_spot, move_on, need_application
from training.access import require_skill


@transaction.atomic
def resolve_conflict(
    position: Position, *, state: str, pieces: int, what: str, by: Person, at: datetime, sent: Sent = NOW
) -> TapeFact:
    """A person with Check for this room, who made neither entry, looked: what is there now holds."""
    spot = lock_spot(position, by, at, sent, in_conflict=True)
    if spot.known:
        return spot.known
    require_skill(by, "check", spot.kind, spot.done_at, f"Settling what is on {position}")
    conflict = conflict_on(spot.body)
    if conflict is None:
        raise Refused("no-conflict", f"{position}: no two entries contradict each other.")
    if by.pk in conflict.details["by"]:
        sentence = f"{by.name} made one of the two entries and may not judge it. Somebody else with Check looks."
        raise Refused("same-person", sentence)
    if len(what.strip()) < 5:
        raise Refused("no-text", "Say what you see on the roller, in a few words.", field="what")
    if state not in (TapeState.BARE, TapeState.TAPED):
        raise Refused("state", "Choose what you see: bare, or taped.", field="state")
    on = pieces_on(spot.body)
    changes = _seen_bare(spot, len(on)) if state == TapeState.BARE else _seen_taped(spot, pieces, by)
    return carry_on(
        spot,
        TapeFact.Kind.RESOLVED,
        by=by,
        sentence=f"{by.name} looked at {position} and settled it: {state}",
        details={"what": what.strip(), "seen": state, "pieces_seen": pieces, "conflict": conflict.pk},
        **changes,
    )


def _seen_bare(spot: Spot, on: int) -> dict[str, Any]:
    """Bare to the eye. Pieces that are on record stay to be accounted for: recorded off, or missing."""
    if on:
        return {"state": TapeState.UNKNOWN, "pieces": on}
    application = spot.application
    if application is not None and application.state == Application.State.REMOVING:
        move_on(application, Application.State.REMOVED, ended_at=spot.done_at)
    elif application is not None:
        move_on(application, Application.State.VOID, ended_at=spot.done_at)
    return {
        "state": TapeState.BARE,
        "pieces": 0,
        "recipe_version": None,
        "applier": None,
        "measured": False,
        "checked": False,
    }


def _seen_taped(spot: Spot, pieces: int, by: Person) -> dict[str, Any]:
    application = spot.application
    if application is None:
        application = _from_conflict(spot)
    on = pieces_on(spot.body)
    if on:
        if len(on) != pieces:
            sentence = f"{len(on)} pieces are on record, you see {pieces}. Count again; if it stays so, call QA."
            raise Refused("pieces", sentence, field="pieces")
        return {"state": TapeState.TAPED, "pieces": pieces} | _of(application, spot)
    return _confirmed(spot, application, pieces, by)


def _from_conflict(spot: Spot) -> Application:
    """The taping that one of the two reported; it was held back while they contradicted each other."""
    conflict = conflict_on(spot.body)
    entries = conflict.details["entries"] if conflict else []
    told = TapeFact.objects.filter(pk__in=entries, kind=TapeFact.Kind.APPLIED).select_related("by").first()
    if told is None or told.recipe_version is None:
        sentence = f"{spot.position}: no taping is on record. Tape that is there is reported as found tape."
        raise Refused("found-tape", sentence, field="state")
    return Application.objects.create(
        body=spot.body,
        position=spot.position,
        recipe_version=told.recipe_version,
        state=Application.State.APPLIED,
        origin=Application.Origin.REPORT,
        planned_by=told.by,
        planned_at=told.at,
        applier=told.by,
    )


def _of(application: Application, spot: Spot) -> dict[str, Any]:
    told = application.facts.exclude(kind=TapeFact.Kind.CONFLICT).order_by("-pk").first()
    return {
        "application": application,
        "recipe_version": application.recipe_version,
        "applier": application.applier,
        "orientation": told.orientation if told else spot.mounting.orientation,
        "rotation": told.rotation if told else "",
    }


def _confirmed(spot: Spot, application: Application, pieces: int, by: Person) -> dict[str, Any]:
    """Reported tape was seen by somebody who may check: its pieces are on record from now on."""
    version = application.recipe_version
    lanes = lanes_for(version, spot.body) if version is not None else ()
    if not lanes or pieces != len(lanes):
        sentence = (
            f"The recipe has {len(lanes)} pieces, you see {pieces}. Tape that is not by the recipe comes off: "
            "report it as found tape."
        )
        raise Refused("pieces", sentence, field="pieces")
    told = application.facts.filter(kind=TapeFact.Kind.APPLIED).order_by("pk").first()
    if told is None:
        told = TapeFact.objects.filter(body=spot.body, kind=TapeFact.Kind.APPLIED).order_by("-pk").first()
    label = told.details.get("reel", "") if told else ""
    reel = Reel.objects.select_related("lot__stock").filter(label=label).first() if label else None
    wound = {lane.number: reel for lane in lanes if reel is not None}
    cut_before = application.reel_moves.filter(kind=ReelMove.Kind.CUT).exists()
    put_pieces(spot, application, lanes, wound, by=by, cutting=not cut_before)
    application.applied_at = told.at if told else spot.done_at
    application.save(update_fields=["applied_at"])
    rotation = told.rotation if told else ""
    return {"state": TapeState.TAPED, "pieces": pieces} | _of(application, spot) | {"rotation": rotation}


@transaction.atomic
def confirm_report(position: Position, *, pieces: int, by: Person, at: datetime, sent: Sent = NOW) -> TapeFact:
    """A second person with Check saw the reported tape. It is taped now; it still has to be measured and checked."""
    spot = lock_spot(position, by, at, sent)
    if spot.known:
        return spot.known
    require_skill(by, "check", spot.kind, spot.done_at, f"Looking at reported tape on {position}")
    application = need_application(spot, Application.State.APPLIED, what="confirm")
    if application.origin != Application.Origin.REPORT or application.applied_at is not None:
        raise Refused("not-reported", f"{position}: this tape is on record already.")
    if by.pk in (application.applier_id, application.planned_by_id):
        raise Refused("same-person", f"{by.name} made the report; somebody else looks at the roller.")
    changes = _confirmed(spot, application, pieces, by)
    return carry_on(
        spot,
        TapeFact.Kind.LOOKED,
        by=by,
        sentence=f"{by.name} looked at the reported tape on {position}: {pieces} pieces are there",
        details={"result": "ok", "defects": [], "pieces_seen": pieces, "confirmed": True},
        **changes,
    )
