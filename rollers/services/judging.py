"""Which rules a report of what was done has broken: by the time it was done, and by what is known today."""

from collections.abc import Collection
from dataclasses import dataclass, field
from datetime import datetime

from django.db.models import Q

from plant.errors import Refused
from plant.people.models import Person
from rollers.models import Deviation, Lockout, RecipeVersion, Reel
from rollers.models.tape import TapeState
from rollers.rules import STRICT
from rollers.services.applications import is_hot
from rollers.services.applying import expected_pieces
from rollers.services.reels import require_usable
from rollers.services.spot import Spot
from training.queries import standing

KINDS = (
    ("applied", "Tape was put on"),
    ("removed", "Tape was taken off"),
    ("cleaned", "The roller was cleaned"),
    ("looked", "The tape was looked at"),
    ("bare", "It was looked at: bare"),
)
Major, Minor, Critical = Deviation.Severity.MAJOR, Deviation.Severity.MINOR, Deviation.Severity.CRITICAL


@dataclass(frozen=True)
class Done:
    """What somebody says was done at a roller."""

    kind: str
    by: Person
    version: RecipeVersion | None = None
    reel: Reel | None = None
    pieces: int = 0
    lock_number: str = ""
    agent: str = ""
    result: str = "ok"
    defects: Collection[str] = field(default_factory=tuple)
    grade: int | None = None
    note: str = ""
    rotation: str = ""


Broken = tuple[str, str, str]  # code, severity, sentence


def judge(spot: Spot, done: Done) -> list[Broken]:
    """Rules that were broken, by the time it was done, and by what is known today."""
    if done.kind in ("looked", "bare"):
        return []
    found = [*_who(spot, done), *_lockout(spot, done)]
    if done.kind == "applied":
        found += [*_recipe(spot, done), *_reel(spot, done)]
    if done.kind == "removed" and done.pieces != spot.pieces:
        sentence = f"{spot.pieces} pieces were on record, {done.pieces} are reported as taken off."
        found.append(("count-off", Critical if spot.kind in STRICT else Major, sentence))
    return found


def _who(spot: Spot, done: Done) -> list[Broken]:
    told = standing(done.by, "apply", spot.kind, spot.done_at, hot=is_hot(spot.position))
    if told.ok:
        return []
    return [("not-certified", Critical if spot.kind in STRICT else Major, told.sentence)]


def _lockout(spot: Spot, done: Done) -> list[Broken]:
    held = Lockout.objects.filter(
        Q(removed_at=None) | Q(removed_at__gte=spot.done_at),
        position=spot.position,
        person=done.by,
        complete_at__lte=spot.done_at,
    )
    if held.exists():
        return []
    if done.lock_number.strip():
        return [("lockout-on-paper", Minor, f"Lock {done.lock_number.strip()} is written down; its steps are not.")]
    return [
        ("no-lockout", Critical, "No lockout is on record for this work. Ask the person, and the plant's procedure.")
    ]


def _recipe(spot: Spot, done: Done) -> list[Broken]:
    found: list[Broken] = []
    version = done.version
    if version is None or version.stock is None:
        return [("no-recipe", Major, "Tape was put on without a recipe.")]
    begun = version.in_force_at is not None and version.in_force_at <= spot.done_at
    if not begun or (version.ended_at is not None and version.ended_at <= spot.done_at):
        found.append(("not-in-force", Major, f"{version} was not in force then."))
    elif version.unsafe_at is not None or version.ended_at is not None:
        found.append(("ended-since", Minor, f"{version} was in force then; it has ended since. Nobody could know."))
    if version.recipe.position_id != spot.position.pk:
        found.append(("other-position", Major, f"{version} belongs to {version.recipe.position}."))
    if spot.kind not in version.stock.room_kinds:
        found.append(("stock-not-permitted", Major, f"Tape {version.stock} is not permitted in a {spot.kind} room."))
    wanted = expected_pieces(version)
    if done.pieces != wanted:
        found.append(("pieces-off", Major, f"The recipe has {wanted} pieces, {done.pieces} are reported."))
    if spot.state != TapeState.BARE:
        found.append(("not-bare", Major, f"The roller was {spot.state} by the record, not bare."))
    return found


def _reel(spot: Spot, done: Done) -> list[Broken]:
    reel = done.reel
    if reel is None:
        return [("no-reel", Major, "No reel is named: nobody can say from which lot the tape is.")]
    if _unusable(spot, reel, spot.done_at):
        return []  # said where its length is cut
    now = _unusable(spot, reel, spot.at)
    return [("reel-barred-since", Minor, f"{now} That was not known then.")] if now else []


def _unusable(spot: Spot, reel: Reel, at: datetime) -> str:
    try:
        require_usable(reel, position=spot.position, room_kind=spot.kind, at=at)
    except Refused as refusal:
        return refusal.sentence
    return ""
