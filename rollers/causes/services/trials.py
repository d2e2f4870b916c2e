"""Trying tape under the engineer's eyes: one shift or three rolls at the most, then it ends by itself."""

from datetime import datetime

from django.db import transaction

from plant.audit.services import Confirmation, record, sign
from plant.errors import Conflict, Refused
from plant.floor.queries import on_shift, shift_at
from plant.people.access import require_role
from plant.people.models import Person, Role
from rollers.causes import rules
from rollers.causes.services.sightings import stream_of
from rollers.models import Recipe, RecipeVersion, Task
from rollers.queries import label_of
from rollers.queries_registry import mounted_at, tape_state
from rollers.services.approving import content_of
from rollers.services.recipes import locked
from rollers.services.tasks import open_task
from rollers.trial_recipes import STARTED, is_started, over_because

HOLDS = (RecipeVersion.State.DRAFT, RecipeVersion.State.CHECKED, RecipeVersion.State.IN_FORCE)


def _refuse_absent(by: Person, at: datetime) -> None:
    if by.pk not in {person.pk for person in on_shift(at)}:
        sentence = f"{by.name} is not on shift now. A trial runs while its engineer is there: plan the shift first."
        raise Refused("not-present", sentence)


@transaction.atomic
def make_trial(
    version: RecipeVersion,
    *,
    by: Person,
    at: datetime,
    rolls: int = rules.MOST_ROLLS,
    ends_at: datetime | None = None,
) -> RecipeVersion:
    """Turn a draft into a trial; it is signed like any recipe, and ends with the shift or after its rolls.

    The engineer who tries it is on shift: nobody tries tape for somebody who is not there.
    """
    require_role(by, Role.ENGINEER, at=at, act="Trying tape")
    version = locked(version)
    if version.state != RecipeVersion.State.DRAFT or version.stock is None:
        raise Refused("no-draft", "Only a draft with tape becomes a trial. Draft one on the sizing page.")
    _refuse_absent(by, at)
    shift = shift_at(at)
    last = min(at + rules.SHIFT, shift.ends_at if shift else at + rules.SHIFT)
    ends_at = ends_at or last
    if not at < ends_at <= last:
        sentence = f"A trial lasts one shift at the most: it ends by {last:%Y-%m-%d %H:%M} UTC."
        raise Refused("too-long", sentence, field="ends_at")
    if not 1 <= rolls <= rules.MOST_ROLLS:
        raise Refused("too-many-rolls", f"A trial takes 1 to {rules.MOST_ROLLS} rolls.", field="rolls")
    if version.recipe.kind != Recipe.Kind.TRIAL and version.number > 1:
        sentence = f"“{version.recipe.title}” is a lasting recipe here. Draft the trial under a title of its own."
        raise Refused("title-taken", sentence, field="version")
    Recipe.objects.filter(pk=version.recipe_id).update(kind=Recipe.Kind.TRIAL)
    version.trial_ends_at, version.trial_rolls = ends_at, rolls
    version.save(update_fields=["trial_ends_at", "trial_rolls"])
    position = version.recipe.position
    record(
        stream=stream_of(position.line),
        action="make-trial",
        subject=version,
        sentence=f"{label_of(version)} at {position.code} is a trial: {rolls} rolls at most, until {ends_at:%H:%M} UTC",
        by=by,
        at=at,
        facts={"ends_at": ends_at, "rolls": rolls},
    )
    return version


@transaction.atomic
def start_trial(version: RecipeVersion, *, confirmation: Confirmation) -> RecipeVersion:
    """The engineer signs that the trial starts and that they are there; until then no run is released on it."""
    by, at = confirmation.person, confirmation.at
    require_role(by, Role.ENGINEER, at=at, act="Starting a trial of tape")
    version = locked(version)
    if version.trial_ends_at is None:
        raise Refused("no-trial", "This recipe is no trial and needs no start. Make a draft a trial first.")
    if version.state != RecipeVersion.State.IN_FORCE:
        sentence = f"This trial is {version.state}. It starts once its author and the supervisor signed it."
        raise Refused("not-in-force", sentence)
    why = over_because(version, at)
    if why:
        raise Refused("trial-over", f"{why} Draft a new trial if it is still to be tried.")
    _refuse_absent(by, at)
    if is_started(version):
        raise Conflict("started", "The start of this trial is signed already. Reload the page.")
    position = version.recipe.position
    content = content_of(version) | {"trial_ends_at": version.trial_ends_at.isoformat(), "rolls": version.trial_rolls}
    signature = sign(confirmation, meaning=STARTED, subject=version, content=content)
    record(
        stream=stream_of(position.line),
        action="start-trial",
        subject=version,
        sentence=f"{by.name} starts the trial {label_of(version)} at {position.code} and is there",
        by=by,
        at=at,
        facts={"signature": signature.digest},
    )
    return version


@transaction.atomic
def end_trial(version: RecipeVersion, *, why: str, by: Person | None, at: datetime) -> RecipeVersion:
    """Take a trial out of force; where its tape is on, its removal becomes a task of this stop."""
    version = locked(version)
    if by is not None:
        require_role(by, Role.ENGINEER, Role.SUPERVISOR, Role.QA, at=at, act="Ending a trial")
    if version.trial_ends_at is None:
        raise Refused("no-trial", "This recipe is no trial. Withdraw it on its page.")
    if version.state not in HOLDS:
        return version
    position = version.recipe.position
    version.products.filter(in_force=True).update(in_force=False)
    RecipeVersion.objects.filter(pk=version.pk).update(state=RecipeVersion.State.WITHDRAWN, ended_at=at, end_reason=why)
    record(
        stream=stream_of(position.line),
        action="end-trial",
        subject=version,
        sentence=f"trial {label_of(version)} at {position.code} ended",
        by=by,
        at=at,
        reason=why,
    )
    mounting = mounted_at(position)
    if mounting is not None and tape_state(mounting.body) in ("taped", "partial"):
        open_task(
            Task.Kind.REDUCE,
            f"trial-over:{version.pk}",
            f"{position.code}: {why} Take its tape off in this stop, or sign a lasting recipe.",
            at=at,
            by=by,
            for_role=Role.SUPERVISOR,
            due=at,
            line=position.line,
            position=position,
        )
    version.refresh_from_db()
    return version


def end_due_trials(at: datetime) -> list[int]:
    """End every trial whose time or rolls are over."""
    ended = []
    rows = RecipeVersion.objects.filter(trial_ends_at__isnull=False, state__in=HOLDS).select_related("step__path")
    for version in rows:
        why = over_because(version, at)
        if why:
            end_trial(version, why=why, by=None, at=at)
            ended.append(version.pk)
    return ended
