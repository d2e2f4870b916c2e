"""Planning a run, releasing it, ending it."""

from datetime import datetime
from typing import Any

from django.db import transaction

from calcs import VERSION
from plant.audit.services import Confirmation, record, sign
from plant.errors import Conflict, Refused
from plant.floor.models import Line, ProductVersion, Run, WebPath
from plant.people.access import require_role
from plant.people.models import Person, Role
from rollers import access
from rollers.cases import SetPoints
from rollers.models import Calculation, Release, RunCheck
from rollers.queries_window import present_points
from rollers.readiness import PositionReadiness, Readiness, readiness


def stream_of(line: Line) -> str:
    """Acts on a line stay in one order."""
    return f"line:{line.code}"


def readiness_of(run: Run, at: datetime) -> Readiness:
    """The answer for a planned run, computed now."""
    now = present_points(run)
    points = SetPoints(now["tension"], now["speed"])
    running = run.state == Run.State.RELEASED
    return readiness(run.path, run.product_version, at=at, set_points=points, running=running)


def _finding_rows(row: PositionReadiness) -> list[dict[str, str]]:
    return [
        {"code": found.code, "weight": str(found.weight), "sentence": found.sentence, "who": found.who}
        for found in row.findings
    ]


@transaction.atomic
def plan_run(
    *,
    path: WebPath,
    version: ProductVersion,
    tension_n_per_m: float,
    speed_m_per_min: float,
    starts_at: datetime,
    by: Person,
    at: datetime,
    typed: dict[str, Any] | None = None,
) -> Run:
    """Plan a product on a path, look at every position of it, and keep what was found."""
    require_role(by, Role.SUPERVISOR, Role.ENGINEER, at=at, act="Planning a run")
    if not (path.in_use and path.line.in_use):
        raise Refused("path-out-of-use", f"{path} is out of use. Choose another path.", field="path")
    if not version.current:
        raise Refused("old-product-data", f"{version} is not the newest data of its product. Choose it again.")
    if not version.product.lines.filter(pk=path.line_id).exists():
        sentence = f"{version.product} is not permitted on line {path.line}. The process engineer can add the line."
        raise Refused("product-not-on-line", sentence, field="product")
    for name, value in (("tension", tension_n_per_m), ("speed", speed_m_per_min)):
        if not 0 < value < 1e5:
            raise Refused("set-point", f"The {name} must be above zero. Type the set-point again.", field=name)
    run = Run.objects.create(
        line=path.line,
        path=path,
        product_version=version,
        tension_n_per_m=tension_n_per_m,
        speed_m_per_min=speed_m_per_min,
        typed=typed or {},
        planned_at=at,
        planned_by=by,
        starts_at=starts_at,
    )
    found = readiness_of(run, at)
    for row in found.positions:
        RunCheck.objects.create(
            run=run,
            position=row.position,
            readiness=row.word,
            findings=_finding_rows(row),
            calculation=_kept(row, found, by),
            at=at,
        )
    record(
        stream=stream_of(path.line),
        action="plan-run",
        subject=run,
        sentence=f"{by.name} planned {version.product} on {path}: {len(found.blocks)} blocks",
        by=by,
        at=at,
        facts={"tension": str(tension_n_per_m), "speed": str(speed_m_per_min), "starts_at": starts_at},
    )
    return run


def _kept(row: PositionReadiness, found: Readiness, by: Person) -> Calculation | None:
    if row.result is None or row.step is None:
        return None
    return Calculation.objects.create(
        product_version=found.product_version,
        step=row.step,
        case=row.case,
        result=row.result,
        verdict=row.result["verdict"],
        limits_version=found.limits_version,
        calcs_version=VERSION,
        at=found.at,
        by=by,
    )


def snapshot_of(run: Run, found: Readiness) -> dict[str, Any]:
    """Everything a supervisor sees when releasing: the state of every position, the findings, what is off the path."""

    def place(row: PositionReadiness) -> dict[str, Any]:
        return {
            "position": row.position.code,
            "body": row.body.serial if row.body else None,
            "room_kind": row.place.room_kind,
            "required": row.required.label or row.required.kind,
            "on": row.on.label if row.on.state == "taped" else row.on.state,
            "measured": row.on.measured,
            "checked": row.on.checked,
            "findings": _finding_rows(row),
            "verdict": row.result["verdict"] if row.result else None,
        }

    return {
        "run": run.pk,
        "product": str(run.product_version),
        "path": str(run.path),
        "path_version": run.path.version,
        "tension_n_per_m": str(run.tension_n_per_m),
        "speed_m_per_min": str(run.speed_m_per_min),
        "sheet": found.sheet_label,
        "limits_version": found.limits_version,
        "calcs_version": VERSION,
        "positions": [place(row) for row in found.positions],
        "off_path": [place(row) for row in found.others],
    }


@transaction.atomic
def release_run(run: Run, *, confirmation: Confirmation) -> Release:
    """Let a planned run start. Computed again at this moment; every block stands in the refusal by name."""
    by, at = confirmation.person, confirmation.at
    require_role(by, Role.SUPERVISOR, at=at, act="Releasing a line")
    Line.objects.select_for_update().get(pk=run.line_id)
    run = access.run(run.pk)
    if run.state != Run.State.PLANNED:
        raise Conflict("not-planned", f"This run is {run.state} already. Reload the ready board.")
    running = Run.objects.filter(line=run.line, state=Run.State.RELEASED).first()
    if running is not None:
        sentence = f"{running.product_version.product} is still released on line {run.line}. End that run first."
        raise Refused("line-busy", sentence)
    found = readiness_of(run, at)
    if not found.may_run:
        sentences = [block.sentence for block in found.blocks]
        word = "thing stands" if len(sentences) == 1 else "things stand"
        raise Refused("blocked", f"{len(sentences)} {word} against this release.", details=sentences)
    snapshot = snapshot_of(run, found)
    signature = sign(confirmation, meaning="released", subject=run, content=snapshot)
    release = Release.objects.create(run=run, at=at, snapshot=snapshot, signature=signature)
    Run.objects.filter(pk=run.pk).update(state=Run.State.RELEASED, released_at=at)
    record(
        stream=stream_of(run.line),
        action="release-run",
        subject=run,
        sentence=f"{by.name} released {run.product_version.product} on {run.path}",
        by=by,
        at=at,
        facts={"signature": signature.digest},
    )
    return release


@transaction.atomic
def end_run(run: Run, *, by: Person, at: datetime, reason: str = "") -> None:
    """A released run ended; a planned one is cancelled."""
    require_role(by, Role.SUPERVISOR, Role.OPERATOR, at=at, act="Ending a run")
    Line.objects.select_for_update().get(pk=run.line_id)
    run = access.run(run.pk)
    following = {Run.State.RELEASED: Run.State.ENDED, Run.State.PLANNED: Run.State.CANCELLED}.get(Run.State(run.state))
    if following is None:
        raise Conflict("over", f"This run is {run.state} already.")
    if following == Run.State.CANCELLED:
        require_role(by, Role.SUPERVISOR, at=at, act="Cancelling a planned run")
    Run.objects.filter(pk=run.pk).update(state=following, ended_at=at)
    record(
        stream=stream_of(run.line),
        action="end-run",
        subject=run,
        sentence=f"{by.name}: run of {run.product_version.product} on {run.path} {following.label}",
        by=by,
        at=at,
        reason=reason,
    )
