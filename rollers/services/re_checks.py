"""Testing a recipe again after something changed: it still holds, or a new version is due."""

from datetime import datetime
from typing import Any

from django.db import transaction

from plant.audit.services import Confirmation, record, sign
from plant.errors import Refused
from plant.floor.models import Position, Run
from plant.floor.queries import current_version
from rollers.access import mounting_at
from rollers.cases import SetPoints, case_for
from rollers.models import ReCheck, RecipeVersion
from rollers.queries import label_of, misalignments
from rollers.queries_window import present_points
from rollers.readiness import judge, present_limits
from rollers.rooms import room_kinds
from rollers.services.recipes import stream_of
from training.access import require_skill

WORST_FIRST = ("refused", "cannot tell", "caution", "fits")


def tested(version: RecipeVersion, position: Position, run: Run | None, at: datetime) -> dict[str, dict[str, Any]]:
    """The recipe against every product that it serves, on the roller that is mounted now, by product code."""
    body, limits = mounting_at(position).body, present_limits()
    found = {}
    for row in version.products.select_related("product"):
        product = current_version(row.product)
        points = None
        if run is not None and run.product_version_id == product.pk:
            now = present_points(run)
            points = SetPoints(now["tension"], now["speed"])
        case = case_for(
            product,
            version.step,
            body,
            stock=version.stock,
            bands=version.bands.all(),
            at=points,
            misalignment=misalignments([position]).get(position.pk),
        )
        judged, _ = judge(case, limits)
        if judged.trouble:
            raise Refused("cannot-compute", f"{row.product}: {judged.trouble}")
        found[row.product.code] = {
            "verdict": judged.overall,
            "refused": [said for _, verdict, said in judged.checks if verdict == "refused"],
            "product_version": product.pk,
        }
    return found


@transaction.atomic
def test_again(
    version: RecipeVersion, *, why: str, confirmation: Confirmation, at: datetime, run: Run | None = None
) -> ReCheck:
    """A person with Size signs that a recipe in force still holds on the roller, the data and the window of now."""
    by, position = confirmation.person, version.recipe.position
    kind = room_kinds({position.room_id}, at)[position.room_id]
    require_skill(by, "size", kind, at, f"Testing the recipe of {position} again")
    if version.state != RecipeVersion.State.IN_FORCE or version.stock is None:
        raise Refused("not-in-force", f"{label_of(version)} is not a taped recipe in force. Choose the one that is.")
    if len(why.strip()) < 10:
        raise Refused("no-reason", "Say what changed, in a sentence.", field="why")
    found = tested(version, position, run, at)
    failed = [said for one in found.values() for said in one["refused"]]
    if failed:
        sentence = f"{label_of(version)} does not hold any more: {failed[0]} Draft a new version."
        raise Refused("hard-limit", sentence, details=failed)
    worst = min((one["verdict"] for one in found.values()), key=WORST_FIRST.index)
    body = mounting_at(position).body
    details: dict[str, Any] = {
        "body": body.serial,
        "diameter_mm": body.diameter_mm,
        "products": {code: one["verdict"] for code, one in found.items()},
        "product_version": run.product_version_id if run else next(iter(found.values()))["product_version"],
        "run": run.pk if run else None,
    }
    content = {"recipe": label_of(version), "why": why.strip(), "verdict": worst} | {
        key: str(value) for key, value in details.items()
    }
    made = ReCheck.objects.create(
        version=version,
        why=why.strip()[:300],
        verdict=worst,
        details=details,
        signature=sign(confirmation, meaning="tested again", subject=version, content=content),
        at=at,
        by=by,
    )
    record(
        stream=stream_of(position),
        action="test-again",
        subject=version,
        sentence=f"{by.name} tested {label_of(version)} again: {worst}",
        by=by,
        at=at,
        facts=content,
        reason=why.strip(),
    )
    return made
