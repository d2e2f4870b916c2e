"""What else changed on a line between the windows of a study, from the records: it prints beside the verdict."""

from rollers.causes.models import Study
from rollers.models import Measurement, Mounting, TapeFact, Task

KINDS = (TapeFact.Kind.APPLIED, TapeFact.Kind.REMOVED)


def changes_between(study: Study) -> list[str]:
    """Sentences, the earliest first; what the engineer named comes first of all."""
    line, since, until = study.position.line_id, study.before_from, study.after_to
    found = []
    for mounting in Mounting.objects.filter(
        position__line=line, mounted_at__gte=since, mounted_at__lte=until
    ).select_related("position", "body"):
        found.append((mounting.mounted_at, f"{mounting.position.code}: roller {mounting.body.serial} was mounted"))
    tilts = Measurement.objects.filter(
        position__line=line, quantity=Measurement.Quantity.ALIGNMENT, at__gte=since, at__lte=until
    )
    for row in tilts.select_related("position"):
        code = row.position.code if row.position else ""
        found.append((row.at, f"{code}: alignment measured, {row.value:g} mm/m"))
    for version in study.product.versions.filter(entered_at__gte=since, entered_at__lte=until):
        found.append((version.entered_at, f"{study.product.code}: data version {version.number} was entered"))
    tape = TapeFact.objects.filter(position__line=line, kind__in=KINDS, at__gte=since, at__lte=until)
    for fact in tape.exclude(position=study.position_id).select_related("position"):
        code = fact.position.code if fact.position else ""
        found.append((fact.at, f"{code}: tape {fact.get_kind_display()}"))
    done = Task.objects.filter(line=line, kind=Task.Kind.MAINTENANCE, closed_at__gte=since, closed_at__lte=until)
    for task in done:
        if task.closed_at is not None:
            found.append((task.closed_at, f"Maintenance: {task.sentence} {task.outcome}"))
    named = [study.co_changes] if study.co_changes else []
    return named + [f"{at:%Y-%m-%d}: {said}" for at, said in sorted(found)]
