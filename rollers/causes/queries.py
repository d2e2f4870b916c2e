"""Reads: sightings of a line, looks of a walk, rows of a cause sheet."""

from collections.abc import Iterable
from datetime import datetime

from django.db.models import QuerySet

from plant.floor.models import Line, PathStep, Position, ProductVersion
from rollers.causes.causerows import CauseRow, rows_for
from rollers.causes.models import CauseEntry, CauseSheet, Sighting, Study, StudyResult, Walk, WalkLook, WalkResult
from rollers.models import RecipeVersion, TapeFact


def sightings_of(line: Line, since: datetime | None = None) -> QuerySet[Sighting]:
    """What counts of a line, the newest first; what was corrected stands behind its correction."""
    rows = Sighting.objects.filter(line=line, corrected_by=None)
    rows = rows.select_related("after", "before", "by", "product_version__product", "photo", "corrects")
    return rows.filter(at__gte=since) if since else rows


def sightings_at(position: Position) -> QuerySet[Sighting]:
    """What counts before one roller."""
    return sightings_of(position.line).filter(before=position)


def newest_looks(walk: Walk) -> list[WalkLook]:
    """The look that counts for every roller looked at, in path order."""
    order = dict(PathStep.objects.filter(path=walk.path_id).values_list("position", "order"))
    newest: dict[int, WalkLook] = {}
    for look in WalkLook.objects.filter(walk=walk).select_related("position").order_by("pk"):
        newest[look.position_id] = look
    return sorted(newest.values(), key=lambda look: order.get(look.position_id, 0))


def steps_upstream(walk: Walk) -> list[PathStep]:
    """The rollers of the path from where it was seen, going upstream."""
    steps = list(PathStep.objects.filter(path=walk.path_id).select_related("position").order_by("order"))
    here = next(step.order for step in steps if step.position_id == walk.starts_from_id)
    return [step for step in reversed(steps) if step.order <= here]


def result_of(walk: Walk) -> WalkResult | None:
    """What the walk says now."""
    return WalkResult.objects.filter(walk=walk).select_related("first").order_by("-pk").first()


def walks_naming(position: Position) -> QuerySet[WalkResult]:
    """Results that name a roller, the newest first."""
    rows = WalkResult.objects.filter(first=position).select_related("walk__product_version__product", "walk__by")
    return rows.order_by("-pk")


def newest_entries(sheet: CauseSheet) -> dict[str, CauseEntry]:
    """The row that counts for each cause."""
    rows = CauseEntry.objects.filter(sheet=sheet).select_related("gauge", "by").order_by("pk")
    return {row.cause: row for row in rows}


def rows_of(sheet: CauseSheet) -> list[tuple[CauseRow, CauseEntry | None]]:
    """Every cause of the sheet with what was filled in."""
    entries = newest_entries(sheet)
    return [(row, entries.get(row.code)) for row in rows_for(sheet.product_version.product.family)]


def newest_sheet(position: Position, version: ProductVersion | None = None) -> CauseSheet | None:
    """The sheet that counts: the newest one, of a product where one is asked for."""
    rows = CauseSheet.objects.filter(position=position).select_related("product_version__product", "closed_by")
    if version is not None:
        rows = rows.filter(product_version__product=version.product_id)
    return rows.order_by("-pk").first()


def results_of(studies: Iterable[Study]) -> dict[int, StudyResult]:
    """The newest result by study id."""
    rows = StudyResult.objects.filter(study__in=list(studies)).order_by("pk")
    return {row.study_id: row for row in rows}


def recipe_then(study: Study) -> RecipeVersion | None:
    """The recipe of the tape that was on in the window after, where the study names none."""
    facts = TapeFact.objects.filter(
        position=study.position_id, recipe_version__isnull=False, state="taped", at__lte=study.after_to
    )
    newest = facts.select_related("recipe_version__stock").order_by("-at", "-pk").first()
    return newest.recipe_version if newest else None
