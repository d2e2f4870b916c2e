"""The slow restart: crawl, half speed, full speed, with the grade of the wrinkle at each."""

from datetime import datetime

from django.db import transaction

from plant.errors import Refused
from plant.floor.models import Position, Run
from plant.floor.queries import rollers_downstream
from plant.people.models import Person, Role
from rollers.models import Application, TapeFact, Task
from rollers.queries import label_of
from rollers.queries_application import RESTART_WORDS, restart_steps
from rollers.rules import STRICT
from rollers.rules_application import (
    RestartStep,
    after_restart,
    fastest_m_per_min,
    is_worse,
    next_restart_step,
    shortest_minutes,
)
from rollers.services.spot import NOW, Sent, Spot, carry_on, lock_spot, move_on, need_application
from rollers.services.tasks import open_task
from training.access import require_skill

SPEED_SLACK = 1.02  # a set-point is read to about 2 %: our own default


def _running(spot: Spot) -> Run:
    run = Run.objects.filter(line=spot.position.line, state=Run.State.RELEASED).first()
    if run is None:
        sentence = f"Line {spot.position.line} is not released. A supervisor releases it, then the slow restart begins."
        raise Refused("not-running", sentence)
    return run


def _refuse_step(spot: Spot, key: str, run: Run, speed: float, minutes: float, one_roll: bool) -> None:
    fastest = fastest_m_per_min(key, run.speed_m_per_min, spot.controls)
    word = RESTART_WORDS[key]
    if not 0 < speed <= fastest * SPEED_SLACK:
        sentence = f"In the step {word} the line runs at {fastest:g} m/min at most; you typed {speed:g}. Slow down."
        raise Refused("too-fast", sentence, field="speed")
    shortest = shortest_minutes(key, spot.controls)
    if minutes < shortest and not (key == "full" and one_roll):
        more = ", or one whole roll" if key == "full" else ""
        sentence = f"The step {word} lasts {shortest:g} min at least{more}; you typed {minutes:g}. Go on watching."
        raise Refused("too-short", sentence, field="minutes")


@transaction.atomic
def record_restart(
    position: Position,
    *,
    step: str,
    speed: float,
    minutes: float,
    grade: int,
    downstream: bool,
    by: Person,
    at: datetime,
    one_roll: bool = False,
    grade_before: int | None = None,
    sent: Sent = NOW,
) -> TapeFact:
    """Record one step of the slow restart. A grade worse by one or more says *back off* and opens a task."""
    spot = lock_spot(position, by, at, sent)
    if spot.known:
        return spot.known
    states = (Application.State.MEASURED, Application.State.CHECKED, Application.State.RESTART)
    require_skill(by, "aware", spot.kind, spot.done_at, f"Watching the restart at {position}")
    application = need_application(spot, *states, what="restart")
    run = _running(spot)
    if spot.kind in STRICT and application.checked_at is None:
        sentence = f"{position}: in a {spot.kind} room the second person checks before the line restarts."
        raise Refused("not-checked", sentence)
    done = restart_steps(application)
    expected = next_restart_step(done)
    if step != expected:
        said = f"next is {RESTART_WORDS[expected]}" if expected else "all three steps are recorded"
        raise Refused("restart-order", f"{position}: {said}.", field="step")
    _refuse_step(spot, step, run, speed, minutes, one_roll)
    if not 0 <= grade <= 4:
        raise Refused("grade", "Grade the wrinkle 0 (flat) to 4 (steady crease or break).", field="grade")
    if not downstream:
        sentence = f"{position}: look at the two rollers after it and at the inner edge of the tape too, then confirm."
        raise Refused("downstream", sentence, field="downstream")
    return _record(spot, application, run, RestartStep(step, grade), done, grade_before, speed, minutes, one_roll, by)


def _record(
    spot: Spot,
    application: Application,
    run: Run,
    step: RestartStep,
    done: list[RestartStep],
    grade_before: int | None,
    speed: float,
    minutes: float,
    one_roll: bool,
    by: Person,
) -> TapeFact:
    before = grade_before if grade_before is not None else _before(application)
    worse = is_worse(step.grade, before, done)
    step = RestartStep(step.key, step.grade, not worse)
    finished = next_restart_step([*done, step]) == ""
    checked = application.checked_at is not None
    state = after_restart(application.state, begun=bool(done), all_passed=finished, checked=checked)
    verified = state == Application.State.VERIFIED
    move_on(application, state, **({"verified_at": spot.done_at} if verified else {}))
    word = RESTART_WORDS[step.key]
    said = f"{by.name}, restart of {spot.position}: {word} at {speed:g} m/min, grade {step.grade}"
    ending = "; worse: back off" if worse else "; it is verified" if verified else ""
    details = {
        "step": step.key,
        "grade": step.grade,
        "passed": step.passed,
        "speed_m_per_min": str(speed),
        "minutes": str(minutes),
        "one_roll": one_roll,
        "run": run.pk,
        "verified": verified,
        "downstream": rollers_downstream(spot.position),  # looked at too: it is refused without
    }
    if before is not None:
        details["grade_before"] = before
    fact = carry_on(spot, TapeFact.Kind.RESTART, by=by, sentence=said + ending, details=details)
    if worse:
        label = label_of(application.recipe_version) if application.recipe_version else "tape"
        open_task(
            Task.Kind.REDUCE,
            f"back-off:{fact.pk}",
            f"{spot.position}: the wrinkle is worse with {label} (grade {step.grade} at {word}). "
            "Back off: stop, take the tape off or reduce it.",
            at=spot.at,
            by=by,
            for_role=Role.SUPERVISOR,
            line=spot.position.line,
            position=spot.position,
            application=application,
        )
    return fact


def _before(application: Application) -> int | None:
    """The grade before the taping, as it was said at an earlier step."""
    for fact in TapeFact.objects.filter(application=application, kind=TapeFact.Kind.RESTART).order_by("pk"):
        if "grade_before" in fact.details:
            return int(fact.details["grade_before"])
    return None
