"""The way back: what a line made between two times, and which lots were on the rollers of a roll."""

from collections import defaultdict
from dataclasses import dataclass
from datetime import datetime

from django.db.models import Q
from django.db.models.functions import Coalesce

from plant.floor.models import Line, PathStep
from rollers.models import Application, Piece, Reel, Roll
from rollers.queries_made import Passed, passed_by, rolls_of
from rollers.services.holds import ran, runs_between


def made_between(line: Line, since: datetime, until: datetime, at: datetime) -> list[Passed]:
    """What a line made between two times: every run with its rolls and the stretches without one."""
    found = []
    runs = runs_between(line, since, until)
    rolls = rolls_of(run.pk for run in runs)
    for run in runs:
        found.append(passed_by(run, ran(run, at), rolls[run.pk], since, until))
    return [one for one in found if one.metres > 0 or one.rolls]


@dataclass(frozen=True)
class TapeOfRoll:
    """A taping that was on a roller while a roll was made, with its reels and lots."""

    application: Application
    reels: tuple[Reel, ...]
    pieces: int


def tape_of_roll(roll: Roll) -> list[TapeOfRoll]:
    """Every taping on the path of a roll while it was made, in path order."""
    steps = dict(PathStep.objects.filter(path=roll.run.path).values_list("position", "order"))
    rows = Application.objects.filter(position__in=steps).exclude(state="planned")
    rows = rows.annotate(begun=Coalesce("applied_at", "planned_at")).filter(begun__lt=roll.ended_at)
    rows = rows.filter(Q(ended_at=None) | Q(ended_at__gt=roll.began_at))
    rows = rows.select_related("position__room", "body", "applier", "checker", "recipe_version__recipe")
    applications = list(rows.select_related("recipe_version__stock"))
    reels: dict[int, set[Reel]] = defaultdict(set)
    count: dict[int, int] = defaultdict(int)
    pieces = Piece.objects.filter(application__in=[row.pk for row in applications])
    for piece in pieces.select_related("reel__lot__stock"):
        count[piece.application_id] += 1
        if piece.reel is not None:
            reels[piece.application_id].add(piece.reel)
    return [
        TapeOfRoll(row, tuple(sorted(reels[row.pk], key=lambda reel: reel.label)), count[row.pk])
        for row in sorted(applications, key=lambda row: (steps[row.position_id], row.pk))
        if count[row.pk]
    ]
