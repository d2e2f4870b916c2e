"""What a lot touched: reels, tapings, runs and rolls; and the way back from a roll to the lots on its rollers.

A fixed number of queries, whatever the years on record; identities go to the database in portions.
"""

from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, field
from datetime import datetime

from django.db.models import Q

from plant.audit.models import Event
from plant.floor.models import PathStep, Room, RoomClass, Run
from rollers.models import Application, Hold, Lot, LotAct, Piece, PieceFact, Reel, ReelMove
from rollers.queries_made import Passed, passed_by, portions, ran_of, rolls_of, speeds_of
from rollers.queries_pieces import with_newest
from rollers.queries_store import ReelNow, reels_now
from rollers.rules import STRICT


@dataclass(frozen=True)
class TapingOfLot:
    """A taping with tape of the lot: live while a piece is on the roller."""

    application: Application
    reels: tuple[str, ...]
    pieces: int
    on_now: int
    missing: int
    since: datetime
    until: datetime | None
    room_kind: str
    passed: tuple[Passed, ...] = ()
    hold: Hold | None = None

    @property
    def live(self) -> bool:
        return self.on_now > 0

    @property
    def strict(self) -> bool:
        return self.room_kind in STRICT

    @property
    def metres(self) -> float:
        return sum(one.metres for one in self.passed)

    @property
    def roll_count(self) -> int:
        return sum(len(one.recorded) for one in self.passed)

    @property
    def stretch_count(self) -> int:
        return sum(len(one.stretches) for one in self.passed)


@dataclass(frozen=True)
class Recall:
    """Everything that a lot touched, as far as it is on record at a moment."""

    lot: Lot
    act: LotAct | None
    at: datetime
    tapings: tuple[TapingOfLot, ...]
    reels: tuple[ReelNow, ...]
    drill: Event | None = field(default=None)

    @property
    def live(self) -> list[TapingOfLot]:
        return [one for one in self.tapings if one.live]

    @property
    def past(self) -> list[TapingOfLot]:
        return [one for one in self.tapings if not one.live]

    @property
    def reels_left(self) -> list[ReelNow]:
        return [now for now in self.reels if now.left_m > 0]

    @property
    def counts(self) -> dict[str, int]:
        """The figures at the head of the page; a roll that passed two rollers counts once."""
        passed = [one for taping in self.tapings for one in taping.passed]
        return {
            "live": len(self.live),
            "past": len(self.past),
            "runs": len({one.run.pk for one in passed}),
            "rolls": len({roll.key for one in passed for roll in one.recorded}),
            "stretches": len({(one.run.pk, roll.label) for one in passed for roll in one.stretches}),
            "reels": len(self.reels_left),
        }

    @property
    def metres(self) -> float:
        """Web of every run, each run once with its longest time at one roller."""
        longest: dict[int, float] = defaultdict(float)
        for taping in self.tapings:
            for one in taping.passed:
                longest[one.run.pk] = max(longest[one.run.pk], one.metres)
        return sum(longest.values())


def recall_of(lot: Lot, at: datetime) -> Recall:
    """What a lot touched: tapings with their runs and rolls, and the reels that are left."""
    act = LotAct.objects.filter(lot=lot, status=Lot.Status.RECALLED).select_related("by").order_by("-pk").first()
    reels = reels_now(Reel.objects.filter(lot=lot).select_related("lot__stock"))
    tapings = _with_runs(_tapings(lot), at)
    holds = {hold.application_id: hold for hold in Hold.objects.filter(lot=lot).order_by("pk")}
    shown = [
        TapingOfLot(**{**vars(one), "hold": holds.get(one.application.pk)})
        for one in sorted(tapings, key=lambda one: (not one.live, one.since))
    ]
    return Recall(lot, act, at, tuple(shown), tuple(reels), open_drill(lot))


def open_drill(lot: Lot) -> Event | None:
    """The drill that was begun on this lot and is not finished."""
    rows = Event.objects.filter(stream="drills", subject_type="lot", subject_id=str(lot.pk))
    newest = rows.select_related("actor").order_by("-seq").first()
    return newest if newest is not None and newest.action == "begin-recall-drill" else None


def _tapings(lot: Lot) -> list[TapingOfLot]:
    pieces: dict[int, list[str]] = defaultdict(list)
    labels: dict[int, set[str]] = defaultdict(set)
    rows = with_newest(Piece.objects.filter(reel__lot=lot)).values_list("application", "now", "reel__label")
    for application, state, label in rows:
        pieces[application].append(state)
        labels[application].add(label)
    first: dict[int, datetime] = {}
    cuts = ReelMove.objects.filter(reel__lot=lot, kind=ReelMove.Kind.CUT).exclude(application=None)
    for key, when, label in cuts.order_by("at").values_list("application", "at", "reel__label"):
        first.setdefault(key, when)
        labels[key].add(label)
    last = _last_facts(lot)
    applications = list(_applications(labels))
    classes = _classes({row.position.room for row in applications})
    found = []
    for row in applications:
        states = pieces[row.pk]
        on_now = sum(state == PieceFact.State.ON for state in states)
        begun = [when for when in (row.applied_at, first.get(row.pk)) if when is not None]
        since = min(begun, default=row.planned_at)
        off = last.get(row.pk) or row.ended_at or since
        found.append(
            TapingOfLot(
                application=row,
                reels=tuple(sorted(labels[row.pk])),
                pieces=len(states),
                on_now=on_now,
                missing=sum(state == PieceFact.State.MISSING for state in states),
                since=since,
                until=None if on_now else off,
                room_kind=_kind_at(classes[row.position.room_id], since),
            )
        )
    return found


def _applications(keys: Iterable[int]) -> Iterator[Application]:
    for part in portions(keys):
        rows = Application.objects.filter(pk__in=part)
        rows = rows.select_related("position__line", "position__room", "body", "applier", "recipe_version__recipe")
        yield from rows.select_related("recipe_version__stock").prefetch_related("recipe_version__bands")


def _last_facts(lot: Lot) -> dict[int, datetime]:
    """When the last piece of each taping came off, or was found missing."""
    found: dict[int, datetime] = {}
    facts = PieceFact.objects.filter(piece__reel__lot=lot).exclude(state=PieceFact.State.ON)
    for key, when in facts.order_by("at").values_list("piece__application", "at"):
        found[key] = when
    return found


def _classes(rooms: Iterable[Room]) -> Mapping[int, list[RoomClass]]:
    found: dict[int, list[RoomClass]] = defaultdict(list)
    for row in RoomClass.objects.filter(room__in=list(rooms)).order_by("valid_from"):
        found[row.room_id].append(row)
    return found


def _kind_at(classes: list[RoomClass], at: datetime) -> str:
    """The class a room had at a moment; the strictest where none is recorded."""
    for row in classes:
        if row.valid_from <= at and (row.valid_to is None or row.valid_to > at):
            return row.kind
    return "medical"


# --- runs and rolls ---------------------------------------------------------------------------------------------


def _with_runs(tapings: list[TapingOfLot], at: datetime) -> list[TapingOfLot]:
    """Every taping with the runs that passed it while the tape was on, and their rolls."""
    if not tapings:
        return []
    since = min(one.since for one in tapings)
    until = max(one.until or at for one in tapings)
    lines = {one.application.position.line_id for one in tapings}
    runs = Run.objects.filter(Q(ended_at=None) | Q(ended_at__gt=since), line__in=lines, released_at__lt=until)
    rows = list(runs.select_related("product_version__product", "path", "line").order_by("released_at"))
    steps = PathStep.objects.filter(position__in={one.application.position_id for one in tapings})
    passes = set(steps.values_list("path", "position"))
    by_position = _by_position(rows, passes)
    meeting = [[run for run in by_position[one.application.position_id] if _overlaps(run, one, at)] for one in tapings]
    wanted = {run.pk for some in meeting for run in some}
    rolls, speeds = rolls_of(wanted), speeds_of(wanted)
    went = {run.pk: ran_of(run, speeds[run.pk], at) for run in rows if run.pk in wanted}
    found = []
    for one, some in zip(tapings, meeting, strict=True):
        passed = [passed_by(run, went[run.pk], rolls[run.pk], one.since, one.until or at) for run in some]
        found.append(TapingOfLot(**{**vars(one), "passed": tuple(each for each in passed if each.metres > 0)}))
    return found


def _by_position(runs: list[Run], passes: set[tuple[int, int]]) -> Mapping[int, list[Run]]:
    """Runs whose path passes a position, by position id."""
    positions: dict[int, list[int]] = defaultdict(list)
    for path, position in passes:
        positions[path].append(position)
    found: dict[int, list[Run]] = defaultdict(list)
    for run in runs:
        for position in positions[run.path_id]:
            found[position].append(run)
    return found


def _overlaps(run: Run, taping: TapingOfLot, at: datetime) -> bool:
    """Whether a run went while the tape was on."""
    if run.released_at is None:
        return False
    return run.released_at < (taping.until or at) and (run.ended_at or at) > taping.since
