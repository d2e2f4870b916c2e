"""A job at one roller as its steps: what is done, what is to be done now, and what follows."""

from dataclasses import dataclass
from datetime import datetime, timedelta
from zoneinfo import ZoneInfo

from rollers.control import controls
from rollers.models import Application, Lockout, TapeFact
from rollers.queries_application import facts_of_application, is_counted, lock_of, open_application, pieces_on
from rollers.rules_application import LOCKOUT
from rollers.services.lockouts import next_step
from rollers.tablet import RollerNow

TRACKS = {"apply": "Put the tape on", "remove": "Take the tape off", "clean": "Clean the face"}
State = Application.State


@dataclass(frozen=True)
class JobStep:
    """One step: `word` is done, now or later; `told` says when and by whom it was done."""

    key: str
    title: str
    word: str
    told: str = ""


@dataclass(frozen=True)
class Job:
    """The steps of a job for one person, and the one that is open."""

    track: str
    steps: tuple[JobStep, ...]
    present: str
    lockout: Lockout | None
    application: Application | None
    rest_until: str = ""
    others: tuple[str, ...] = ()

    @property
    def lock_step(self) -> tuple[str, str] | None:
        """The step of the lockout that is to be confirmed now."""
        key = next_step(self.lockout) if self.lockout else ""
        return (key, dict(LOCKOUT)[key]) if key else None

    @property
    def number(self) -> int:
        """Which step is open, from 1."""
        words = [step.word for step in self.steps]
        return words.index("now") + 1 if "now" in words else len(words)


STEPS = {
    "apply": (
        ("begin", "Begin the job"),
        *((f"lock-{key}", sentence) for key, sentence in LOCKOUT),
        ("prepare", "Face clean and dry, lanes marked"),
        ("wind", "Wind the tape, cut, press down"),
        ("measure", "Measure build and edges"),
        ("count", "Count pieces and offcuts, knife back"),
        ("lock-off", "Take your lock off"),
    ),
    "remove": (
        ("begin", "Begin the job"),
        *((f"lock-{key}", sentence) for key, sentence in LOCKOUT),
        ("remove", "Begin to take the tape off"),
        ("pieces", "Every piece into the counted bag"),
        ("finish", "Clean the face, look at it"),
        ("lock-off", "Take your lock off"),
    ),
    "clean": (
        ("begin", "Begin the job"),
        *((f"lock-{key}", sentence) for key, sentence in LOCKOUT),
        ("clean", "Clean the face, look at it"),
        ("lock-off", "Take your lock off"),
    ),
}


def _present(track: str, found: RollerNow, application: Application | None, mine: Lockout | None) -> str:
    if track == "apply":
        work = _apply_step(application)
    elif track == "remove":
        work = _remove_step(found, application, mine)
    else:
        work = "clean" if found.row.on.state == "residue" else ""
    if work == "" and mine is None:
        return ""
    if mine is None:
        return "begin"
    if not mine.holds:
        return f"lock-{next_step(mine)}"
    return work or "lock-off"


def _apply_step(application: Application | None) -> str:
    if application is None or application.state == State.PLANNED:
        return "begin"
    if application.state == State.LOCKED_OUT:
        prepared = facts_of_application(application, TapeFact.Kind.PREPARED).exists()
        return "wind" if prepared else "prepare"
    if application.state == State.APPLIED:
        return "measure"
    if application.state == State.MEASURED and application.origin == "plan" and not is_counted(application):
        return "count"
    return ""


def _remove_step(found: RollerNow, application: Application | None, mine: Lockout | None) -> str:
    if application is None:
        on = found.row.on.state in ("taped", "partial") or (found.fact is not None and found.fact.carries_tape)
        return "remove" if on and found.row.on.state != "residue" else ""
    if application.state == State.PARTIAL:
        newest = facts_of_application(application, TapeFact.Kind.REMOVING, TapeFact.Kind.REMOVED).last()
        stopped = newest is not None and newest.details.get("stopped")
        if mine is not None and stopped:
            return "remove"
    elif application.state != State.REMOVING:
        return "remove" if application.state not in (State.PLANNED, State.LOCKED_OUT) else ""
    left = pieces_on(application.body)
    counted = facts_of_application(application, TapeFact.Kind.REMOVED).exists()
    return "pieces" if left or not counted else "finish"


def _told(step: str, mine: Lockout | None, zone: ZoneInfo) -> str:
    if mine is None or not step.startswith("lock-"):
        return ""
    for row in mine.steps:
        if f"lock-{row['key']}" == step:
            return f"{datetime.fromisoformat(row['at']).astimezone(zone):%H:%M}"
    return ""


def job_now(found: RollerNow, track: str, person_id: int, zone: ZoneInfo) -> Job:
    """The job of one person at a roller, read from what is on record."""
    position = found.row.position
    application = open_application(found.body) if found.body is not None else None
    mine = lock_of(position, person_id)
    present = _present(track, found, application, mine)
    keys = [key for key, _ in STEPS[track]]
    here = keys.index(present) if present in keys else len(keys)
    steps = tuple(
        JobStep(key, title, "done" if index < here else "now" if index == here else "later", _told(key, mine, zone))
        for index, (key, title) in enumerate(STEPS[track])
    )
    others = Lockout.objects.filter(position=position, removed_at=None).exclude(person=person_id)
    return Job(
        track=track,
        steps=steps,
        present=present,
        lockout=mine,
        application=application,
        rest_until=_rest(application, zone) if present == "measure" else "",
        others=tuple(
            f"Lock {row.lock_number or 'not hung yet'} of {row.person.name} is here too."
            for row in others.select_related("person")
        ),
    )


def _rest(application: Application | None, zone: ZoneInfo) -> str:
    if application is None or application.applied_at is None:
        return ""
    ready = application.applied_at + timedelta(minutes=controls()["dwell_minutes"])
    return f"{ready.astimezone(zone):%H:%M}"
