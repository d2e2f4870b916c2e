"""Putting tape on, step by step under lockout: the face, then the pieces.

Each act is a fact that is added, never changed; the state after it stands in the fact.
"""

from collections.abc import Mapping
from datetime import datetime

from django.db import transaction

from plant.errors import Conflict, Refused
from plant.floor.models import PathStep, Position
from plant.people.models import Person
from rollers import rules
from rollers.models import Application, Knife, Piece, PieceFact, RecipeVersion, Reel, TapeFact
from rollers.models.tape import TapeState
from rollers.queries import label_of
from rollers.queries_application import facts_of_application, lanes_for
from rollers.rules_application import Lane
from rollers.services.applications import HOT_ABOVE_C, let_work, note_exception
from rollers.services.discipline import follow_new_tape
from rollers.services.knives import take_out
from rollers.services.lockouts import require_lockout
from rollers.services.recipes import refuse_place
from rollers.services.reels import cut, require_usable
from rollers.services.spot import NOW, Sent, Spot, carry_on, lock_spot, move_on, need_application, write_fact

__all__ = ["HOT_ABOVE_C", "expected_pieces", "prepare_face", "put_pieces", "wind_tape"]


def expected_pieces(version: RecipeVersion) -> int:
    """One piece for each lane of each band."""
    width = version.stock.width_mm if version.stock else 0
    return sum(rules.lanes(band.inner_mm, band.outer_mm, width) for band in version.bands.all()) if width else 0


@transaction.atomic
def prepare_face(
    position: Position,
    *,
    clean: bool,
    dry: bool,
    no_residue: bool,
    marked: bool,
    face_c: float,
    by: Person,
    at: datetime,
    knife: Knife | None = None,
    sent: Sent = NOW,
) -> TapeFact:
    """The face is clean, dry, without residue, neither cold nor hot, and the lanes are marked from the centre."""
    spot = lock_spot(position, by, at, sent)
    if spot.known:
        return spot.known
    need_application(spot, Application.State.PLANNED, Application.State.LOCKED_OUT, what="prepare")
    lockout = require_lockout(position, by, spot.done_at)
    standing = let_work(spot, by, f"Preparing {position}", started_at=lockout.begun_at)
    application = need_application(spot, Application.State.LOCKED_OUT, what="prepare")
    asked = {
        "clean": (clean, "the face is clean"),
        "dry": (dry, "the face is dry"),
        "no_residue": (no_residue, "no old residue is on it"),
        "marked": (marked, "the lanes are marked from the centre, outside the web"),
    }
    for name, (said, words) in asked.items():
        if not said:
            raise Refused("not-prepared", f"{position}: tape only when {words}. Do it, then confirm.", field=name)
    low, high = spot.controls["face_min_c"], spot.controls["face_max_c"]
    if not low <= face_c <= high:
        sentence = f"{position}: the face has {face_c:g} °C; tape holds when it is wound at {low:g} to {high:g} °C."
        raise Refused("face-temperature", sentence, field="face_c")
    fact = carry_on(
        spot,
        TapeFact.Kind.PREPARED,
        by=by,
        sentence=f"{by.name} prepared the face of {position}: clean, dry, {face_c:g} °C, lanes marked",
        details={"face_c": str(face_c), "lock_number": lockout.lock_number, "knife": knife.number if knife else ""},
    )
    if knife is not None:
        take_out(knife, room=position.room, by=by, at=at, application=application)
    note_exception(standing, fact, spot, by=by)
    return fact


def _refuse_pieces(lanes: tuple[Lane, ...], wound: Mapping[int, Reel]) -> None:
    numbers = {lane.number for lane in lanes}
    if set(wound) != numbers:
        sentence = (
            f"This recipe has {len(numbers)} pieces (one a lane); you recorded {len(wound)}. Count again on the roller."
        )
        raise Refused("pieces", sentence, field="pieces")


def _refuse_way(position: Position, tail_trails: bool, finish_over_start: bool) -> None:
    if not tail_trails:
        sentence = f"{position}: a leading tail gets lifted. Take the tape off and wind it in the running direction."
        raise Refused("tail-leads", sentence, field="tail_trails")
    if not finish_over_start:
        sentence = f"{position}: finish each lane over its start, whole wraps within 2 mm. Wind it so, then confirm."
        raise Refused("finish", sentence, field="finish_over_start")


@transaction.atomic
def wind_tape(
    position: Position,
    *,
    step: PathStep,
    wound: Mapping[int, Reel],
    tail_trails: bool,
    finish_over_start: bool,
    by: Person,
    at: datetime,
    sent: Sent = NOW,
) -> TapeFact:
    """Record the pieces wound on: each lane by its number, with the reel it was cut from."""
    spot = lock_spot(position, by, at, sent)
    if spot.known:
        return spot.known
    application, version = _wound_before(spot)
    lockout = require_lockout(position, by, spot.done_at)
    standing = let_work(spot, by, f"Putting tape on {position}", started_at=lockout.begun_at)
    if not facts_of_application(application, TapeFact.Kind.PREPARED).exists():
        raise Refused("not-prepared", f"{position}: prepare the face and mark the lanes first, and record it.")
    refuse_place(step, version.stock, spot.kind, [row.product for row in version.products.all()], spot.done_at)
    lanes = lanes_for(version, spot.body)
    _refuse_pieces(lanes, wound)
    _refuse_way(position, tail_trails, finish_over_start)
    for reel in {reel.pk: reel for reel in wound.values()}.values():
        _refuse_reel(reel, version)
        require_usable(reel, position=position, room_kind=spot.kind, at=spot.done_at)
    applier = application.applier if application.trainee_id == by.pk else by
    move_on(application, Application.State.APPLIED, applier=applier, applied_at=spot.done_at)
    fact = write_fact(
        spot,
        TapeFact.Kind.APPLIED,
        TapeState.TAPED,
        by=by,
        sentence=f"{by.name} put {label_of(version)} on {position} ({spot.body})",
        recipe_version=version,
        orientation=spot.mounting.orientation,
        rotation=step.rotation,
        applier=applier,
        pieces=len(lanes),
        details={
            "lock_number": lockout.lock_number,
            "reels": {str(number): reel.label for number, reel in sorted(wound.items())},
            "tail_trails": True,
            "finish_over_start": True,
        },
    )
    put_pieces(spot, application, lanes, wound, by=by)
    note_exception(standing, fact, spot, by=by)
    follow_new_tape(application, fact, by=by, at=at)
    return fact


def _wound_before(spot: Spot) -> tuple[Application, RecipeVersion]:
    """The job whose tape is to be wound; who records it a second time reads when it was recorded."""
    application = spot.application
    fact = spot.fact
    if application is not None and fact is not None and application.applied_at is not None:
        who = application.applier.name if application.applier else fact.by.name
        sentence = f"Already recorded at {application.applied_at:%Y-%m-%d %H:%M} UTC by {who}. Nothing was changed."
        raise Conflict("already", sentence)
    states = (Application.State.PLANNED, Application.State.LOCKED_OUT)
    application = need_application(spot, *states, what="wind")
    version = application.recipe_version
    if version is None:
        raise Refused("no-recipe", f"{spot.position}: this taping has no recipe; it can only come off.")
    state = RecipeVersion.objects.select_for_update().get(pk=version.pk).state
    if state != RecipeVersion.State.IN_FORCE or version.stock is None:
        sentence = (
            f"{label_of(version)} is not a taped recipe in force any more. Give this job up and ask a person with Size."
        )
        raise Refused("not-in-force", sentence)
    return application, version


def _refuse_reel(reel: Reel, version: RecipeVersion) -> None:
    if reel.lot.stock_id != version.stock_id:
        sentence = f"Reel {reel.label} is {reel.lot.stock}; this recipe takes {version.stock}. Get the right reel."
        raise Refused("other-stock", sentence, field="reel")


def put_pieces(
    spot: Spot,
    application: Application,
    lanes: tuple[Lane, ...],
    wound: Mapping[int, Reel],
    *,
    by: Person,
    cutting: bool = True,
) -> None:
    """Every piece as a row of its own, on the roller now; the length is cut from its reel."""
    lengths: dict[Reel, float] = {}
    for lane in lanes:
        reel = wound.get(lane.number)
        piece = Piece.objects.create(
            application=application,
            number=lane.number,
            end=lane.end,
            lane=lane.lane,
            length_mm=round(lane.length_mm, 1),
            reel=reel,
        )
        PieceFact.objects.create(piece=piece, state=PieceFact.State.ON, at=spot.done_at, recorded_at=spot.at, by=by)
        if reel is not None:
            lengths[reel] = lengths.get(reel, 0.0) + lane.length_mm / 1000
    for reel, metres in lengths.items() if cutting else ():
        room = spot.position.room
        cut(reel, metres, application=application, room=room, by=by, at=spot.at, done_at=spot.done_at)
