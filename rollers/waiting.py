"""What waits for one person: recipes to sign, sheets in draft, cautions. Reads only."""

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime

from plant.audit.models import Signature
from plant.floor.models import RoomKind
from plant.people.models import Person, Role
from rollers import rules
from rollers.models import ProductSheet, RecipeProduct, RecipeVersion
from rollers.queries import label_of
from rollers.rooms import room_kinds
from training.queries import is_certified


@dataclass(frozen=True)
class Waiting:
    """One thing to do: its mark, what, and which row to open (`kind` and `pk`)."""

    mark: str
    sentence: str
    kind: str
    pk: int


def waiting_for(person: Person, roles: Iterable[str], at: datetime) -> list[Waiting]:
    """Everything that this person can do something about, most pressing first."""
    held = frozenset(roles)
    return [*_recipes(person, held, at), *_sheets(held), *_outdated(held)]


def _recipes(person: Person, roles: frozenset[str], at: datetime) -> list[Waiting]:
    states = (RecipeVersion.State.DRAFT, RecipeVersion.State.CHECKED)
    rows = list(
        RecipeVersion.objects.filter(state__in=states)
        .select_related("recipe__position", "stock", "author")
        .prefetch_related("bands")
        .order_by("drafted_at")
    )
    kinds = room_kinds({row.recipe.position.room_id for row in rows}, at)
    signed: dict[str, list[Signature]] = defaultdict(list)
    keys = [str(row.pk) for row in rows]
    for signature in Signature.objects.filter(subject_type="recipeversion", subject_id__in=keys):
        signed[signature.subject_id].append(signature)
    may_size = {kind: is_certified(person, "size", kind, at) for kind in RoomKind.values} if rows else {}
    found = []
    for row in rows:
        said = f"{row.recipe.position}: {label_of(row)}"
        if row.state == RecipeVersion.State.DRAFT:
            if row.author_id == person.pk:
                found.append(Waiting("do", f"{said}: your draft, you sign it as author.", "recipe", row.pk))
            continue
        given = signed[str(row.pk)]
        if row.author_id == person.pk or person.pk in {one.person_id for one in given}:
            continue
        kind = kinds[row.recipe.position.room_id]
        able = {
            rules.SECOND: may_size[kind],
            rules.APPROVED: Role.SUPERVISOR in roles,
            rules.QA_APPROVED: Role.QA in roles,
        }
        for needed in rules.signatures_needed(
            room_kind=kind,
            cautions=bool(row.reasons),
            bare=row.stock is None,
            given=frozenset(one.meaning for one in given),
        ):
            if able.get(needed.meaning):
                found.append(Waiting("do", f"{said}: waits for your signature “{needed.meaning}”.", "recipe", row.pk))
                break
    return found


def _sheets(roles: frozenset[str]) -> list[Waiting]:
    if Role.SUPERVISOR not in roles:
        return []
    rows = ProductSheet.objects.filter(state=ProductSheet.State.DRAFT).select_related("product", "path__line", "author")
    return [
        Waiting("do", f"Product sheet of {row.product} on {row.path} is a draft by {row.author.name}.", "sheet", row.pk)
        for row in rows
    ]


def _outdated(roles: frozenset[str]) -> list[Waiting]:
    """Recipes in force that were computed from data that changed since."""
    if not roles & {Role.ENGINEER, Role.SUPERVISOR, Role.QA}:
        return []
    rows = RecipeProduct.objects.filter(in_force=True, calculation__product_version__current=False)
    return [
        Waiting(
            "caution",
            f"{row.position}: the data of {row.product} changed since its recipe was computed. Size it again.",
            "recipe",
            row.version_id,
        )
        for row in rows.select_related("position", "product")
    ]
