"""The doors to sightings, walks, cause sheets and studies."""

from plant.errors import NotFound
from rollers.causes.models import CauseSheet, Sighting, Study, Walk

KEPT = "Open it from the page of its line or roller."


def sighting(pk: int) -> Sighting:
    """One sighting."""
    found = Sighting.objects.select_related("line", "after", "before", "by", "photo", "product_version__product")
    row = found.filter(pk=pk).first()
    if row is None:
        raise NotFound("sighting", str(pk), KEPT)
    return row


def walk(pk: int) -> Walk:
    """One walk."""
    found = Walk.objects.select_related("line", "path__line", "starts_from", "by", "product_version__product")
    row = found.filter(pk=pk).first()
    if row is None:
        raise NotFound("line walk", str(pk), KEPT)
    return row


def cause_sheet(pk: int) -> CauseSheet:
    """One cause sheet."""
    found = CauseSheet.objects.select_related(
        "position__line", "position__room", "product_version__product", "by", "walk"
    )
    row = found.filter(pk=pk).first()
    if row is None:
        raise NotFound("cause sheet", str(pk), KEPT)
    return row


def study(pk: int) -> Study:
    """One study."""
    found = Study.objects.select_related("position__line", "product", "by", "recipe_version__recipe", "replaces")
    row = found.filter(pk=pk).first()
    if row is None:
        raise NotFound("study", str(pk), KEPT)
    return row
