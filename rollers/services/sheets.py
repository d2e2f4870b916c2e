"""Product sheets: one signed document says which positions carry a recipe; all others are bare."""

from collections.abc import Mapping
from datetime import datetime
from typing import Any

from django.db import transaction

from plant.audit.services import Confirmation, record, sign
from plant.errors import Conflict, Refused
from plant.floor.models import Position, Product, WebPath
from plant.people.access import require_role
from plant.people.models import Person, Role
from rollers import access
from rollers.models import ProductSheet, RecipeProduct, RecipeVersion, SheetLine
from rollers.queries import label_of


@transaction.atomic
def draft_sheet(
    *, product: Product, path: WebPath, choices: Mapping[Position, RecipeVersion], by: Person, at: datetime
) -> ProductSheet:
    """Write the draft of a product sheet; a draft that was there is replaced by this one."""
    require_role(by, Role.SUPERVISOR, at=at, act="Assigning recipes to a product")
    WebPath.objects.select_for_update().get(pk=path.pk)
    on_path = set(path.steps.values_list("position_id", flat=True))
    for position, version in choices.items():
        _refuse_choice(product, path, position, version, on_path)
    ProductSheet.objects.filter(product=product, path=path, state=ProductSheet.State.DRAFT).delete()
    last = ProductSheet.objects.filter(product=product, path=path).order_by("-number").first()
    sheet = ProductSheet.objects.create(
        product=product, path=path, number=(last.number if last else 0) + 1, author=by, drafted_at=at
    )
    SheetLine.objects.bulk_create(
        SheetLine(sheet=sheet, position=position, recipe_version=version) for position, version in choices.items()
    )
    record(
        stream=f"line:{path.line.code}",
        action="draft-sheet",
        subject=sheet,
        sentence=f"{by.name} drafted the product sheet of {product} on {path}, version {sheet.number}",
        by=by,
        at=at,
        facts={"positions": {position.code: str(version) for position, version in choices.items()}},
    )
    return sheet


def _refuse_choice(
    product: Product, path: WebPath, position: Position, version: RecipeVersion, on_path: set[int]
) -> None:
    field = f"position-{position.pk}"
    if position.pk not in on_path:
        raise Refused("not-on-path", f"{position} is not on {path}. Take it off the sheet.", field=field)
    if position.never_taped and version.stock_id is not None:
        raise Refused("never-taped", f"{position} is bare by its type and carries no recipe.", field=field)
    serves = RecipeProduct.objects.filter(version=version, product=product, position=position, in_force=True)
    if not serves.exists():
        sentence = (
            f"{label_of(version)} is not in force at {position} for {product}. "
            "Ask a person with Size to have it approved, or leave the position bare."
        )
        raise Refused("not-in-force", sentence, field=field)


def content_of(sheet: ProductSheet) -> dict[str, Any]:
    """Exactly what the signature on a sheet stands for: every position of the path, bare where nothing is named."""
    lines = {line.position_id: line.recipe_version for line in sheet.lines.all()}
    steps = sheet.path.steps.select_related("position").order_by("order")
    return {
        "product": sheet.product.code,
        "path": str(sheet.path),
        "path_version": sheet.path.version,
        "version": sheet.number,
        "positions": [
            [step.position.code, label_of(lines[step.position_id]) if step.position_id in lines else "bare"]
            for step in steps
        ],
    }


@transaction.atomic
def sign_sheet(sheet: ProductSheet, *, confirmation: Confirmation) -> ProductSheet:
    """The supervisor signs; the sheet comes into force and ends the one before."""
    by, at = confirmation.person, confirmation.at
    require_role(by, Role.SUPERVISOR, at=at, act="Signing a product sheet")
    WebPath.objects.select_for_update().get(pk=sheet.path_id)
    if not ProductSheet.objects.filter(pk=sheet.pk, state=ProductSheet.State.DRAFT).exists():
        raise Conflict("not-a-draft", "This sheet is no longer a draft: signed or replaced since you looked. Reload.")
    sheet = access.sheet(sheet.pk)
    on_path = set(sheet.path.steps.values_list("position_id", flat=True))
    for line in sheet.lines.all():
        _refuse_choice(sheet.product, sheet.path, line.position, line.recipe_version, on_path)
    ProductSheet.objects.filter(product=sheet.product, path=sheet.path, state=ProductSheet.State.IN_FORCE).update(
        state=ProductSheet.State.SUPERSEDED, ended_at=at
    )
    ProductSheet.objects.filter(pk=sheet.pk).update(state=ProductSheet.State.IN_FORCE, in_force_at=at)
    content = content_of(sheet)
    signature = sign(confirmation, meaning="recipes assigned", subject=sheet, content=content)
    record(
        stream=f"line:{sheet.path.line.code}",
        action="sign-sheet",
        subject=sheet,
        sentence=f"{by.name} signed the product sheet of {sheet.product} on {sheet.path}, version {sheet.number}",
        by=by,
        at=at,
        facts={"signature": signature.digest, "positions": content["positions"]},
    )
    return access.sheet(sheet.pk)


@transaction.atomic
def withdraw_sheet(sheet: ProductSheet, *, reason: str, by: Person, at: datetime) -> None:
    """Take a sheet out of force; its positions are undecided until a new one is signed."""
    require_role(by, Role.SUPERVISOR, Role.QA, at=at, act="Withdrawing a product sheet")
    if len(reason.strip()) < 10:
        raise Refused("no-reason", "Say why the sheet is withdrawn, at least a short sentence.", field="reason")
    WebPath.objects.select_for_update().get(pk=sheet.path_id)
    live = (ProductSheet.State.DRAFT, ProductSheet.State.IN_FORCE)
    changed = ProductSheet.objects.filter(pk=sheet.pk, state__in=live).update(
        state=ProductSheet.State.WITHDRAWN, ended_at=at
    )
    if not changed:
        raise Conflict("ended", "This sheet ended since you looked. Reload the page.")
    record(
        stream=f"line:{sheet.path.line.code}",
        action="withdraw-sheet",
        subject=sheet,
        sentence=f"{by.name} withdrew the product sheet of {sheet.product} on {sheet.path}",
        by=by,
        at=at,
        reason=reason,
    )
