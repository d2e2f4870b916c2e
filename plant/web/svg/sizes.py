"""For whom a drawing is made decides how wide it is and how large its letters are."""

from dataclasses import dataclass
from typing import Literal

Audience = Literal["desk", "tablet", "paper"]


@dataclass(frozen=True)
class Size:
    """Natural width (of a board too) and letter height of a drawing in px, 96 to the inch; rollers in a row."""

    width_px: float
    board_px: float
    letter_px: float
    per_row: int


SIZES: dict[str, Size] = {
    "desk": Size(width_px=1040, board_px=1320, letter_px=13, per_row=12),
    "tablet": Size(width_px=744, board_px=744, letter_px=18, per_row=5),
    "paper": Size(width_px=720, board_px=720, letter_px=12, per_row=7),
}


def size_for(audience: str) -> Size:
    """The size of an audience; an unknown one is an error."""
    if audience not in SIZES:
        raise ValueError(f"{audience!r} is no audience of a drawing; use one of {', '.join(SIZES)}")
    return SIZES[audience]
