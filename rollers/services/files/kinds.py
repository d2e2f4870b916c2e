"""Every kind of file, in the order in which a new plant brings them."""

from plant.errors import NotFound
from rollers.services.files import lines, lots, people, products, rollers, rooms, stocks
from rollers.services.files.taking import Kind

KINDS: dict[str, Kind] = {
    kind.code: kind
    for kind in (
        rooms.KIND,
        lines.KIND,
        rollers.KIND,
        stocks.KIND,
        lots.KIND,
        products.KIND,
        people.PEOPLE_KIND,
        people.CERTIFICATES_KIND,
    )
}


def add_kind(kind: Kind) -> None:
    """An application above brings a kind of file of its own; called when it is ready."""
    KINDS[kind.code] = kind


def kind_by_code(code: str) -> Kind:
    """One kind of file.

    Raises
    ------
    NotFound
        For any other word.
    """
    if code not in KINDS:
        raise NotFound("kind of file", code, f"Choose one of: {', '.join(KINDS)}.")
    return KINDS[code]
