"""Reads of the store: what is left on reels and where, which may be used, and the ledgers of lots and rooms."""

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, datetime

from django.db.models import Max, OuterRef, QuerySet, Subquery, Sum

from plant.floor.models import Position, Room
from plant.floor.queries import plant_date
from rollers.models import Lot, LotAct, Piece, PieceFact, Reel, ReelMove
from rollers.queries_pieces import OFF, pieces_balance, with_newest
from rollers.readiness import present_limits
from rollers.rooms import room_kinds
from rollers.rules_store import Length, Pieces, ReelState, Trouble, length_left, troubles_of


@dataclass(frozen=True)
class ReelNow:
    """A reel with what its moves make of it."""

    reel: Reel
    left_m: float
    last: ReelMove | None

    @property
    def room(self) -> Room | None:
        """Where it is; none: in the store."""
        return self.last.room if self.last else None

    @property
    def place(self) -> str:
        return f"room {self.room}" if self.room else "store"

    @property
    def share_left(self) -> float:
        return self.left_m / self.reel.length_m


def moves_of(reels: Iterable[Reel]) -> dict[int, list[ReelMove]]:
    """Every move by reel id, the first first."""
    found: dict[int, list[ReelMove]] = defaultdict(list)
    rows = ReelMove.objects.filter(reel__in=list(reels)).select_related("room", "to", "by", "application__position")
    for move in rows.order_by("pk"):
        found[move.reel_id].append(move)
    return found


def _sums(reels: list[Reel]) -> dict[int, dict[str, float]]:
    """Length by reel id and kind of move, added up by the database."""
    found: dict[int, dict[str, float]] = defaultdict(dict)
    rows = ReelMove.objects.filter(reel__in=reels).order_by().values("reel", "kind").annotate(metres=Sum("length_m"))
    for row in rows:
        found[row["reel"]][row["kind"]] = row["metres"]
    return found


def reels_now(reels: Iterable[Reel]) -> list[ReelNow]:
    """Reels with what is left and where they are; three queries whatever their number and their years."""
    rows = list(reels)
    sums = _sums(rows)
    newest = ReelMove.objects.filter(reel__in=rows).order_by().values("reel").annotate(last=Max("pk")).values("last")
    moves = ReelMove.objects.filter(pk__in=newest).select_related("room", "to", "by", "application__position")
    last = {move.reel_id: move for move in moves}
    return [ReelNow(reel, length_left(sums[reel.pk].items()), last.get(reel.pk)) for reel in rows]


def reel_now(reel: Reel) -> ReelNow:
    """One reel with what is left and where it is."""
    return reels_now([reel])[0]


def all_reels() -> QuerySet[Reel]:
    """Reels with their lot and stock."""
    return Reel.objects.select_related("lot__stock")


def last_reasons(lots: Iterable[Lot]) -> dict[int, str]:
    """Why each lot is what it is, by lot id."""
    newest = LotAct.objects.filter(lot__in=list(lots)).values("lot").annotate(last=Max("pk")).values("last")
    return dict(LotAct.objects.filter(pk__in=newest).values_list("lot", "reason"))


def _state(now: ReelNow, reason: str) -> ReelState:
    lot, stock = now.reel.lot, now.reel.lot.stock
    return ReelState(
        label=now.reel.label,
        stock=stock.code,
        lot=lot.code,
        status=lot.status,
        reason=reason,
        use_by=lot.use_by,
        statement_ends=stock.contact_statement_ends,
        room_kinds=tuple(stock.room_kinds),
        max_temp_c=stock.max_temp_c,
        left_m=now.left_m,
        room=now.room.code if now.room else "",
    )


def troubles_by_reel(
    reels: list[ReelNow], *, room_kind: str, at: datetime, position: Position | None = None
) -> dict[int, tuple[Trouble, ...]]:
    """What speaks against using each of these reels in a room of this class, on this roller; by reel id."""
    reasons = last_reasons({now.reel.lot for now in reels})
    margin = present_limits().refuse("temperature_margin") if position is not None else 20
    return {
        now.reel.pk: troubles_of(
            _state(now, reasons.get(now.reel.lot_id, "")),
            room_kind=room_kind,
            day=plant_date(at),
            position=position.code if position else "",
            surface_temp_c=position.surface_temp_c if position else None,
            margin_k=float(margin or 0),
        )
        for now in reels
    }


def reels_in(room: Room | None) -> list[ReelNow]:
    """Reels that are in a room with something on them; none for the room: in the store."""
    newest = ReelMove.objects.filter(reel=OuterRef("pk")).order_by("-pk").values("room")[:1]
    rows = all_reels().annotate(now_in=Subquery(newest)).filter(now_in=room.pk if room else None)
    return [now for now in reels_now(rows) if now.left_m > 0]


def usable_reels(position: Position, at: datetime) -> list[ReelNow]:
    """Reels in the room of a roller that may be used on it now, the one to be used up first first."""
    kind = room_kinds({position.room_id}, at)[position.room_id]
    here = reels_in(position.room)
    against = troubles_by_reel(here, room_kind=kind, at=at, position=position)
    good = [now for now in here if not against[now.reel.pk]]
    return sorted(good, key=lambda now: (now.reel.lot.use_by is None, now.reel.lot.use_by, now.left_m))


# --- ledgers ----------------------------------------------------------------------------------------------------


@dataclass(frozen=True)
class Ledger:
    """Length and pieces of a lot or a room."""

    length: Length
    pieces: Pieces
    reels: int

    @property
    def balances(self) -> bool:
        return self.length.balances and self.pieces.balances


def lot_ledger(lot: Lot) -> Ledger:
    """The ledger of one lot: what was received is on reels, cut, scrapped, or corrected by a count."""
    return lot_ledgers([lot])[lot.pk]


def lot_ledgers(lots: Iterable[Lot]) -> dict[int, Ledger]:
    """Ledgers by lot id, in a fixed number of queries."""
    rows = list(lots)
    reels = list(Reel.objects.filter(lot__in=rows).select_related("lot"))
    sums = _sums(reels)
    by_lot: dict[int, list[Reel]] = defaultdict(list)
    for reel in reels:
        by_lot[reel.lot_id].append(reel)
    pieces = _pieces_by_lot(rows)
    found = {}
    for lot in rows:
        own = by_lot[lot.pk]
        left = [length_left(sums[reel.pk].items()) for reel in own]
        length = Length(
            received=sum(reel.length_m for reel in own),
            cut=sum(sums[reel.pk].get("cut", 0.0) for reel in own),
            scrapped=sum(sums[reel.pk].get("scrapped", 0.0) for reel in own),
            counted=sum(sums[reel.pk].get("counted", 0.0) for reel in own),
            on_reels=sum(left),
        )
        found[lot.pk] = Ledger(length, pieces.get(lot.pk, Pieces()), sum(one > 0 for one in left))
    return found


def _pieces_by_lot(lots: list[Lot]) -> dict[int, Pieces]:
    rows = with_newest(Piece.objects.filter(reel__lot__in=lots)).values_list("reel__lot", "now", "now_bag", "length_mm")
    sorted_out: dict[int, dict[str, float]] = defaultdict(lambda: defaultdict(float))
    for lot, state, bag, length in rows:
        place = {PieceFact.State.ON: "on_rollers", PieceFact.State.MISSING: "missing"}.get(state, "")
        if state in OFF:
            place = "in_bags" if bag is not None else "loose"
        counts = sorted_out[lot]
        counts["cut"] += 1
        counts["length_m"] += length / 1000
        if place:
            counts[place] += 1
    return {
        lot: Pieces(**{key: value if key == "length_m" else round(value) for key, value in counts.items()})  # type: ignore[arg-type]
        for lot, counts in sorted_out.items()
    }


def room_ledger(room: Room) -> Ledger:
    """The ledger of one room: what was issued into it is on reels there, returned, cut there, or scrapped there."""
    came = Reel.objects.filter(moves__room=room).distinct()
    moves = moves_of(came)
    totals: dict[str, float] = defaultdict(float)
    reels = 0
    for own in moves.values():
        inside, left = False, 0.0
        for move in own:
            left = length_left([("received", left), (move.kind, move.length_m)])
            if move.kind == ReelMove.Kind.ISSUED and move.room_id == room.pk:
                inside, totals["issued"] = True, totals["issued"] + move.length_m
            elif inside and move.kind == ReelMove.Kind.RETURNED:
                inside, totals["returned"] = False, totals["returned"] + move.length_m
            elif inside:
                totals[move.kind] += move.length_m
        if inside:
            totals["on_reels"] += left
            reels += left > 0
    length = Length(
        received=totals["issued"],
        returned=totals["returned"],
        cut=totals["cut"],
        scrapped=totals["scrapped"],
        counted=totals["counted"],
        on_reels=totals["on_reels"],
    )
    return Ledger(length, pieces_balance(Piece.objects.filter(application__position__room=room)), reels)


# --- what is on hand --------------------------------------------------------------------------------------------


@dataclass(frozen=True)
class OnHand:
    """One lot as the store has it: reels and metres in the store and in rooms."""

    lot: Lot
    in_store: int
    store_m: float
    outside: int
    outside_m: float

    @property
    def total_m(self) -> float:
        return self.store_m + self.outside_m


def on_hand(reels: list[ReelNow]) -> list[OnHand]:
    """Every lot of which something is left, by stock, the one to be used up first first."""
    by_lot: dict[int, list[ReelNow]] = defaultdict(list)
    lots: dict[int, Lot] = {}
    for now in reels:
        if now.left_m > 0:
            by_lot[now.reel.lot_id].append(now)
            lots[now.reel.lot_id] = now.reel.lot
    rows = []
    for key, own in by_lot.items():
        inside = [now.left_m for now in own if now.room is None]
        outside = [now.left_m for now in own if now.room is not None]
        rows.append(OnHand(lots[key], len(inside), sum(inside), len(outside), sum(outside)))
    far = date.max
    return sorted(rows, key=lambda row: (row.lot.stock.code, row.lot.use_by or far, row.lot.pk))


def reels_out(reels: list[ReelNow]) -> list[ReelNow]:
    """Reels that are in rooms with something on them, by room."""
    out = [now for now in reels if now.room is not None and now.left_m > 0]
    return sorted(out, key=lambda now: (now.room.code if now.room else "", now.reel.label))
