"""Where the rollers of a path stand on the sheet and how the web runs around them. A schematic, not a layout plan.

The web goes from left to right. A roller that turns clockwise (seen from the operator side) carries it over the top,
one that turns the other way carries it underneath; a larger wrap pushes the roller further into the web.
"""

import math
from dataclasses import dataclass
from itertools import pairwise

from plant.web.svg import canvas
from plant.web.svg.endview import arc

LEAST_TURN = math.radians(12)
DEEPEST_PX = 30.0


@dataclass(frozen=True)
class Seat:
    """A roller on the sheet: centre, radius (with its tape), and +1 for clockwise, -1 for anticlockwise."""

    x: float
    y: float
    r: float
    sense: int


def senses(rotations: list[str | None]) -> list[int]:
    """+1 or -1 per roller; where the rotation is not recorded, the opposite of the one before."""
    found: list[int] = []
    for rotation in rotations:
        before = found[-1] if found else -1
        found.append({"cw": 1, "ccw": -1}.get(rotation or "", -before))
    return found


def seat(
    xs: list[float],
    radii: list[float],
    ways: list[int],
    wraps_deg: list[float],
    base_y: float,
    rooms: list[tuple[float, float]],
) -> list[Seat]:
    """Seats of one row: pushed into the web by their wrap, then until the web touches every one of them.

    `rooms` are the highest and lowest y each centre may take, so that nothing leaves the row.
    """
    ys = []
    for sense, wrap in zip(ways, wraps_deg, strict=True):
        ys.append(base_y - sense * DEEPEST_PX * canvas.clip(wrap / 150, 0.2, 1.0))
    ys = [canvas.clip(y, *room) for y, room in zip(ys, rooms, strict=True)]
    row = [Seat(*values) for values in zip(xs, ys, radii, ways, strict=True)]
    for _ in range(60):
        turns = wraps(row, base_y)
        slack = [max(LEAST_TURN - turn, 0.0) for turn in turns]
        if not any(slack):
            break
        row = [
            Seat(s.x, canvas.clip(s.y - s.sense * 9 * lack, *room), s.r, s.sense)
            for s, lack, room in zip(row, slack, rooms, strict=True)
        ]
    return row


def _tangent(a: Seat, b: Seat) -> float:
    """Angle of the straight web that leaves `a` and arrives at `b`, each on its own side."""
    dx, dy = b.x - a.x, b.y - a.y
    reach = canvas.clip((a.r * a.sense - b.r * b.sense) / math.hypot(dx, dy), -0.95, 0.95)
    return math.atan2(dy, dx) + math.asin(reach)


def _ends(row: list[Seat], base_y: float) -> tuple[Seat, Seat]:
    gap = max(row[0].x - 12, 30.0)
    return Seat(row[0].x - gap, base_y, 0.0, 1), Seat(row[-1].x + gap, base_y, 0.0, 1)


def _angles(row: list[Seat], base_y: float) -> list[float]:
    first, last = _ends(row, base_y)
    chain = [first, *row, last]
    return [_tangent(a, b) for a, b in pairwise(chain)]


def wraps(row: list[Seat], base_y: float) -> list[float]:
    """The angle (rad) by which the drawn web wraps each roller; negative where it would miss it."""
    angles = _angles(row, base_y)
    return [s.sense * (angles[i + 1] - angles[i]) for i, s in enumerate(row)]


def ribbon(row: list[Seat], base_y: float, width: float) -> str:
    """Path data of the web through one row, level at both ends of the sheet."""
    first, last = _ends(row, base_y)
    angles = _angles(row, base_y)
    d = f"M0 {canvas.px(base_y)}L{canvas.px(first.x)} {canvas.px(first.y)}"
    for i, s in enumerate(row):
        start = angles[i] - s.sense * math.pi / 2
        sweep = angles[i + 1] - angles[i]
        if s.sense * sweep <= 0.01:
            sweep = s.sense * 0.01
        d += arc(s.x, s.y, s.r, start, sweep).replace("M", "L", 1)
    return d + f"L{canvas.px(last.x)} {canvas.px(last.y)}L{canvas.px(width - 8)} {canvas.px(base_y)}"
