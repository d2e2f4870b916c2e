"""What there is to count, and what the ledger says of it: a taping, a room, a shift's rollers, a lot."""

from collections import defaultdict
from collections.abc import Callable

from plant.errors import NotFound
from plant.floor.models import Room, Shift
from rollers.models import Application, Bag, Lot, Piece, PieceFact, Reconciliation, Reel
from rollers.queries_knives import knives_in
from rollers.queries_pieces import OFF, with_newest
from rollers.queries_store import reels_in, reels_now
from rollers.rules_store import CountRow

Scope = Reconciliation.Scope


def _on_rollers(pieces: list[Piece]) -> list[CountRow]:
    count: dict[tuple[str, int], int] = defaultdict(int)
    for piece in pieces:
        if piece.now == PieceFact.State.ON:  # type: ignore[attr-defined]
            count[piece.application.position.code, piece.application_id] += 1
    return [
        CountRow(f"taping:{key}", f"Pieces on roller {position}", "pieces", number, position)
        for (position, key), number in sorted(count.items())
    ]


def _in_bags(pieces: list[Piece]) -> list[CountRow]:
    count: dict[int, int] = defaultdict(int)
    for piece in pieces:
        if piece.now in OFF and piece.now_bag:  # type: ignore[attr-defined]
            count[piece.now_bag] += 1  # type: ignore[attr-defined]
    bags = {bag.pk: bag for bag in Bag.objects.filter(pk__in=count)}
    return [
        CountRow(f"bag:{key}", f"Pieces in bag {bags[key].label}", "pieces", number, bags[key].label)
        for key, number in sorted(count.items())
    ]


def _read(**filters: object) -> list[Piece]:
    rows = with_newest(Piece.objects.filter(**filters)).select_related("application__position")
    return list(rows.order_by("application", "number"))


def _of_application(key: str) -> tuple[str, list[CountRow], list[Room]]:
    found = Application.objects.select_related("position__room").filter(pk=_number(key)).first()
    if found is None:
        raise NotFound("taping", key, "Open it from its roller.")
    pieces = _read(application=found)
    rows = _on_rollers(pieces) or [
        CountRow(f"taping:{found.pk}", f"Pieces on roller {found.position}", "pieces", 0, found.position.code)
    ]
    return f"tape on {found.position}, taping {found.pk}", rows + _in_bags(pieces), [found.position.room]


def _of_room(key: str) -> tuple[str, list[CountRow], list[Room]]:
    room = _room(key)
    # Closed bags leave the room with the waste; they were counted when they were closed.
    open_bags = {f"bag:{pk}" for pk in Bag.objects.filter(room=room, closed_at=None).values_list("pk", flat=True)}
    pieces = _read(application__position__room=room)
    rows = _on_rollers(pieces) + [row for row in _in_bags(pieces) if row.key in open_bags]
    rows += [
        CountRow(f"reel:{now.reel.pk}", f"Metres on reel {now.reel.label}", "length", now.left_m, now.reel.label)
        for now in sorted(reels_in(room), key=lambda now: now.reel.label)
    ]
    rows += [
        CountRow(f"knife:{now.knife.pk}", f"Knife {now.knife.number} is there", "present", 1, now.knife.number)
        for now in knives_in(room)
    ]
    return f"room {room.code}", rows, [room]


def _of_shift(key: str) -> tuple[str, list[CountRow], list[Room]]:
    """The taped rollers of one room, counted once a shift; the key is shift and room: `12.M1`."""
    number, _, code = key.partition(".")
    shift, room = Shift.objects.filter(pk=_number(number)).first(), _room(code)
    if shift is None:
        raise NotFound("shift", key, "Choose it from the list of counts.")
    rows = _on_rollers(_read(application__position__room=room))
    return f"{shift.name} {shift.date:%Y-%m-%d}, taped rollers of room {room.code}", rows, [room]


def _of_lot(key: str) -> tuple[str, list[CountRow], list[Room]]:
    lot = Lot.objects.select_related("stock").filter(pk=_number(key)).first()
    if lot is None:
        raise NotFound("lot", key, "Choose it from the list of lots.")
    pieces = _read(reel__lot=lot)
    nows = reels_now(Reel.objects.filter(lot=lot).select_related("lot__stock"))
    left = [
        CountRow(f"reel:{now.reel.pk}", f"Metres on reel {now.reel.label}", "length", now.left_m, now.place)
        for now in nows
        if now.left_m > 0
    ]
    rooms = {piece.application.position.room for piece in pieces if piece.now == PieceFact.State.ON}  # type: ignore[attr-defined]
    return f"lot {lot.code} of {lot.stock}", left + _on_rollers(pieces) + _in_bags(pieces), list(rooms)


def _number(text: str) -> int:
    return int(text) if text.isascii() and text.isdigit() and len(text) < 18 else 0


def _room(code: str) -> Room:
    found = Room.objects.filter(code__iexact=code).first()
    if found is None:
        raise NotFound("room", code, "Choose it from the list of rooms.")
    return found


_READERS: dict[str, Callable[[str], tuple[str, list[CountRow], list[Room]]]] = {
    Scope.APPLICATION: _of_application,
    Scope.ROOM: _of_room,
    Scope.SHIFT: _of_shift,
    Scope.LOT: _of_lot,
}


def to_count(scope: str, key: str) -> tuple[str, list[CountRow], list[Room]]:
    """What is counted, everything to count with what the ledger says, and the rooms concerned.

    Raises
    ------
    NotFound
        For a scope or a key that is none.
    """
    if scope not in _READERS:
        raise NotFound("count", scope, f"Count one of: {', '.join(_READERS)}.")
    return _READERS[scope](key)


def open_differences() -> list[Reconciliation]:
    """Counts that differ and that QA has not closed, the newest first."""
    rows = Reconciliation.objects.filter(differs=True, answers=None, answered_by=None)
    return list(rows.select_related("by").order_by("-pk"))


def counts_of(scope: str, key: str, most: int = 20) -> list[Reconciliation]:
    """The counts of one thing, the newest first."""
    rows = Reconciliation.objects.filter(scope=scope, key=key).select_related("by", "answers")
    return list(rows.order_by("-pk")[:most])
