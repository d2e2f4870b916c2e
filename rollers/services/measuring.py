"""Tape that was wound is measured, then pieces and offcuts are counted and the knife is back."""

from collections.abc import Mapping
from datetime import datetime, timedelta
from typing import Any

from django.db import transaction

from plant.errors import Conflict, Refused
from plant.floor.models import Position
from plant.people.models import Person
from rollers.models import Application, Knife, RecipeVersion, TapeFact
from rollers.models.tape import TapeState
from rollers.queries import label_of
from rollers.queries_application import is_counted, knives_out
from rollers.services.applications import let_work, note_exception
from rollers.services.knives import bring_back
from rollers.services.lockouts import require_lockout
from rollers.services.spot import NOW, Sent, Spot, carry_on, lock_spot, move_on, need_application
from training.services.telling import tell_job_done

BUILD_SHARE, BUILD_DIFFERENCE_MM = 0.10, 0.02  # our own defaults
PLACE_MM = {"general": 2.0, "food": 2.0, "medical": 1.0}  # our own defaults


def build_troubles(version: RecipeVersion, builds: Mapping[str, float]) -> list[str]:
    """What is wrong with a measured build: each end within 10 % of nominal, ends alike within 0.02 mm or 10 %."""
    thickness = version.stock.thickness_mm if version.stock else 0
    nominal: dict[str, float] = {}
    for band in version.bands.all():
        nominal[band.end] = max(nominal.get(band.end, 0), band.wraps * thickness)
    troubles = [
        f"{end} end {builds[end]:.3f} mm against {value:.3f} mm nominal"
        for end, value in nominal.items()
        if abs(builds[end] - value) > BUILD_SHARE * value + 1e-9
    ]
    if len(builds) == 2:
        difference = abs(builds["operator"] - builds["drive"])
        if difference > max(BUILD_DIFFERENCE_MM, BUILD_SHARE * max(nominal.values())) + 1e-9:
            troubles.append(f"the ends differ by {difference:.3f} mm: the web would steer")
    return troubles


def edge_troubles(version: RecipeVersion, edges: Mapping[str, float], room_kind: str) -> list[str]:
    """Inner edges of the tape from the roller centre against the recipe: within 2 mm, in medical rooms 1 mm."""
    nominal: dict[str, float] = {}
    for band in version.bands.all():
        nominal[band.end] = min(nominal.get(band.end, band.inner_mm), band.inner_mm)
    allowed = PLACE_MM[room_kind]
    return [
        f"the inner edge at the {end} end is at {edges[end]:g} mm, the recipe says {value:g} mm (within {allowed:g} mm)"
        for end, value in nominal.items()
        if abs(edges[end] - value) > allowed + 1e-9
    ]


def _refuse_early(spot: Spot, application: Application) -> None:
    rest = timedelta(minutes=spot.controls["dwell_minutes"])
    if application.origin == Application.Origin.PLAN and application.applied_at is not None:
        ready = application.applied_at + rest
        if spot.done_at < ready:
            minutes = int((ready - spot.done_at).total_seconds() // 60) + 1
            sentence = f"{spot.position}: press the tape down and let it rest {minutes} min more, then measure."
            raise Refused("dwell", sentence)


@transaction.atomic
def measure_tape(
    position: Position,
    *,
    builds: Mapping[str, float],
    edges: Mapping[str, float],
    by: Person,
    at: datetime,
    runout_mm: float | None = None,
    sent: Sent = NOW,
) -> TapeFact:
    """Record the build and the inner edge at each taped end, mm. Whoever began while certified may finish."""
    spot = lock_spot(position, by, at, sent)
    if spot.known:
        return spot.known
    application = need_application(spot, Application.State.APPLIED, what="measure")
    version = application.recipe_version
    if version is None or spot.state != TapeState.TAPED:
        raise Refused("not-taped", f"{position} is {spot.state}: there is no recorded tape to measure.")
    lockout = require_lockout(position, by, spot.done_at)
    standing = let_work(spot, by, f"Measuring tape on {position}", started_at=lockout.begun_at)
    _refuse_early(spot, application)
    ends = {band.end for band in version.bands.all()}
    for name, typed, what in (("builds", builds, "build"), ("edges", edges, "inner edge")):
        if set(typed) != ends:
            sentence = f"Type the {what} at the {' and the '.join(sorted(ends))} end, in mm."
            raise Refused(name, sentence, field=name)
    troubles = build_troubles(version, builds) + edge_troubles(version, edges, spot.kind)
    if troubles:
        sentence = f"{position}: {troubles[0]}. Measure again; if it stays so, take the tape off and wind it anew."
        raise Refused("build-off", sentence, field="builds", details=troubles)
    move_on(application, Application.State.MEASURED)
    details: dict[str, Any] = {
        "builds_mm": {end: str(value) for end, value in builds.items()},
        "inner_edges_mm": {end: str(value) for end, value in edges.items()},
    }
    if runout_mm is not None:
        details["runout_mm"] = str(runout_mm)
    fact = carry_on(
        spot,
        TapeFact.Kind.MEASURED,
        by=by,
        sentence=f"{by.name} measured {label_of(version)} on {position}: within limits",
        measured=True,
        details=details,
    )
    note_exception(standing, fact, spot, by=by)
    return fact


@transaction.atomic
def count_back(
    position: Position,
    *,
    pieces: int,
    offcuts: int,
    by: Person,
    at: datetime,
    knives: Mapping[str, bool] | None = None,
    sent: Sent = NOW,
) -> TapeFact:
    """Count the pieces on the roller and the offcuts in the bag; the knife is back. The job at the roller is done.

    `knives`: by number, those that come back now, and whether they are whole.
    """
    spot = lock_spot(position, by, at, sent)
    if spot.known:
        return spot.known
    application = need_application(spot, Application.State.MEASURED, what="count")
    if is_counted(application):
        raise Conflict("already", f"{position}: pieces and offcuts were counted already. Nothing was changed.")
    lockout = require_lockout(position, by, spot.done_at)
    standing = let_work(spot, by, f"Counting at {position}", started_at=lockout.begun_at)
    if pieces != spot.pieces:
        sentence = f"{spot.pieces} pieces are recorded, you count {pieces}. Count again; a lane may be doubled or open."
        raise Refused("pieces", sentence, field="pieces")
    if offcuts < 0:
        raise Refused("offcuts", "Count the offcuts in the bag: 0 or more.", field="offcuts")
    coming = dict(knives or {})
    out = [number for number in knives_out(application) if number not in coming]
    if out:
        sentence = (
            f"Knife {out[0]} is not back. Bring it back and record it; nothing starts with a knife at the roller."
        )
        raise Refused("knife-out", sentence, field="knife")
    for knife in Knife.objects.filter(number__in=coming):
        bring_back(knife, by=by, at=at, whole=coming[knife.number], application=application)
    fact = carry_on(
        spot,
        TapeFact.Kind.COUNTED,
        by=by,
        sentence=f"{by.name} counted {pieces} pieces on {position}, {offcuts} offcuts in the bag",
        details={"pieces_seen": pieces, "offcuts": offcuts, "knives": sorted(coming)},
    )
    note_exception(standing, fact, spot, by=by)
    tell_job_done(
        by,
        "apply",
        spot.kind,
        spot.done_at,
        f"{position}, {label_of(application.recipe_version)}" if application.recipe_version else str(position),
        standing.answerable,
        key=f"tape-fact:{fact.pk}",
        recorded_at=at,
    )
    return fact
