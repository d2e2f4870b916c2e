"""Putting tape on: applied, measured, checked. The short form.

Each act is a fact that is added, never changed; the state after it stands in the fact.
"""

from collections.abc import Collection, Mapping
from datetime import datetime

from django.db import transaction

from plant.errors import Refused
from plant.floor.models import PathStep, Position
from plant.people.models import Person
from rollers import rules
from rollers.models import RecipeVersion, TapeFact
from rollers.models.tape import TapeState
from rollers.queries import label_of
from rollers.services.recipes import refuse_place
from rollers.services.spot import carry_on, confirm_lockout, done_time, lock_spot, write_fact
from training.access import require_skill

HOT_ABOVE_C = 45.0  # common practice of the trade, no source: above this a bare hand does not stay on metal
BUILD_SHARE, BUILD_DIFFERENCE_MM = 0.10, 0.02  # our own defaults


def expected_pieces(version: RecipeVersion) -> int:
    """One piece for each lane of each band."""
    width = version.stock.width_mm if version.stock else 0
    return sum(rules.lanes(band.inner_mm, band.outer_mm, width) for band in version.bands.all()) if width else 0


@transaction.atomic
def apply_tape(
    position: Position,
    version: RecipeVersion,
    *,
    step: PathStep,
    pieces: int,
    lockout: Collection[str],
    lock_number: str,
    by: Person,
    at: datetime,
    done_at: datetime | None = None,
    seen: int | None = None,
) -> TapeFact:
    """Record tape wound on by a recipe in force, under lockout."""
    spot = lock_spot(position, seen, at)
    hot = position.surface_temp_c is not None and position.surface_temp_c > HOT_ABOVE_C
    require_skill(by, "apply", spot.kind, at, f"Putting tape on {position}", hot=hot)
    done_at = done_time(done_at, at, spot)
    details = confirm_lockout(lockout, lock_number)
    # As it is now, and held: the page may have been opened before it was withdrawn.
    state = RecipeVersion.objects.select_for_update().get(pk=version.pk).state
    if state != RecipeVersion.State.IN_FORCE or version.stock is None:
        sentence = f"{label_of(version)} is not a taped recipe in force. Ask a person with Size, or the supervisor."
        raise Refused("not-in-force", sentence)
    if version.recipe.position_id != position.pk or step.position_id != position.pk:
        raise Refused("other-position", f"This recipe belongs to {version.recipe.position}, not to {position}.")
    if spot.kind not in version.stock.room_kinds:
        sentence = f"Tape {version.stock} is not permitted in this {spot.kind} room. Ask QA."
        raise Refused("stock-not-permitted", sentence)
    refuse_place(step, version.stock, spot.kind, [row.product for row in version.products.all()], at)
    if spot.state != TapeState.BARE:
        sentence = f"{position} is {spot.state}. It must be recorded bare and clean first: remove, clean, look."
        raise Refused("not-bare", sentence)
    wanted = expected_pieces(version)
    if pieces != wanted:
        sentence = f"This recipe has {wanted} pieces (one a lane); you typed {pieces}. Count again on the roller."
        raise Refused("pieces", sentence, field="pieces")
    return write_fact(
        spot,
        TapeFact.Kind.APPLIED,
        TapeState.TAPED,
        by=by,
        at=at,
        done_at=done_at,
        sentence=f"{by.name} put {label_of(version)} on {position} ({spot.body})",
        recipe_version=version,
        orientation=spot.mounting.orientation,
        rotation=step.rotation,
        applier=by,
        pieces=pieces,
        details=details,
    )


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


@transaction.atomic
def measure_tape(
    position: Position,
    *,
    builds: Mapping[str, float],
    by: Person,
    at: datetime,
    done_at: datetime | None = None,
    seen: int | None = None,
) -> TapeFact:
    """Record the build at each taped end, mm."""
    spot = lock_spot(position, seen, at)
    require_skill(by, "apply", spot.kind, at, f"Measuring tape on {position}")
    fact, version = spot.fact, spot.fact.recipe_version if spot.fact else None
    if fact is None or version is None or spot.state != TapeState.TAPED:
        raise Refused("not-taped", f"{position} is {spot.state}: there is no recorded tape to measure.")
    ends = {band.end for band in version.bands.all()}
    if set(builds) != ends:
        sentence = f"Type the build at the {' and the '.join(sorted(ends))} end, in mm."
        raise Refused("builds", sentence, field="builds")
    troubles = build_troubles(version, builds)
    if troubles:
        sentence = f"{position}: {troubles[0]}. Measure again; if it stays so, take the tape off and wind it anew."
        raise Refused("build-off", sentence, field="builds", details=troubles)
    return carry_on(
        spot,
        fact,
        TapeFact.Kind.MEASURED,
        by=by,
        at=at,
        done_at=done_time(done_at, at, spot),
        sentence=f"{by.name} measured {label_of(version)} on {position}: within limits",
        measured=True,
        details={"builds_mm": {end: str(value) for end, value in builds.items()}},
    )


@transaction.atomic
def check_tape(
    position: Position,
    *,
    pieces: int,
    tail_trails: bool,
    by: Person,
    at: datetime,
    done_at: datetime | None = None,
    seen: int | None = None,
) -> TapeFact:
    """The second person looks: pieces, tail, recipe. Never the one who applied."""
    spot = lock_spot(position, seen, at)
    require_skill(by, "check", spot.kind, at, f"Checking tape on {position}")
    fact, version = spot.fact, spot.fact.recipe_version if spot.fact else None
    if fact is None or version is None or spot.state != TapeState.TAPED:
        raise Refused("not-taped", f"{position} is {spot.state}: there is no recorded tape to check.")
    if fact.applier_id == by.pk:
        sentence = f"{by.name} put this tape on and cannot check it. A second person with Check has to look."
        raise Refused("same-person", sentence)
    if not fact.measured:
        raise Refused("not-measured", f"{position}: measure the build first, then check.")
    if not tail_trails:
        sentence = f"{position}: a leading tail gets lifted. Take the tape off and wind it in the running direction."
        raise Refused("tail-leads", sentence, field="tail_trails")
    if pieces != fact.pieces:
        sentence = (
            f"{fact.pieces} pieces are recorded, you see {pieces}. Count again; if it stays so, stop and call QA."
        )
        raise Refused("pieces", sentence, field="pieces")
    return carry_on(
        spot,
        fact,
        TapeFact.Kind.CHECKED,
        by=by,
        at=at,
        done_at=done_time(done_at, at, spot),
        sentence=f"{by.name} checked {label_of(version)} on {position}",
        checked=True,
        details={"tail_trails": True, "pieces_seen": pieces},
    )
