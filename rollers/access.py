"""The doors to rows of this application: fetch by what a person knows, or say what is missing."""

from plant.errors import NotFound
from plant.floor.models import Position, Run, WebPath
from rollers.models import Body, Mounting, ProductSheet, RecipeVersion, TapeStock


def position_by_code(code: str) -> Position:
    """A position by the code on its label."""
    found = Position.objects.select_related("line", "room").filter(code__iexact=code.strip()).first()
    if found is None:
        raise NotFound("roller position", code, "Check the code on the label, or ask the shift supervisor.")
    return found


def mounting_at(position: Position) -> Mounting:
    """The body that is mounted at a position now."""
    found = Mounting.objects.select_related("body").filter(position=position, removed_at=None).first()
    if found is None:
        raise NotFound("mounted roller at", position.code, "Ask maintenance to record which body is mounted.")
    return found


def body_by_serial(serial: str) -> Body:
    """A roller body by its serial."""
    found = Body.objects.filter(serial__iexact=serial.strip()).first()
    if found is None:
        raise NotFound("roller with serial", serial, "Check the plate on the roller, or ask maintenance.")
    return found


def stock_by_code(code: str) -> TapeStock:
    """A tape stock by its code."""
    found = TapeStock.objects.filter(code__iexact=code.strip()).first()
    if found is None:
        raise NotFound("tape stock", code, "Check the label of the reel, or ask the store.")
    return found


def recipe_version(pk: int) -> RecipeVersion:
    """One recipe version with everything that is shown of it."""
    found = (
        RecipeVersion.objects.select_related("recipe__position__line", "recipe__position__room", "stock", "author")
        .select_related("step__path")
        .prefetch_related("bands", "products__product", "products__calculation__product_version")
        .filter(pk=pk)
        .first()
    )
    if found is None:
        raise NotFound("recipe version", str(pk), "Open it from the roller's page.")
    return found


def sheet(pk: int) -> ProductSheet:
    """One product sheet with its lines."""
    found = (
        ProductSheet.objects.select_related("product", "path__line", "author")
        .prefetch_related("lines__position", "lines__recipe_version__recipe", "lines__recipe_version__stock")
        .filter(pk=pk)
        .first()
    )
    if found is None:
        raise NotFound("product sheet", str(pk), "Open it from the product's page.")
    return found


def run(pk: int) -> Run:
    """One run."""
    found = Run.objects.select_related("line", "path__line", "product_version__product").filter(pk=pk).first()
    if found is None:
        raise NotFound("run", str(pk), "Open it from the ready board of its line.")
    return found


def path(pk: int) -> WebPath:
    """One web path."""
    found = WebPath.objects.select_related("line").filter(pk=pk).first()
    if found is None:
        raise NotFound("web path", str(pk), "Open it from its line.")
    return found
