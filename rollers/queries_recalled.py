"""Recalled tape that is on rollers."""

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime

from plant.floor.models import Position
from rollers.models import Lot, LotAct, Piece, PieceFact
from rollers.queries_pieces import with_newest


@dataclass(frozen=True)
class RecalledTape:
    """Tape of a recalled lot that is on a roller."""

    lots: tuple[str, ...]
    contaminating: bool
    reason: str
    recalled_at: datetime | None = None

    @property
    def words(self) -> str:
        return "lot " + ", ".join(self.lots)


def recalled_on(positions: Iterable[Position], at: datetime) -> dict[int, RecalledTape]:
    """Recalled tape that is on rollers of these positions, by position id; in three queries.

    From the pieces on the roller to their reels and lots. A recall counts from when it was recorded.
    """
    recalled = Lot.objects.filter(status=Lot.Status.RECALLED).select_related("stock")
    lots = {lot.pk: lot for lot in recalled}
    if not lots:
        return {}
    pieces = with_newest(Piece.objects.filter(application__position__in=list(positions), reel__lot__in=lots))
    rows = set(pieces.filter(now=PieceFact.State.ON).values_list("application__position", "reel__lot"))
    acts = LotAct.objects.filter(lot__in=lots, status=Lot.Status.RECALLED, at__lte=at).order_by("pk")
    why = {act.lot_id: act for act in acts}
    found: dict[int, list[int]] = defaultdict(list)
    for position, lot in sorted(rows):
        if lot in why:
            found[position].append(lot)
    return {
        position: RecalledTape(
            tuple(f"{lots[key].code} ({lots[key].stock.code})" for key in keys),
            any(lots[key].contaminating for key in keys),
            why[keys[0]].reason,
            min(why[key].at for key in keys),
        )
        for position, keys in found.items()
    }
