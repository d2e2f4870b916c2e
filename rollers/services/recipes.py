"""Drafting, copying and withdrawing recipe versions."""

from collections.abc import Iterable
from datetime import datetime
from typing import Any

from django.db import transaction

from calcs import sizing
from calcs.case import CaseError, parse_case
from plant.audit.services import record
from plant.errors import Conflict, Refused
from plant.floor.models import PathStep, Position, Product, ProductVersion
from plant.floor.queries import plant_date
from plant.people.access import require_role
from plant.people.models import Person, Role
from rollers import rules_line
from rollers.access import mounting_at
from rollers.cases import BandShape, TypedBand, case_for
from rollers.models import Band, Recipe, RecipeProduct, RecipeVersion, TapeStock
from rollers.queries import label_of, misalignments
from rollers.readiness import present_limits
from rollers.rooms import room_kinds
from rollers.services.calculations import calculate
from training.access import require_skill


def stream_of(position: Position) -> str:
    """Recipes of one line stay in one order."""
    return f"line:{position.line.code}"


def current_version(product: Product) -> ProductVersion:
    """The newest data of a product."""
    version = product.versions.filter(current=True).first()
    if version is None:
        raise Refused("no-product-data", f"{product} has no data yet. Enter them on the product's page.")
    return version


def case_of(
    version: ProductVersion, step: PathStep, *, stock: TapeStock | None, bands: Iterable[BandShape]
) -> dict[str, Any]:
    """The case of a recipe on the body that is mounted now."""
    body = mounting_at(step.position).body
    if body.diameter_mm is None:
        sentence = f"The diameter of {body} at {step.position} is not known. Measure it and record it first."
        raise Refused("no-diameter", sentence)
    tilt = misalignments([step.position]).get(step.position_id)
    return case_for(version, step, body, stock=stock, bands=bands, misalignment=tilt)


def refuse_place(step: PathStep, stock: TapeStock | None, kind: str, products: Iterable[Product], at: datetime) -> None:
    """Refuse tape where it may not sit: a never-taped roller, a room that does not permit it, the product's side.

    Asked at every step, for a room may change its class and a contact statement may end in between.
    """
    if stock is None:
        return
    position = step.position
    if position.never_taped:
        sentence = (
            f"{position} is a {position.get_kind_display()} and is never taped: tape there marks, misreads or "
            "changes the draw. Look at the spans before it with the process engineer."
        )
        raise Refused("never-taped", sentence)
    if kind not in stock.room_kinds:
        sentence = f"Tape {stock} is not permitted in {kind} rooms. Choose a permitted stock, or ask QA."
        raise Refused("stock-not-permitted", sentence, field="stock")
    troubles = rules_line.stock_troubles(
        stock.code,
        room_kind=kind,
        permitted=stock.room_kinds,
        on_contact_side=any(current_version(product).contact_side == step.web_side for product in products),
        statement_ends=stock.contact_statement_ends,
        day=plant_date(at),
    )
    if troubles:
        sentence = f"{position}: {troubles[0]} Choose a stock with a valid statement, or ask QA for a new one."
        raise Refused("contact-statement", sentence, field="stock")


@transaction.atomic
def draft_recipe(
    *,
    step: PathStep,
    title: str,
    products: Iterable[Product],
    stock: TapeStock | None,
    bands: Iterable[BandShape],
    by: Person,
    at: datetime,
    note: str = "",
) -> RecipeVersion:
    """Write a draft: a new recipe, or the next version of the one with that title. No bands: explicitly bare."""
    position, products, bands, title = step.position, list(products), list(bands), title.strip()
    kind = room_kinds({position.room_id}, at)[position.room_id]
    require_skill(by, "size", kind, at, f"Drafting a recipe for {position}")
    if not title:
        raise Refused("no-title", "Give the recipe a title, for example the products it serves.", field="title")
    if not products:
        raise Refused("no-product", "Choose at least one product that the recipe serves.", field="products")
    if bool(stock) != bool(bands):
        sentence = "Tape and bands go together: choose the stock and at least one band, or neither for bare."
        raise Refused("half-a-recipe", sentence, field="stock")
    refuse_place(step, stock, kind, products, at)
    recipe, _ = Recipe.objects.get_or_create(
        position=position, title=title, defaults={"kind": Recipe.Kind.TAPED if bands else Recipe.Kind.BARE}
    )
    Recipe.objects.select_for_update().get(pk=recipe.pk)
    last = recipe.versions.order_by("-number").first()
    version = RecipeVersion.objects.create(
        recipe=recipe,
        number=(last.number if last else 0) + 1,
        stock=stock,
        step=step,
        note=note,
        author=by,
        drafted_at=at,
    )
    Band.objects.bulk_create(
        Band(version=version, end=b.end, inner_mm=b.inner_mm, outer_mm=b.outer_mm, wraps=b.wraps) for b in bands
    )
    for product in products:
        current = current_version(product)
        calculation = calculate(
            case_of(current, step, stock=stock, bands=bands), version=current, step=step, by=by, at=at
        )
        RecipeProduct.objects.create(version=version, product=product, position=position, calculation=calculation)
    record(
        stream=stream_of(position),
        action="draft-recipe",
        subject=version,
        sentence=f"{by.name} drafted {label_of(version)} for {position}",
        by=by,
        at=at,
        facts={"products": [product.code for product in products]},
    )
    return version


def locked(version: RecipeVersion) -> RecipeVersion:
    """The version as it is now, held until the act is written.

    The position comes first: two versions of one place wait for one another, and never crosswise.
    """
    Position.objects.select_for_update().get(recipes__versions=version.pk)
    RecipeVersion.objects.select_for_update(of=("self",)).get(pk=version.pk)
    return (
        RecipeVersion.objects.select_related("recipe__position__line", "stock", "step", "author")
        .prefetch_related("bands", "products__product", "products__calculation__product_version")
        .get(pk=version.pk)
    )


@transaction.atomic
def withdraw_recipe(version: RecipeVersion, *, reason: str, by: Person, at: datetime) -> None:
    """Take a version out of force, or a draft off the table, at once."""
    version = locked(version)
    position = version.recipe.position
    own_draft = version.state == RecipeVersion.State.DRAFT and version.author_id == by.pk
    if not own_draft:
        require_role(by, Role.SUPERVISOR, Role.QA, Role.ENGINEER, at=at, act="Withdrawing a recipe")
    if version.state in (RecipeVersion.State.SUPERSEDED, RecipeVersion.State.WITHDRAWN):
        raise Conflict("ended", f"This version is {version.state} already.")
    if len(reason.strip()) < 10:
        raise Refused("no-reason", "Say why the recipe is withdrawn, at least a short sentence.", field="reason")
    version.products.filter(in_force=True).update(in_force=False)
    RecipeVersion.objects.filter(pk=version.pk).update(
        state=RecipeVersion.State.WITHDRAWN, ended_at=at, end_reason=reason
    )
    record(
        stream=stream_of(position),
        action="withdraw-recipe",
        subject=version,
        sentence=f"{by.name} withdrew {label_of(version)} for {position}",
        by=by,
        at=at,
        reason=reason,
    )


def copy_to_position(source: RecipeVersion, step: PathStep) -> tuple[list[TypedBand], sizing.Suggestion]:
    """Size the recipe's tape anew for another roller: its diameter, wrap and texture, never the old result."""
    if source.stock is None:
        raise Refused("bare", "A bare recipe has nothing to size; declare the other position bare directly.")
    products = [row.product for row in source.products.all()]
    bands = [TypedBand(b.end, b.inner_mm, b.outer_mm, b.wraps) for b in source.bands.all()]
    cases = [case_of(current_version(product), step, stock=source.stock, bands=bands) for product in products]
    try:
        suggestion = sizing.suggest([parse_case(case) for case in cases], present_limits())
    except CaseError as trouble:
        raise Refused("cannot-compute", trouble.sentence, field=trouble.field) from None
    wraps = suggestion.wraps
    return [TypedBand(b.end, b.inner_mm, b.outer_mm, wraps) for b in bands] if wraps else [], suggestion
