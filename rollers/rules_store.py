"""Pure rules of the store: whether a reel may be used, what is left on it, whether a ledger balances. No ORM."""

from collections.abc import Collection, Iterable
from dataclasses import dataclass
from datetime import date

from rollers.rules import STRICT

LETTERS = "23456789ABCDEFGHJKMNPQRSTUVWXYZ"  # none that could be taken for another
STORE, QA, ENGINEER = "the storekeeper", "QA", "the process engineer"
ISSUE_EXTRA = 1.05  # common practice of the trade: five in a hundred more than the lanes need
NEARLY_NOTHING_M = 0.0005


@dataclass(frozen=True)
class Trouble:
    """One reason why a reel may not be used. `who` can help."""

    code: str
    sentence: str
    who: str


@dataclass(frozen=True)
class ReelState:
    """What a reel is when somebody wants to use it."""

    label: str
    stock: str
    lot: str
    status: str
    reason: str
    use_by: date | None
    statement_ends: date | None
    room_kinds: Collection[str]
    max_temp_c: float | None
    left_m: float
    room: str  # empty: in the store


def troubles_of(
    reel: ReelState,
    *,
    room_kind: str,
    day: date,
    position: str = "",
    surface_temp_c: float | None = None,
    margin_k: float = 20.0,
) -> tuple[Trouble, ...]:
    """Everything that speaks against using a reel there; empty: it may be used."""
    found = [*_of_the_lot(reel, day), *_of_the_room(reel, room_kind, day)]
    hottest = None if reel.max_temp_c is None else reel.max_temp_c - margin_k
    if hottest is not None and surface_temp_c is not None and surface_temp_c > hottest:
        sentence = (
            f"Tape {reel.stock} stands {reel.max_temp_c:g} °C and {position} has {surface_temp_c:g} °C at its face: "
            f"less than {margin_k:g} K between them. Choose a tape for hot rollers with {ENGINEER}."
        )
        found.append(Trouble("too-hot", sentence, ENGINEER))
    if reel.left_m <= NEARLY_NOTHING_M:
        sentence = f"Reel {reel.label} is empty by the ledger. Take another reel, or have {STORE} count it."
        found.append(Trouble("reel-empty", sentence, STORE))
    return tuple(found)


def _of_the_lot(reel: ReelState, day: date) -> list[Trouble]:
    lot = f"Lot {reel.lot} of {reel.stock}"
    because = f" ({reel.reason})" if reel.reason else ""
    said = {
        "quarantined": ("lot-quarantined", f"{lot} is not released yet. Take a reel of a released lot, or ask {QA}."),
        "held": ("lot-held", f"{lot} is on hold{because}. Take a reel of another lot; {QA} decides about this one."),
        "recalled": (
            "lot-recalled",
            f"{lot} is recalled{because}. Do not use it: bring the reel to {STORE} and call {QA}.",
        ),
        "expired": ("lot-expired", f"{lot} is past its use-by date. Bring the reel to {STORE} and take another."),
        "used up": ("lot-used-up", f"{lot} is used up by the ledger. Have {STORE} count this reel."),
    }
    helps = {"lot-expired": STORE, "lot-used-up": STORE}
    found = []
    if reel.status in said:
        code, sentence = said[reel.status]
        found.append(Trouble(code, sentence, helps.get(code, QA)))
    if reel.use_by is not None and reel.use_by < day and reel.status != "expired":
        sentence = f"{lot} was to be used by {reel.use_by}. Bring the reel to {STORE} and take another."
        found.append(Trouble("lot-expired", sentence, STORE))
    return found


def _of_the_room(reel: ReelState, room_kind: str, day: date) -> list[Trouble]:
    found = []
    if room_kind not in reel.room_kinds:
        allowed = ", ".join(reel.room_kinds)
        sentence = (
            f"Tape {reel.stock} is not permitted in {room_kind} rooms, only in {allowed}. Ask {QA} which tape is."
        )
        found.append(Trouble("stock-not-permitted", sentence, QA))
    if room_kind in STRICT and (reel.statement_ends is None or reel.statement_ends < day):
        ended = f"ended on {reel.statement_ends}" if reel.statement_ends else "is not recorded"
        sentence = (
            f"The contact statement of tape {reel.stock} {ended}: not for {room_kind} rooms. {QA} gets a new one."
        )
        found.append(Trouble("contact-statement", sentence, QA))
    return found


def thickness_off_pct(measured_mm: float, nominal_mm: float) -> float:
    """How far a lot is from the stock's thickness, in hundredths, without sign."""
    return abs(measured_mm - nominal_mm) / nominal_mm * 100


@dataclass(frozen=True)
class Length:
    """Lengths of a lot, or of what came into a room, in metres."""

    received: float = 0.0
    returned: float = 0.0
    cut: float = 0.0
    scrapped: float = 0.0
    counted: float = 0.0  # corrections by counts, signed
    on_reels: float = 0.0

    @property
    def difference(self) -> float:
        """What came in, less everything that is accounted for. Nothing, where the ledger balances."""
        return self.received - self.returned + self.counted - self.cut - self.scrapped - self.on_reels

    @property
    def balances(self) -> bool:
        return abs(self.difference) < NEARLY_NOTHING_M


@dataclass(frozen=True)
class Pieces:
    """Where the pieces are that were cut. Counted exactly."""

    cut: int = 0
    on_rollers: int = 0
    in_bags: int = 0
    loose: int = 0  # taken off or found, in no bag
    missing: int = 0
    length_m: float = 0.0

    @property
    def difference(self) -> int:
        return self.cut - self.on_rollers - self.in_bags - self.loose - self.missing

    @property
    def balances(self) -> bool:
        return self.difference == 0


def length_left(moves: Iterable[tuple[str, float]]) -> float:
    """What is left on a reel by its moves: (kind, length in metres)."""
    sign = {"received": 1, "counted": 1, "cut": -1, "scrapped": -1}
    left = sum(sign.get(kind, 0) * length for kind, length in moves)
    return 0.0 if abs(left) < NEARLY_NOTHING_M else left


def wanted_from_reel(length_m: float) -> float:
    """What to take a reel for: the lanes and five in a hundred."""
    return length_m * ISSUE_EXTRA


@dataclass(frozen=True)
class CountRow:
    """One thing to count. `kind` is pieces, length (m) or present (1 or 0)."""

    key: str
    label: str
    kind: str
    expected: float
    place: str = ""


@dataclass(frozen=True)
class Compared:
    """One counted thing beside what the ledger says."""

    row: CountRow
    counted: float

    @property
    def difference(self) -> float:
        return self.counted - self.row.expected

    @property
    def differs(self) -> bool:
        """Pieces and things differ by one; of a length only that there is none of it is a difference."""
        if self.row.kind == "length":
            return (self.counted <= NEARLY_NOTHING_M) != (self.row.expected <= NEARLY_NOTHING_M)
        return self.counted != self.row.expected

    @property
    def sentence(self) -> str:
        """Both figures in words."""
        return f"{self.row.label}: {self.row.expected:g} by the ledger, {self.counted:g} counted"

    def hint(self, tolerance_pct: float) -> str:
        """What to say of a length that is further off than its tolerance. Only a hint."""
        if self.row.kind != "length" or self.differs or not self.row.expected:
            return ""
        off = 100 * self.difference / self.row.expected
        if abs(off) <= tolerance_pct:
            return ""
        return f"{self.row.label}: {off:+.0f} % of its length by the ledger. Correct the reel's length by a count."


def short_pieces(compared: Iterable[Compared]) -> dict[str, int]:
    """Pieces too few, by key."""
    return {
        one.row.key: round(one.row.expected - one.counted)
        for one in compared
        if one.row.kind == "pieces" and one.counted < one.row.expected
    }
