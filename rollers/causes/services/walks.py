"""Walking the line upstream, roller by roller, and what the walk says."""

from datetime import datetime
from uuid import UUID

from django.db import IntegrityError, transaction

from calcs import VERSION
from calcs.walk import Look, beside_ranking, line_walk
from calcs.walk import Walk as Said
from plant.audit.services import record
from plant.errors import Refused
from plant.floor.models import PathStep, Position, ProductVersion, WebPath
from plant.floor.rules import refuse_out_of_bounds
from plant.people.models import Person
from plant.web.quantities import Figure, taken
from rollers.cases import SetPoints
from rollers.causes.models import Sighting, Walk, WalkLook, WalkResult
from rollers.causes.queries import newest_looks
from rollers.causes.ranking import path_ranking
from rollers.causes.services.sightings import refuse_future, require_active, stream_of

BOUNDS = {"tension_n_per_m": (1.0, 3000.0), "speed_m_per_min": (0.1, 3000.0)}


@transaction.atomic
def start_walk(
    path: WebPath,
    *,
    key: UUID,
    product_version: ProductVersion,
    starts_from: Position,
    by: Person,
    at: datetime,
    tension_n_per_m: Figure = None,
    speed_m_per_min: Figure = None,
    sighting: Sighting | None = None,
) -> Walk:
    """Begin at the roller where it was seen; the walk goes upstream from there. Set-points default to the product's."""
    known = Walk.objects.filter(key=key).first()
    if known is not None:
        return known
    require_active(by, at, "Walking the line")
    if not path.steps.filter(position=starts_from).exists():
        sentence = f"{starts_from.code} is not on path {path.name} of line {path.line.code}. Choose a roller of it."
        raise Refused("off-path", sentence, field="starts_from")
    figures = {
        "tension_n_per_m": product_version.tension_set_n_per_m if tension_n_per_m is None else tension_n_per_m,
        "speed_m_per_min": product_version.speed_set_m_per_min if speed_m_per_min is None else speed_m_per_min,
    }
    numbers, typed = taken(figures, BOUNDS)
    refuse_out_of_bounds(numbers, BOUNDS)
    made = Walk.objects.create(
        key=key,
        line=path.line,
        path=path,
        product_version=product_version,
        sighting=sighting,
        starts_from=starts_from,
        **numbers,
        typed=typed,
        at=at,
        by=by,
    )
    record(
        stream=stream_of(path.line),
        action="start-walk",
        subject=made,
        sentence=f"line walk begun upstream from {starts_from.code} with {product_version.product.code}",
        by=by,
        at=at,
        facts={"key": str(key), "typed": typed, "sighting": sighting.pk if sighting else None},
    )
    return made


@transaction.atomic
def record_look(
    walk: Walk,
    position: Position,
    *,
    key: UUID,
    seen: str,
    by: Person,
    at: datetime,
    recorded_at: datetime | None = None,
    moves_with_roll: str = "",
    changes_with_tension: str = "",
    changes_with_speed: str = "",
) -> WalkLook:
    """Keep what one roller shows. The same `key` is the same look; looking again is a new one that counts instead."""
    known = WalkLook.objects.filter(key=key).first()
    if known is not None:
        return known
    recorded_at = recorded_at or at
    require_active(by, recorded_at, "Walking the line")
    refuse_future(at, recorded_at)
    if seen not in WalkLook.Seen.values:
        raise Refused("seen", "Choose clean, trough or crease.", field="seen")
    answers = {
        "moves_with_roll": moves_with_roll,
        "changes_with_tension": changes_with_tension,
        "changes_with_speed": changes_with_speed,
    }
    for field, answer in answers.items():
        if answer not in WalkLook.Answer.values:
            raise Refused("answer", "Choose yes, no or not tried.", field=field)
    if not walk.path.steps.filter(position=position).exists():
        raise Refused("off-path", f"{position.code} is not on the path of this walk.", field="position")
    try:
        with transaction.atomic():
            made = WalkLook.objects.create(
                key=key, walk=walk, position=position, seen=seen, **answers, at=at, recorded_at=recorded_at, by=by
            )
    except IntegrityError:
        return WalkLook.objects.get(key=key)
    record(
        stream=stream_of(walk.line),
        action="look-at-roller",
        subject=made,
        sentence=f"walk {walk.pk}: {position.code} {seen}",
        by=by,
        at=recorded_at,
        facts={"key": str(key), "at": at, **answers},
    )
    return made


@transaction.atomic
def conclude_walk(walk: Walk, *, by: Person, at: datetime) -> WalkResult:
    """Work out which roller starts it, how sure that is, what contradicts it, and set it beside the mechanics."""
    require_active(by, at, "Walking the line")
    looks = newest_looks(walk)
    if len(looks) < 2:
        sentence = "Look at two rollers at least: the one that shows it, and one upstream of it."
        raise Refused("too-few", sentence)
    steps = list(walk.path.steps.select_related("position").order_by("order"))
    said = says(steps, looks)
    ranking = path_ranking(walk.path, walk.product_version, SetPoints(walk.tension_n_per_m, walk.speed_m_per_min))
    first = next((step.position for step in steps if step.position.code == said.named), None)
    made = WalkResult.objects.create(
        walk=walk,
        first=first,
        sureness=said.sureness,
        answer={
            "kind": said.kind,
            "enters_from": said.enters_from,
            "sentence": said.sentence,
            "looks": {row.position.code: row.seen for row in looks},
            "chances": dict(zip(said.positions, said.chances, strict=True)),
            "parent": said.parent,
            "none": said.none,
            "candidates": list(said.candidates()),
            "contradictions": list(said.contradictions),
            "hints": list(said.hints),
            "look_again": [row.position for row in said.next_looks[:2]],
            "agreement": beside_ranking(said, [row.code for row in ranking.order]),
            "ranking": ranking.as_dict(),
            "limits_version": ranking.limits_version,
        },
        calcs_version=VERSION,
        at=at,
        by=by,
    )
    record(
        stream=stream_of(walk.line),
        action="conclude-walk",
        subject=made,
        sentence=f"walk {walk.pk}: {said.sentence}",
        by=by,
        at=at,
        facts={"looks": made.answer["looks"], "contradictions": list(said.contradictions)},
    )
    return made


def says(steps: list[PathStep], looks: list[WalkLook]) -> Said:
    """What looks along a path say, every roller as likely as the next beforehand."""
    return line_walk([step.position.code for step in steps], [_look(row) for row in looks])


ANSWERS = {WalkLook.Answer.YES: True, WalkLook.Answer.NO: False}


def _look(row: WalkLook) -> Look:
    return Look(
        row.position.code,
        row.seen,
        ANSWERS.get(row.moves_with_roll),  # type: ignore[call-overload]
        ANSWERS.get(row.changes_with_tension),  # type: ignore[call-overload]
        ANSWERS.get(row.changes_with_speed),  # type: ignore[call-overload]
    )
