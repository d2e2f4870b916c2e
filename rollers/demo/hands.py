"""Work at a roller as hands do it, step by step through the full form: for the demo, and for the tests."""

import random
from collections.abc import Iterable, Mapping
from datetime import datetime, timedelta

from plant.audit.services import Confirmation
from plant.floor.models import PathStep, Position
from plant.people.models import Person
from rollers.access import mounting_at
from rollers.models import Bag, Lockout, PieceFact, RecipeVersion, Reel, TapeFact
from rollers.queries_application import lanes_for, lock_of, pieces_on
from rollers.rules_application import LOCKOUT
from rollers.services.applications import begin_application, begin_lockout, confirm_lockout
from rollers.services.applying import prepare_face, wind_tape
from rollers.services.bags import open_bag, open_bag_in
from rollers.services.lockouts import next_step, take_lock_off
from rollers.services.measuring import count_back, measure_tape
from rollers.services.removing import begin_removal, clean_roller, finish_removal, take_off

AGENT = "isopropanol wipes, by the approved list"
WORDS = dict(LOCKOUT)


def confirm_all(position: Position, *, by: Person, at: datetime, lock: str) -> Lockout:
    """Every step of the own lockout that is still to be confirmed, one by one."""
    lockout = lock_of(position, by.pk)
    while lockout is not None and (step := next_step(lockout)):
        lockout = confirm_lockout(position, step, by=by, at=at, lock_number=lock)
    if lockout is None:
        raise ValueError(f"no lockout is begun at {position}")
    return lockout


def lock_out(position: Position, purpose: str, *, by: Person, at: datetime, lock: str = "L-7") -> Lockout:
    """The own lock on, for taking off or cleaning."""
    begin_lockout(position, purpose, by=by, at=at)
    return confirm_all(position, by=by, at=at, lock=lock)


def lock_off(position: Position, *, by: Person, at: datetime) -> None:
    """The own lock off, if it is on."""
    lockout = lock_of(position, by.pk)
    if lockout is not None:
        take_lock_off(lockout, clear=True, told=True, by=by, at=at)


def begin(
    position: Position,
    version: RecipeVersion,
    *,
    step: PathStep,
    by: Person,
    at: datetime,
    lock: str = "L-7",
    certified: Confirmation | None = None,
) -> None:
    """The job begun and locked out."""
    begin_application(position, version, step=step, by=by, at=at, certified=certified)
    confirm_all(position, by=by, at=at, lock=lock)


def prepare(position: Position, *, by: Person, at: datetime) -> TapeFact:
    """The face ready for tape."""
    return prepare_face(position, clean=True, dry=True, no_residue=True, marked=True, face_c=22, by=by, at=at)


def wind(
    position: Position, version: RecipeVersion, reel: Reel, *, step: PathStep, by: Person, at: datetime
) -> TapeFact:
    """Every lane of the recipe from one reel."""
    lanes = lanes_for(version, mounting_at(position).body)
    wound = {lane.number: reel for lane in lanes}
    return wind_tape(position, step=step, wound=wound, tail_trails=True, finish_over_start=True, by=by, at=at)


def edges_of(version: RecipeVersion) -> dict[str, float]:
    """The inner edge at each end, as the recipe has it."""
    edges: dict[str, float] = {}
    for band in version.bands.all():
        edges[band.end] = min(edges.get(band.end, band.inner_mm), band.inner_mm)
    return edges


def builds_of(version: RecipeVersion, drive_more_mm: float = 0.0) -> dict[str, float]:
    """The build at each end, the drive end a little higher, as gauges have it."""
    tape = version.stock.thickness_mm if version.stock else 0.0
    builds: dict[str, float] = {}
    for band in version.bands.all():
        more = drive_more_mm if band.end == "drive" else 0.0
        builds[band.end] = round(max(builds.get(band.end, 0.0), band.wraps * tape + more), 4)
    return builds


def measure(
    position: Position, version: RecipeVersion, *, by: Person, at: datetime, builds: Mapping[str, float] | None = None
) -> TapeFact:
    """Build and edges within limits."""
    return measure_tape(position, builds=builds or builds_of(version), edges=edges_of(version), by=by, at=at)


def count_and_unlock(position: Position, *, by: Person, at: datetime, offcuts: int = 1) -> TapeFact:
    """Pieces and offcuts counted, then the lock off."""
    pieces = len(pieces_on(mounting_at(position).body))
    fact = count_back(position, pieces=pieces, offcuts=offcuts, by=by, at=at)
    lock_off(position, by=by, at=at)
    return fact


def tape(
    position: Position,
    version: RecipeVersion,
    reel: Reel,
    *,
    step: PathStep,
    by: Person,
    at: datetime,
    lock: str = "L-7",
    rest: timedelta = timedelta(minutes=10),
) -> TapeFact:
    """The whole job, locked out to lock off: begun at a moment, measured when the tape has rested."""
    begin(position, version, step=step, by=by, at=at, lock=lock)
    prepare(position, by=by, at=at)
    wind(position, version, reel, step=step, by=by, at=at)
    measure(position, version, by=by, at=at + rest)
    return count_and_unlock(position, by=by, at=at + rest)


def bag_in(position: Position, *, by: Person, at: datetime) -> Bag:
    """A bag of the room that takes pieces."""
    seeded = random.Random(position.room_id)  # noqa: S311  (a label, no secret)
    return open_bag_in(position.room) or open_bag(position.room, by=by, at=at, random=seeded)


def first_pieces(position: Position, count: int, *, end: str = "") -> list[int]:
    """Keys of so many pieces that are on, from the inside, of one end if it is named."""
    on = [piece for piece in pieces_on(mounting_at(position).body) if not end or piece.end == end]
    return [piece.pk for piece in on[:count]]


def take_pieces(
    position: Position,
    pieces: Iterable[int],
    *,
    by: Person,
    at: datetime,
    state: str = PieceFact.State.INTACT,
    **fields: object,
) -> TapeFact:
    """These pieces off, all in one state."""
    outcomes = dict.fromkeys(pieces, str(state))
    return take_off(position, outcomes=outcomes, bag=bag_in(position, by=by, at=at), by=by, at=at, **fields)  # type: ignore[arg-type]


def remove(
    position: Position,
    *,
    by: Person,
    at: datetime,
    residue: str = "none",
    lock: str = "L-7",
    missing: int = 0,
    reason: str = "",
) -> TapeFact:
    """Everything off under lockout, some pieces missing where so many are named; the face looked at; the lock off."""
    lock_out(position, Lockout.Purpose.REMOVE, by=by, at=at, lock=lock)
    begin_removal(position, by=by, at=at, reason=reason)
    on = first_pieces(position, 10_000)
    there, lost = on[: len(on) - missing], on[len(on) - missing :]
    if there:
        take_pieces(position, there, by=by, at=at)
    if lost:
        take_pieces(position, lost, by=by, at=at, state=PieceFact.State.MISSING)
    fact = finish_removal(position, residue=residue, agent=AGENT, surface_ok=residue != "stays", by=by, at=at)
    lock_off(position, by=by, at=at)
    return fact


def clean(position: Position, *, by: Person, at: datetime, lock: str = "L-7") -> TapeFact:
    """Residue off under lockout."""
    lock_out(position, Lockout.Purpose.CLEAN, by=by, at=at, lock=lock)
    fact = clean_roller(position, agent=AGENT, surface_ok=True, by=by, at=at)
    lock_off(position, by=by, at=at)
    return fact
