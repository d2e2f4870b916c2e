"""What must hold of signed documents: nothing is in force whose signatures are missing or for something else.

A draft that direct SQL would turn into a recipe in force has no signatures; here it is named.
"""

import json
from collections.abc import Iterator

from plant.audit.models import Signature
from plant.audit.services.signing import stands_for
from plant.audit.verification.registry import Misfit, verifier
from rollers.models import LimitSet, ProductSheet, RecipeVersion, Release, Survey
from rollers.queries import label_of
from rollers.services.approving import content_of, given_signatures, still_needed
from rollers.services.surveys import content_of as content_of_survey

OTHER = "a signature on it is for another version"


@verifier("recipes carry their signatures")
def recipes() -> Iterator[Misfit]:
    """Every recipe that is no draft."""
    versions = RecipeVersion.objects.exclude(state=RecipeVersion.State.DRAFT).order_by("pk")
    related = versions.select_related("recipe__position", "stock", "step")
    for version in related.prefetch_related("bands", "products__product", "products__calculation"):
        where = f"recipe {label_of(version)} of {version.recipe.position}"
        given, content = given_signatures(version), content_of(version)
        if not all(stands_for(signature, content) for signature in given.values()):
            yield Misfit(where, OTHER)
        if version.in_force_at is not None:
            missing = [needed.meaning for needed in still_needed(version, version.in_force_at)]
            if missing:
                yield Misfit(where, f"it came into force without the signature: {', '.join(missing)}")
        elif version.state in (RecipeVersion.State.IN_FORCE, RecipeVersion.State.SUPERSEDED):
            yield Misfit(where, f"it is {version.state} and no moment is on record at which it came into force")
        elif not given:
            yield Misfit(where, f"it is {version.state} and nobody signed it")


@verifier("product sheets carry their signature")
def sheets() -> Iterator[Misfit]:
    """Every sheet that is no draft. A path that was drawn anew since leaves what was signed as it was."""
    signed: dict[str, list[str]] = {}
    rows = Signature.objects.filter(subject_type="productsheet").order_by("pk")
    for key, content in rows.values_list("subject_id", "content"):
        signed.setdefault(key, []).append(content)
    found = ProductSheet.objects.exclude(in_force_at=None, state__in=["draft", "withdrawn"]).order_by("pk")
    related = found.select_related("product", "path").prefetch_related(
        "lines__position", "lines__recipe_version__recipe"
    )
    for sheet in related:
        where = f"product sheet {sheet}"
        lines = sorted([line.position.code, label_of(line.recipe_version)] for line in sheet.lines.all())
        told = [json.loads(content) for content in signed.get(str(sheet.pk), ())]
        said = [
            (each["product"], each["version"], sorted(place for place in each["positions"] if place[1] != "bare"))
            for each in told
        ]
        if not said:
            yield Misfit(where, f"it is {sheet.state} and nobody signed it")
        elif (sheet.product.code, sheet.number, lines) not in said:
            yield Misfit(where, OTHER)


@verifier("releases, surveys and limits stand as signed")
def documents() -> Iterator[Misfit]:
    """What was signed once and never changes."""
    for release in Release.objects.select_related("signature", "run").order_by("pk").iterator():
        if not stands_for(release.signature, release.snapshot):
            yield Misfit(f"release of run {release.run_id}", OTHER)
    for survey in Survey.objects.exclude(closed_at=None).select_related("room", "signature").order_by("pk"):
        if survey.signature is None or not stands_for(survey.signature, content_of_survey(survey)):
            yield Misfit(f"survey {survey.pk} of room {survey.room}", "its signature is not for what it says now")
    for limits in LimitSet.objects.select_related("engineer_signature", "qa_signature").order_by("number"):
        content = {"limits": limits.limits, "reason": limits.reason}
        both = (limits.engineer_signature, limits.qa_signature)
        if not all(signature is not None and stands_for(signature, content) for signature in both):
            yield Misfit(f"limits version {limits.number}", OTHER)
