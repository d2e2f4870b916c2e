"""Studies: planned with their windows before anybody looks, worked out afterwards."""

from datetime import datetime
from typing import Any

from django.db import transaction

from calcs import VERSION
from calcs.evidence import BETTER, NOT_ENOUGH, WORSE
from plant.audit.services import record
from plant.errors import Refused
from plant.floor.models import Position, Product
from plant.floor.queries import rollers_downstream
from plant.people.access import require_role
from plant.people.models import Person, Role
from plant.web.quantities import digits
from rollers.causes.changes import changes_between
from rollers.causes.evidence import answer_for, counted, usual
from rollers.causes.models import Exposure, Sighting, Study, StudyResult
from rollers.causes.services.sightings import stream_of
from rollers.models import RecipeVersion, TapeFact, Task
from rollers.services.tasks import open_task
from training.services.telling import tell_job_done

READERS = (Role.ENGINEER, Role.MANAGER, Role.QA, Role.SUPERVISOR)
Moments = tuple[datetime, datetime]


@transaction.atomic
def plan_study(
    position: Position,
    *,
    product: Product,
    measure: str,
    what: str,
    before: Moments,
    after: Moments,
    by: Person,
    at: datetime,
    co_changes: str = "",
    saved_per_event: float | None = None,
    cost: float | None = None,
    currency: str = "EUR",
    recipe_version: RecipeVersion | None = None,
    replaces: Study | None = None,
) -> Study:
    """Fix what is compared. The plan never changes; other windows are a further study that names this one."""
    require_role(by, Role.ENGINEER, at=at, act="Planning a study")
    if measure not in Study.Measure.values:
        raise Refused("measure", "Choose what is counted: wrinkles, breaks or waste.", field="measure")
    if len(what.strip()) < 5:
        raise Refused("empty", "Say what was changed between the two windows.", field="what")
    if not before[0] < before[1] <= after[0] < after[1]:
        sentence = "The window before ends before the window after begins, and each begins before it ends."
        raise Refused("out-of-order", sentence, field="after_from")
    for amount, field in ((saved_per_event, "saved_per_event"), (cost, "cost")):
        if amount is not None and not 0 <= amount < 1e9:
            raise Refused("not-a-quantity", "Money is zero or more. Type it again, or leave it empty.", field=field)
    if replaces is not None and replaces.position_id != position.pk:
        raise Refused("other-position", "A study replaces one of the same roller.", field="replaces")
    made = Study.objects.create(
        position=position,
        product=product,
        measure=measure,
        recipe_version=recipe_version,
        what=what.strip()[:200],
        before_from=before[0],
        before_to=before[1],
        after_from=after[0],
        after_to=after[1],
        co_changes=co_changes.strip(),
        saved_per_event=saved_per_event,
        cost=cost,
        currency=currency.strip()[:3].upper(),
        replaces=replaces,
        downstream=rollers_downstream(position),
        planned_at=at,
        by=by,
    )
    record(
        stream=stream_of(position.line),
        action="plan-study",
        subject=made,
        sentence=f"study of {position.code} with {product.code}, {made.get_measure_display()}: {made.what}",
        by=by,
        at=at,
        facts={
            "before": [moment.isoformat() for moment in before],
            "after": [moment.isoformat() for moment in after],
            "saved_per_event": None if saved_per_event is None else digits(saved_per_event),
            "replaces": replaces.pk if replaces else None,
        },
    )
    return made


def rows_in(study: Study, window: Moments) -> list[Exposure]:
    """What ran of the product on the line wholly inside a window."""
    rows = Exposure.objects.filter(
        line=study.position.line_id, product=study.product_id, starts_at__gte=window[0], ends_at__lte=window[1]
    )
    return list(rows.order_by("starts_at", "pk"))


def _answer(study: Study, at: datetime) -> dict[str, Any]:
    before = rows_in(study, (study.before_from, study.before_to))
    after = rows_in(study, (study.after_from, study.after_to))
    tension, speed = (usual([*before, *after], field) for field in ("tension_n_per_m", "speed_m_per_min"))
    found = answer_for(
        study.measure,
        counted(before, study.measure, tension, speed),
        counted(after, study.measure, tension, speed),
    )
    found["co_changes"] = changes_between(study)
    found["downstream"] = _downstream(study)
    known = sum(row.recorded_at < study.planned_at for row in after)
    if known:
        said = (
            f"{known} rows of the window after were on record before the windows were fixed: "
            "whoever planned could see them, so this study cannot say better."
        )
        found |= _withheld(found, said)
    if at < study.after_to:
        said = "The window after is still open; until it ends only worse is said."
        found |= _withheld(found, said)
    return found


def _withheld(found: dict[str, Any], said: str) -> dict[str, Any]:
    verdict = NOT_ENOUGH if found["verdict"] == BETTER else found["verdict"]
    return {"verdict": verdict, "sentences": [*found["sentences"], said]}


def _downstream(study: Study) -> list[dict[str, Any]]:
    """What was seen before the two rollers downstream in the window after, and at the slow restart before it."""
    restarts = TapeFact.objects.filter(position=study.position, kind=TapeFact.Kind.RESTART)
    restarts = restarts.filter(at__gte=study.before_to, at__lte=study.after_to)
    watched = [code for fact in restarts for code in fact.details.get("downstream", [])]
    rows = []
    for code in study.downstream:
        seen = Sighting.objects.filter(
            line=study.position.line_id, before__code=code, corrected_by=None, at__gte=study.after_from
        ).filter(at__lte=study.after_to)
        grades = list(seen.values_list("grade", flat=True))
        worst, steps = max(grades, default=None), watched.count(code)
        said = [] if worst is None else [f"{_times(len(grades), 'look')}, worst grade {worst}"]
        said += [f"looked at in {_times(steps, 'step')} of the slow restart"] if steps else []
        rows.append({"position": code, "looks": len(grades), "worst": worst, "restart_steps": steps})
        rows[-1]["said"] = "; ".join(said) or "nobody looked"
    return rows


def _times(count: int, word: str) -> str:
    return f"{count} {word}{'' if count == 1 else 's'}"


@transaction.atomic
def work_out(study: Study, *, by: Person, at: datetime) -> StudyResult:
    """Count the windows as they were fixed. *Worse* asks for less tape, or none, in the same stop."""
    require_role(by, *READERS, at=at, act="Working out a study")
    found = _answer(study, at)
    made = StudyResult.objects.create(
        study=study, verdict=found["verdict"], answer=found, calcs_version=VERSION, at=at, by=by
    )
    record(
        stream=stream_of(study.position.line),
        action="work-out-study",
        subject=made,
        sentence=f"study {study.pk} of {study.position.code}: {found['sentences'][0]}",
        by=by,
        at=at,
        facts={"verdict": found["verdict"]},
    )
    # Practice of who fixed the windows, however often they are counted again.
    subject = f"study of {study.position.code}: {study.what}"
    tell_job_done(study.by, "study", "", at, subject, key=f"study:{study.pk}")
    if found["verdict"] == WORSE:
        open_task(
            Task.Kind.REDUCE,
            f"study-worse:{study.pk}",
            f"{study.position.code}: {study.get_measure_display()} got worse with {study.what}. "
            "Reduce the tape or take it off in this stop.",
            at=at,
            by=by,
            for_role=Role.SUPERVISOR,
            due=at,
            line=study.position.line,
            position=study.position,
        )
    return made
