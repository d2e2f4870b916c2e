"""The lockout: six steps in the order of 29 CFR 1910.147(d), each confirmed by the person whose lock it is."""

from datetime import datetime

from django.db import IntegrityError, transaction

from plant.audit.services import record
from plant.errors import Conflict, Refused
from plant.floor.models import Position
from plant.floor.queries import shift_at
from plant.people.models import Person
from rollers.access import mounting_at
from rollers.models import Application, Lockout
from rollers.queries_application import is_counted, lock_of, open_application
from rollers.rules_application import LOCKOUT, ON_ONES_OWN

KEYS = [key for key, _ in LOCKOUT]
SENTENCES = dict(LOCKOUT)


def stream_of(position: Position) -> str:
    """Locks of a position stay in one order."""
    return f"locks:{position.code}"


def open_lockout(position: Position, purpose: str, *, by: Person, at: datetime) -> Lockout:
    """The person's own lockout here, begun now if there is none. Who may work was asked by the act that calls this."""
    mine = lock_of(position, by.pk)
    if mine is not None:
        if mine.purpose != purpose and not mine.holds:
            mine.purpose = purpose
            mine.save(update_fields=["purpose"])
        return mine
    application = open_application(mounting_at(position).body)
    try:
        with transaction.atomic():
            mine = Lockout.objects.create(
                position=position, application=application, purpose=purpose, person=by, begun_at=at
            )
    except IntegrityError:
        raise Conflict("changed", "You began this lockout a moment ago. Open the page again.") from None
    sentence = f"{by.name} begins to lock out {position} to {mine.get_purpose_display()}"
    record(stream=stream_of(position), action="begin-lockout", subject=mine, sentence=sentence, by=by, at=at)
    return mine


def next_step(lockout: Lockout) -> str:
    """The step that is to be confirmed next; empty when all are."""
    return KEYS[len(lockout.steps)] if len(lockout.steps) < len(KEYS) else ""


@transaction.atomic
def confirm_step(lockout: Lockout, key: str, *, by: Person, at: datetime, lock_number: str = "") -> Lockout:
    """Confirm one step. Out of order is refused; the step that hangs the lock names its number."""
    lockout = Lockout.objects.select_for_update().select_related("position", "person").get(pk=lockout.pk)
    if lockout.person_id != by.pk:
        raise Refused(
            "not-your-lock", f"This is the lockout of {lockout.person.name}. Each locks out for the own hands."
        )
    if lockout.removed_at is not None:
        raise Conflict("lock-off", "This lock is recorded as off. Begin the lockout again.")
    if key in [step["key"] for step in lockout.steps]:
        return lockout  # tapped twice: it is confirmed already
    expected = next_step(lockout)
    if key != expected:
        sentence = f"Lock out step by step. Next is: {SENTENCES[expected]}. Your plant's procedure comes first."
        raise Refused("lockout-order", sentence, field="step")
    if key == ON_ONES_OWN:
        if not lock_number.strip():
            raise Refused("no-lock-number", "Type the number of your own lock.", field="lock_number")
        lockout.lock_number = lock_number.strip()[:20]
    lockout.steps = [*lockout.steps, {"key": key, "at": at.isoformat()}]
    if len(lockout.steps) == len(KEYS):
        lockout.complete_at = at
    lockout.save(update_fields=["steps", "lock_number", "complete_at"])
    record(
        stream=stream_of(lockout.position),
        action="confirm-lockout-step",
        subject=lockout,
        sentence=f"{by.name}, {lockout.position}: {SENTENCES[key]}",
        by=by,
        at=at,
        facts={"step": key, "lock": lockout.lock_number},
    )
    return lockout


def require_lockout(position: Position, by: Person, at: datetime) -> Lockout:
    """The person's own complete lockout, still on and of the present shift; else refused, and nothing overrides it."""
    mine = lock_of(position, by.pk)
    if mine is None or not mine.holds:
        step = next_step(mine) if mine is not None else KEYS[0]
        sentence = (
            f"Lock out {position} first, step by step. Not confirmed yet: {SENTENCES[step]}. "
            "Your plant's procedure comes first."
        )
        raise Refused("lockout", sentence, field="lockout")
    if mine.complete_at is not None and at < mine.complete_at:
        sentence = f"{position} was locked out at {mine.complete_at:%H:%M} UTC, after the time you give for the work."
        raise Refused("lockout-later", sentence, field="done_at")
    refuse_past_shift(mine, by, at)
    return mine


def refuse_past_shift(lockout: Lockout, by: Person, at: datetime) -> None:
    """A job does not go on silently past the end of the shift: it is handed over, pieces counted, lock passed on."""
    now = shift_at(at)
    if now is None or lockout.begun_at >= now.starts_at or now.crew.filter(pk=by.pk).exists():
        return
    sentence = (
        f"Your shift ended; the lock at {lockout.position} is of that shift. Hand the job over to a certified person "
        f"of the {now.name} shift: count the pieces, pass the lock on."
    )
    raise Refused("shift-over", sentence)


@transaction.atomic
def take_lock_off(
    lockout: Lockout, *, clear: bool, told: bool, by: Person, at: datetime, abandoned: bool = False
) -> Lockout:
    """The lock comes off, by the person who hung it, when the area is clear and everybody was told.

    29 CFR 1910.147(e)(1)-(3). While tape is half on or half off the job is finished, handed over or given up first.
    """
    lockout = Lockout.objects.select_for_update().select_related("position", "person").get(pk=lockout.pk)
    if lockout.person_id != by.pk:
        sentence = (
            f"Only {lockout.person.name} takes this lock off. If that person is not here, your plant's written "
            "procedure says who may; the supervisor leads it."
        )
        raise Refused("not-your-lock", sentence)
    if lockout.removed_at is not None:
        sentence = f"Already recorded: the lock came off at {lockout.removed_at:%Y-%m-%d %H:%M} UTC."
        raise Conflict("already", sentence)
    if not abandoned:
        _refuse_half_done(lockout)
    if lockout.steps and not (clear and told):
        sentence = "Before a lock comes off: tools and people are clear of the roller, and everybody was told."
        raise Refused("not-clear", sentence, field="clear" if not clear else "told")
    lockout.removed_at = at
    lockout.save(update_fields=["removed_at"])
    record(
        stream=stream_of(lockout.position),
        action="take-lock-off",
        subject=lockout,
        sentence=f"{by.name} took lock {lockout.lock_number or '(not hung yet)'} off {lockout.position}",
        by=by,
        at=at,
        facts={"lock": lockout.lock_number},
    )
    return lockout


def _refuse_half_done(lockout: Lockout) -> None:
    application = open_application(mounting_at(lockout.position).body)
    if application is None or not lockout.holds:
        return
    state, code = application.state, lockout.position.code
    if state == Application.State.LOCKED_OUT:
        sentence = f"{code}: taping was begun. Wind and measure it, hand it over, or give the job up; then the lock."
    elif state == Application.State.APPLIED and application.recipe_version_id and application.origin == "plan":
        sentence = f"{code}: the tape is on but not measured. Measure first, then count; then the lock comes off."
    elif state == Application.State.MEASURED and application.origin == "plan" and not is_counted(application):
        sentence = f"{code}: count pieces and offcuts, and bring the knife back; then the lock comes off."
    elif state == Application.State.REMOVING:
        sentence = f"{code}: taking off was begun. Record every piece, or stop here as partial; then the lock."
    else:
        return
    raise Refused("half-done", sentence)
