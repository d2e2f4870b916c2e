"""Reads: what is mounted, what is on it, what belongs there."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime

from django.db.models import Max, Q, QuerySet

from plant.floor.models import Position, Product, ProductVersion, WebPath
from rollers.models import (
    Body,
    LimitSet,
    Measurement,
    Mounting,
    ProductSheet,
    RecipeProduct,
    RecipeVersion,
    TapeFact,
)
from rollers.rules import OnRoller, Required


def mounted(positions: Iterable[Position]) -> dict[int, Mounting]:
    """The present mounting by position id."""
    rows = Mounting.objects.filter(position__in=list(positions), removed_at=None).select_related("body")
    return {row.position_id: row for row in rows}


def newest_facts(bodies: Iterable[Body]) -> dict[int, TapeFact]:
    """The newest tape fact by body id."""
    newest = TapeFact.objects.filter(body__in=list(bodies)).values("body").annotate(last=Max("pk")).values("last")
    rows = TapeFact.objects.filter(pk__in=newest).select_related(
        "recipe_version__recipe__position", "recipe_version__stock", "applier", "by"
    )
    return {row.body_id: row for row in rows.prefetch_related("recipe_version__bands", "recipe_version__products")}


def label_of(version: RecipeVersion) -> str:
    """A recipe version in few words: `T1 x 4, both ends, v2 (A05: title)`."""
    bands = list(version.bands.all())
    if not bands or version.stock is None:
        return f"bare, v{version.number} ({version.recipe.title})"
    ends = {band.end for band in bands}
    where = "both ends" if len(ends) == 2 else f"{ends.pop()} end"
    wraps = sorted({band.wraps for band in bands})
    count = str(wraps[0]) if len(wraps) == 1 else f"{wraps[0]}-{wraps[-1]}"
    return f"{version.stock.code} × {count}, {where}, v{version.number} ({version.recipe.title})"


def on_roller(fact: TapeFact | None) -> OnRoller:
    """What is on a roller by its newest fact; nothing recorded means unknown."""
    if fact is None:
        return OnRoller("unknown")
    version = fact.recipe_version
    return OnRoller(
        state=fact.state,
        version_id=version.pk if version else None,
        label=label_of(version) if version else "tape without a recipe",
        measured=fact.measured,
        checked=fact.checked,
        orientation=fact.orientation,
        rotation=fact.rotation,
        pieces=fact.pieces,
    )


def sheet_in_force(product: Product, path: WebPath) -> ProductSheet | None:
    """The product sheet that holds now."""
    return (
        ProductSheet.objects.filter(product=product, path=path, state=ProductSheet.State.IN_FORCE)
        .prefetch_related(
            "lines__recipe_version__bands",
            "lines__recipe_version__stock",
            "lines__recipe_version__recipe",
            "lines__recipe_version__re_checks",
            "lines__recipe_version__products__calculation",
        )
        .first()
    )


def recipes_in_force(product: Product, positions: Iterable[Position]) -> dict[int, RecipeProduct]:
    """The recipe in force by position id, for one product."""
    rows = RecipeProduct.objects.filter(product=product, position__in=list(positions), in_force=True)
    rows = rows.select_related("version__stock", "version__recipe", "calculation__product_version")
    parts = ("version__bands", "version__re_checks", "version__products__calculation")
    return {row.position_id: row for row in rows.prefetch_related(*parts)}


@dataclass(frozen=True)
class Requirements:
    """What a product asks of each position, and by which sheet."""

    sheet: ProductSheet | None
    by_position: dict[int, Required]
    versions: dict[int, RecipeVersion]


def requirements(version: ProductVersion, path: WebPath, positions: list[Position]) -> Requirements:
    """What belongs on each position: by type, by the product sheet, else by the recipe in force, else undecided."""
    sheet = sheet_in_force(version.product, path)
    in_force = recipes_in_force(version.product, positions)
    lines = {line.position_id: line.recipe_version for line in sheet.lines.all()} if sheet else {}
    asked, versions = {}, {}
    for position in positions:
        row = in_force.get(position.pk)
        if position.never_taped:
            asked[position.pk] = Required("bare", by_type=True)
            continue
        recipe = lines.get(position.pk) or (row.version if row and sheet is None else None)
        if recipe is None:
            asked[position.pk] = Required("bare" if sheet else "undecided")
            continue
        kind = "taped" if recipe.bands.all() else "bare"
        calculation = row.calculation if row and row.version_id == recipe.pk else None
        asked[position.pk] = Required(
            kind,
            recipe.pk,
            label_of(recipe),
            superseded=row is None or row.version_id != recipe.pk,
            computed_for_current=kind == "bare"
            or calculation is None
            or calculation.product_version_id == version.pk
            or any(again.details.get("product_version") == version.pk for again in recipe.re_checks.all()),
        )
        versions[recipe.pk] = recipe
    return Requirements(sheet, asked, versions)


def misalignments(positions: Iterable[Position]) -> dict[int, float]:
    """The last measured misalignment by position id, mm/m."""
    newest = (
        Measurement.objects.filter(position__in=list(positions), quantity=Measurement.Quantity.ALIGNMENT)
        .values("position")
        .annotate(last=Max("pk"))
        .values("last")
    )
    return {row.position_id: row.value for row in Measurement.objects.filter(pk__in=newest) if row.position_id}


def newest_limit_set() -> LimitSet | None:
    """The plant's own limits, if it has set any."""
    return LimitSet.objects.order_by("-number").first()


def tape_on_line(positions: Iterable[Position]) -> dict[int, tuple[Mounting, OnRoller]]:
    """What is on every position of a line that holds a roller."""
    mountings = mounted(positions)
    facts = newest_facts(mounting.body for mounting in mountings.values())
    return {key: (row, on_roller(facts.get(row.body_id))) for key, row in mountings.items()}


def open_versions(position: Position) -> QuerySet[RecipeVersion]:
    """Drafts and checked versions that are not in force yet."""
    waiting = Q(state=RecipeVersion.State.DRAFT) | Q(state=RecipeVersion.State.CHECKED)
    return RecipeVersion.objects.filter(waiting, recipe__position=position).select_related("recipe", "author")


def facts_of(body: Body, until: datetime | None = None) -> QuerySet[TapeFact]:
    """The history of tape on a body, newest first."""
    rows = TapeFact.objects.filter(body=body).select_related("by", "position", "recipe_version__recipe")
    return rows.filter(at__lte=until) if until else rows
