"""What changed from one version of a recipe to the next, in words. Pure."""

from collections.abc import Iterable
from dataclasses import dataclass

from rollers.models import RecipeVersion


@dataclass(frozen=True)
class Shape:
    """What of a version is compared."""

    stock: str
    bands: tuple[str, ...]
    products: tuple[str, ...]


def shape_of(version: RecipeVersion) -> Shape:
    """The comparable part of a version (stock, bands and products fetched before)."""
    return Shape(
        version.stock.code if version.stock else "bare",
        tuple(f"{b.end} end {b.inner_mm:g}-{b.outer_mm:g} mm × {b.wraps}" for b in version.bands.all()),
        tuple(sorted(row.product.code for row in version.products.all())),
    )


def differences(before: Shape, after: Shape) -> list[str]:
    """Sentences, one per change; none where nothing changed."""
    said = []
    if before.stock != after.stock:
        said.append(f"tape {before.stock} became {after.stock}")
    said += _moved("band", before.bands, after.bands)
    said += _moved("product", before.products, after.products)
    return said


def _moved(what: str, before: Iterable[str], after: Iterable[str]) -> list[str]:
    old, new = list(before), list(after)
    gone = [f"{what} {one} left out" for one in old if one not in new]
    return gone + [f"{what} {one} added" for one in new if one not in old]
