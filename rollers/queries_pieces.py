"""Where pieces of tape are: by their newest fact."""

from typing import Any

from django.db.models import OuterRef, QuerySet, Subquery

from rollers.models import Bag, Piece, PieceFact
from rollers.rules_store import Pieces

OFF = (PieceFact.State.INTACT, PieceFact.State.IN_PARTS, PieceFact.State.FOUND)


def with_newest(pieces: QuerySet[Piece]) -> QuerySet[Any]:
    """Pieces with `now` (state) and `now_bag` of their newest fact."""
    newest = PieceFact.objects.filter(piece=OuterRef("pk")).order_by("-pk")
    return pieces.annotate(now=Subquery(newest.values("state")[:1]), now_bag=Subquery(newest.values("bag")[:1]))


def pieces_balance(pieces: QuerySet[Piece]) -> Pieces:
    """Where these pieces are."""
    rows = list(with_newest(pieces).values_list("now", "now_bag", "length_mm"))
    off = [bag for state, bag, _ in rows if state in OFF]
    return Pieces(
        cut=len(rows),
        on_rollers=sum(state == PieceFact.State.ON for state, _, _ in rows),
        in_bags=sum(bag is not None for bag in off),
        loose=sum(bag is None for bag in off),
        missing=sum(state == PieceFact.State.MISSING for state, _, _ in rows),
        length_m=sum(length for _, _, length in rows) / 1000,
    )


def bag_pieces(bag: Bag) -> list[PieceFact]:
    """What was recorded into a bag, in order."""
    return list(PieceFact.objects.filter(bag=bag).select_related("piece__application__position", "by", "second"))
