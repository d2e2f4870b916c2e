"""Drawing a web path: which positions, in which order, wrapped how."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime

from django.db import transaction

from plant.audit.services import record
from plant.errors import Refused
from plant.floor import rules
from plant.floor.models import Line, PathStep, Position, WebPath
from plant.people.access import require_role
from plant.people.models import Person, Role
from plant.web.quantities import Figure, taken


@dataclass(frozen=True)
class Step:
    """The web on one position: wrap angle, rotation seen from the operator end, touching side, span before it."""

    position: Position
    wrap_deg: Figure
    rotation: str
    web_side: str
    entry_span_mm: Figure


def checked_step(step: Step) -> PathStep:
    """A path step without path and order.

    Raises
    ------
    Refused
        Naming the position and the field.
    """
    where = step.position.code
    if step.rotation not in PathStep.Rotation.values:
        sentence = f"{where}: write the rotation as cw or ccw, seen from the operator end; not {step.rotation!r}."
        raise Refused("rotation", sentence, field="rotation")
    if step.web_side not in PathStep.Side.values:
        sentence = f"{where}: write the web side that touches the roller as A or B; not {step.web_side!r}."
        raise Refused("web-side", sentence, field="web_side")
    figures = {"wrap_deg": step.wrap_deg, "entry_span_mm": step.entry_span_mm}
    for field, figure in figures.items():
        if figure is None:
            raise Refused("empty", f"{where}: the {rules.words(field)} is missing.", field=field)
    numbers, typed = taken(figures, figures)
    rules.refuse_out_of_bounds(numbers, rules.STEP_BOUNDS)
    return PathStep(position=step.position, rotation=step.rotation, web_side=step.web_side, typed=typed, **numbers)


@transaction.atomic
def draw_path(line: Line, *, name: str, steps: Sequence[Step], by: Person, at: datetime, reason: str = "") -> WebPath:
    """Write a threading of the line. Drawn again under its name it becomes the next version; the old stays."""
    require_role(by, Role.KEEPER, Role.ENGINEER, at=at, act="Drawing a web path")
    name = rules.checked_name(name, what="web path", most=60)
    line = Line.objects.select_for_update().get(pk=line.pk)
    if not steps:
        raise Refused("no-steps", "A web path passes at least one roller. Add its first step.", field="steps")
    seen: set[int] = set()
    for step in steps:
        if step.position.line_id != line.pk:
            sentence = f"{step.position.code} stands on another line; a path passes rollers of line {line.code} only."
            raise Refused("other-line", sentence, field="steps")
        if step.position.pk in seen:
            sentence = f"{step.position.code} comes twice. A web that passes a roller twice needs a position for each."
            raise Refused("step-twice", sentence, field="steps")
        seen.add(step.position.pk)
    rows = [checked_step(step) for step in steps]
    before = WebPath.objects.filter(line=line, name__iexact=name).order_by("-version").first()
    WebPath.objects.filter(line=line, name__iexact=name).update(in_use=False)
    path = WebPath.objects.create(line=line, name=name, version=before.version + 1 if before else 1)
    for order, row in enumerate(rows, start=1):
        row.path, row.order = path, order
    PathStep.objects.bulk_create(rows)
    facts = {
        "version": path.version,
        "steps": [[row.position.code, row.wrap_deg, row.rotation, row.web_side, row.entry_span_mm] for row in rows],
    }
    record(
        stream=f"line:{line.code}",
        action="draw-path",
        subject=path,
        sentence=f"path {path.name} of line {line.code} drawn, version {path.version}, {len(rows)} rollers",
        by=by,
        at=at,
        facts=facts,
        reason=reason,
    )
    return path
