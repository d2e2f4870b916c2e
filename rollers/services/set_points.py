"""Set-points of a running line: told by a person, answered by the mechanics. The program drives nothing."""

from datetime import datetime
from typing import Any

from django.db import transaction

from plant.audit.services import record
from plant.errors import Refused
from plant.floor.models import Line, Run
from plant.people.access import require_role
from plant.people.models import Person, Role
from rollers import access
from rollers.cases import SetPoints
from rollers.models import Alert, SetPoint
from rollers.queries_window import present_points, window_of
from rollers.readiness import readiness
from rollers.rules_window import MEANING, outside
from rollers.services.runs import stream_of
from rollers.services.tasks import raise_alert

ORDER = ("refused", "cannot tell", "caution", "fits")


@transaction.atomic
def change_set_point(
    run: Run,
    quantity: str,
    value: float,
    *,
    by: Person,
    at: datetime,
    done_at: datetime | None = None,
    typed: dict[str, Any] | None = None,
    reason: str = "",
) -> SetPoint:
    """Record a new tension (N/m) or speed (m/min) of a released run and say at once what it means for the tape."""
    require_role(by, Role.OPERATOR, Role.SUPERVISOR, Role.ENGINEER, at=at, act="Recording a set-point")
    Line.objects.select_for_update().get(pk=run.line_id)
    run = access.run(run.pk)
    if run.state != Run.State.RELEASED:
        raise Refused("not-running", f"This run is {run.state}; set-points are recorded while it runs.")
    if quantity not in SetPoint.Quantity.values or not 0 < value < 1e5:
        raise Refused("set-point", f"The {quantity} must be above zero. Type the set-point again.", field="value")
    before = present_points(run)
    now = before | {quantity: value}
    points = SetPoints(now["tension"], now["speed"])
    found = readiness(run.path, run.product_version, at=at, set_points=points, running=True)
    verdicts = [row.result["verdict"] for row in found.positions if row.result]
    worst = min(verdicts, key=ORDER.index, default="")
    side = outside(window_of(run), quantity, value)
    made = SetPoint.objects.create(
        run=run,
        quantity=quantity,
        before=before[quantity],
        after=value,
        inside=not side,
        verdict=worst,
        typed=typed or {},
        at=done_at or at,
        recorded_at=at,
        by=by,
        reason=reason.strip(),
    )
    unit = "N/m" if quantity == "tension" else "m/min"
    sentence = f"{by.name}: {quantity} of {run} {made.before:g} to {value:g} {unit}"
    record(
        stream=stream_of(run.line),
        action="set-point",
        subject=made,
        sentence=sentence,
        by=by,
        at=at,
        facts={"before": f"{made.before:g}", "after": f"{value:g}", "outside": side, "verdict": worst},
        reason=made.reason,
    )
    if side or worst == "refused":
        _alert(made, side, worst, at)
    return made


def _alert(made: SetPoint, side: str, worst: str, at: datetime) -> None:
    line = made.run.line
    meaning = MEANING.get((made.quantity, side), "")
    failed = " By the calculation the tape on this line fails there: stop or slow down." if worst == "refused" else ""
    where = f"{side} the window it was computed for" if side else "where a check fails"
    raise_alert(
        f"set-point:{made.pk}",
        Alert.Level.CRITICAL if worst == "refused" else Alert.Level.MAJOR,
        f"Line {line}: {made.quantity} is {where}. {meaning}{failed}",
        next_action=f"Bring the {made.quantity} back, or have a person with Size test the recipe there",
        for_role=Role.SUPERVISOR,
        at=at,
        due_at=made.at,
        address=f"/board/{line.code}/",
        line=line,
    )
