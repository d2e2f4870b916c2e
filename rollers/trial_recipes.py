"""Trials of tape while they go on: which are over, which nobody started, and whether their engineer is there."""

from collections.abc import Iterable, Mapping
from datetime import datetime

from plant.audit.models import Signature
from plant.floor.queries import on_shift
from plant.people.models import Role
from plant.people.queries import roles_of
from rollers.models import RecipeVersion, Roll
from rollers.queries import label_of
from rollers.rules import Finding, Weight

STARTED = "trial started, engineer present"
ENGINEER = "the process engineer"


def over_because(version: RecipeVersion, at: datetime) -> str:
    """Why a trial is over; empty while it goes on, and for a recipe that is no trial."""
    if version.trial_ends_at is None:
        return ""
    if at >= version.trial_ends_at:
        return f"The trial ended by itself with its time, {version.trial_ends_at:%Y-%m-%d %H:%M} UTC."
    if version.trial_rolls and version.in_force_at is not None:
        made = Roll.objects.filter(run__line=version.step.path.line_id, began_at__gte=version.in_force_at).count()
        if made >= version.trial_rolls:
            return f"The trial ended by itself after {made} rolls."
    return ""


def is_started(version: RecipeVersion) -> bool:
    """Whether an engineer signed that the trial starts and that they are there."""
    rows = Signature.objects.filter(subject_type="recipeversion", subject_id=str(version.pk), meaning=STARTED)
    return rows.exists()


def engineers_here(at: datetime) -> list[str]:
    """Names of the engineers on shift."""
    return [person.name for person in on_shift(at) if Role.ENGINEER in roles_of(person, at)]


def trials_among(versions: Iterable[RecipeVersion | None], at: datetime) -> dict[int, Finding]:
    """What stands against recipes that are trials, by version id; asks nothing where none is one."""
    trials = {row.pk: row for row in versions if row is not None and row.trial_ends_at is not None}
    if not trials:
        return {}
    present = bool(engineers_here(at))
    found = {}
    for key, version in trials.items():
        label, why = label_of(version), over_because(version, at)
        if why:
            said = f"{label}: {why} Take its tape off, or sign a lasting recipe."
            found[key] = Finding("trial-over", Weight.BLOCK, said, ENGINEER)
        elif not is_started(version):
            said = f"{label} is a trial, and its start is not signed. The engineer who is there signs it on its page."
            found[key] = Finding("trial-not-started", Weight.BLOCK, said, ENGINEER)
        elif not present:
            said = f"{label} is a trial: it runs while its engineer is there, and no engineer is on shift now."
            found[key] = Finding("trial-alone", Weight.BLOCK, said, ENGINEER)
    return found


def said_at(code: str, found: Mapping[int, Finding], *version_ids: int | None) -> list[Finding]:
    """The findings of the recipe asked for and of the one that is on, once each, with the roller they are about."""
    keys = [key for key in dict.fromkeys(version_ids) if key in found]
    return [
        Finding(found[key].code, found[key].weight, f"{code}: {found[key].sentence}", found[key].who)
        for key in keys
        if key is not None
    ]
