"""The ready board: a line drawn as its rollers in path order, the web threaded through them, a mark for each state."""

import math
from dataclasses import dataclass
from typing import Literal

from django.utils.safestring import SafeString

from plant.web.svg import canvas
from plant.web.svg.canvas import figure
from plant.web.svg.endview import arc
from plant.web.svg.kinds import beside_px, plain_kind, sign
from plant.web.svg.marks import Mark, mark_at, state_mark, verdict_mark
from plant.web.svg.sizes import size_for
from plant.web.svg.threading import Seat, ribbon, seat, senses

RADIUS_PX = (11.0, 27.0)
RING_PX = 5.0
RIBBON_TALL, LABEL_GAP = 150.0, 6.0


VIEWPOINT = "Seen from the operator side, web from left to right. D: diameter in mm; then the wrap."


@dataclass(frozen=True)
class Step:
    """One roller of the path. `attention` lifts it out: *do* (work is asked for) or *blocked*."""

    code: str
    kind: str = "idler"
    diameter_mm: float | None = None
    wrap_deg: float | None = None
    rotation: Literal["cw", "ccw"] | None = None
    state: str = "unknown"
    state_text: str = ""
    verdict: str = ""
    verdict_text: str = ""
    attention: Literal["", "do", "blocked"] = ""
    attention_text: str = ""
    href: str = ""
    is_here: bool = False

    @property
    def spoken(self) -> str:
        said = [self.code, plain_kind(self.kind), self.state_text or self.state]
        if self.verdict:
            said.append(self.verdict_text or verdict_mark(self.verdict).word)
        if self.attention:
            said.append(self.attention_text or self.attention)
        return ", ".join(said)


@dataclass(frozen=True)
class LineDrawing:
    """A line in path order. `key` makes the ids unique where one page shows several lines."""

    name: str
    steps: tuple[Step, ...]
    product: str = ""
    audience: Literal["desk", "tablet", "paper"] = "desk"
    per_row: int | None = None
    key: str = ""


@dataclass(frozen=True)
class _Grid:
    """Rows and cells of the board."""

    per_row: int
    cell_px: float
    letter: float
    width: float
    label_lines: int

    @property
    def head_px(self) -> float:
        return self.letter + 8

    @property
    def ribbon_top(self) -> float:
        return self.letter + 15

    @property
    def row_px(self) -> float:
        return self.ribbon_top + RIBBON_TALL + LABEL_GAP + self.label_lines * (self.letter + 7) + self.letter + 14


def _grid(drawing: LineDrawing) -> _Grid:
    """Rows of even length, so that the last one is not a stump."""
    size = size_for(drawing.audience)
    most = max(1, drawing.per_row or size.per_row)
    rows = max(1, math.ceil(len(drawing.steps) / most))
    per_row = max(1, math.ceil(len(drawing.steps) / rows))
    lines = 3 + any(step.verdict for step in drawing.steps) + any(step.attention for step in drawing.steps)
    return _Grid(per_row, size.board_px / per_row, size.letter_px, size.board_px, lines)


def _radius(step: Step, largest_mm: float) -> float:
    diameter = canvas.positive(step.diameter_mm)
    if diameter is None or largest_mm <= 0:
        return 15.0
    return canvas.clip(RADIUS_PX[1] * diameter / largest_mm, *RADIUS_PX)


def _tape(step: Step, s: Seat, r: float) -> list[SafeString]:
    """What the state looks like on the roller itself."""
    ring = r + RING_PX / 2
    if step.state == "taped":
        return [canvas.circle(s.x, s.y, r + RING_PX, "d-tape")]
    if step.state == "partial":
        return [canvas.path(arc(s.x, s.y, ring, -math.pi / 2, math.pi), "d-halftape", stroke_width=RING_PX)]
    if step.state == "residue":
        return [canvas.circle(s.x, s.y, ring, "d-residue", stroke_dasharray="0.1 6.5")]
    return []


def _roller(step: Step, s: Seat, r: float) -> list[SafeString]:
    dashed = {"stroke_dasharray": "4 3"} if step.state == "unknown" else {}
    return [
        *_tape(step, s, r),
        canvas.circle(s.x, s.y, r, "d-metal", **dashed),
        *sign(step.kind, s.x, s.y, r, s.sense),
    ]


def _short(words: str, room_px: float, letter: float) -> str:
    most = max(3, int(room_px / (letter * 0.46)))
    return words if len(words) <= most else words[: most - 1].rstrip() + "…"


def _marked(mark: Mark, words: str, x: float, y: float, grid: _Grid, loud: bool = False) -> SafeString:
    """Mark and word together, centred on `x`."""
    room = grid.cell_px - 12 - grid.letter * 1.7
    shown = _short(words or mark.word, room, grid.letter)
    side = grid.letter * 1.25
    half = (side + 5 + len(shown) * grid.letter * 0.46) / 2
    css = f"d-word tone-{mark.tone} " + ("d-loud" if loud else "d-firm")
    return canvas.group(
        [
            mark_at(mark, x - half + side / 2, y - grid.letter * 0.35, side),
            canvas.text(x - half + side + 5, y, shown, css, grid.letter),
        ]
    )


def _label(step: Step, x: float, top: float, grid: _Grid) -> list[SafeString]:
    pitch, letter = grid.letter + 7, grid.letter
    y = top + letter + 2
    parts = [
        canvas.text(x, y, _short(step.code, grid.cell_px - 8, letter + 4), "d-loud d-code", letter + 4, anchor="middle")
    ]
    y += pitch
    kind = _short(plain_kind(step.kind), grid.cell_px - 8, letter - 1)
    parts.append(canvas.text(x, y, kind, "d-soft", letter - 1, anchor="middle"))
    y += pitch - 3
    size = f"D {figure(step.diameter_mm)}" if canvas.positive(step.diameter_mm) else "D ?"
    size += f", {figure(step.wrap_deg)}°" if canvas.positive(step.wrap_deg) else ", wrap ?"
    parts.append(canvas.text(x, y, size, "d-soft", letter - 1, anchor="middle"))
    y += pitch + 1
    parts.append(_marked(state_mark(step.state), step.state_text, x, y, grid))
    if step.verdict:
        y += pitch
        parts.append(_marked(verdict_mark(step.verdict), step.verdict_text, x, y, grid))
    if step.attention:
        y += pitch
        parts.append(_marked(state_mark(step.attention), step.attention_text, x, y, grid, loud=True))
    return parts


def _ground(step: Step, x: float, y: float, grid: _Grid) -> list[SafeString]:
    """Behind the roller: the target to touch, and a field under what asks for attention."""
    box = (x + 3, y + 3, grid.cell_px - 6, grid.row_px - 10)
    parts = []
    if step.attention:
        tone = state_mark(step.attention).tone
        parts.append(canvas.rect(*box, f"d-field tone-{tone}", data_attention=step.attention))
        parts.append(canvas.rect(box[0], box[1], box[2], 5, f"d-bar tone-{tone}"))
    if step.is_here:
        parts.append(canvas.rect(*box, "d-here"))
    parts.append(canvas.rect(*box, "d-hit"))
    return parts


def _step(step: Step, s: Seat, r: float, x: float, y: float, grid: _Grid) -> SafeString:
    inside = [
        *_roller(step, s, r),
        *_label(step, x + grid.cell_px / 2, y + grid.ribbon_top + RIBBON_TALL + LABEL_GAP, grid),
    ]
    if not step.href:
        return canvas.group(inside, "d-step", data_code=step.code)
    hit = canvas.rect(x + 3, y + 3, grid.cell_px - 6, grid.row_px - 10, "d-hit")
    return canvas.el("a", "d-step", *inside, hit, href=step.href, aria_label=step.spoken, data_code=step.code)


def _row_words(number: int, rows: int, y: float, base_y: float, grid: _Grid) -> list[SafeString]:
    parts = [canvas.arrow_head(grid.width - 1, base_y, 0.0, "d-webhead", size=12)]
    if rows > 1:
        parts.append(canvas.text(9, y + grid.letter + 10, f"row {number + 1} of {rows}", "d-soft", grid.letter - 1))
    return parts


def _seats(steps: tuple[Step, ...], radii: list[float], ways: list[int], base_y: float, cell_px: float) -> list[Seat]:
    """Where this row's rollers stand, each with room for its tape and for what stands beside it."""
    thick, rooms = [], []
    for step, r, way in zip(steps, radii, ways, strict=True):
        outer = r + 1.6 + (RING_PX if step.state in ("taped", "partial", "residue") else 0)
        above, below = beside_px(step.kind, r, way)
        thick.append(outer)
        low, high = base_y - RIBBON_TALL / 2 + outer + above, base_y + RIBBON_TALL / 2 - outer - below
        rooms.append((min(low, base_y), max(high, base_y)))
    xs = [(i + 0.5) * cell_px for i in range(len(steps))]
    return seat(xs, thick, ways, [canvas.positive(step.wrap_deg) or 60.0 for step in steps], base_y, rooms)


def _row(drawing: LineDrawing, grid: _Grid, number: int, rows: int, ways: list[int]) -> list[SafeString]:
    first = number * grid.per_row
    steps = drawing.steps[first : first + grid.per_row]
    largest = max((canvas.positive(step.diameter_mm) or 0.0 for step in drawing.steps), default=0.0)
    radii = [_radius(step, largest) for step in steps]
    top = grid.head_px + number * grid.row_px
    base = top + grid.ribbon_top + RIBBON_TALL / 2
    seats = _seats(steps, radii, ways[first : first + len(steps)], base, grid.cell_px)
    parts: list[SafeString] = [canvas.line(0, top, grid.width, top, "d-rule")] if number else []
    for i, step in enumerate(steps):
        parts += _ground(step, i * grid.cell_px, top, grid)
    parts.append(canvas.path(ribbon(seats, base, grid.width), "d-webline"))
    parts += _row_words(number, rows, top, base, grid)
    for i, step in enumerate(steps):
        parts.append(_step(step, seats[i], radii[i], i * grid.cell_px, top, grid))
    return parts


def describe(drawing: LineDrawing) -> str:
    """The board in words, in path order."""
    if not drawing.steps:
        return f"{drawing.name} has no rollers on its path yet."
    blocked = [step.code for step in drawing.steps if step.attention == "blocked"]
    said = f"{drawing.name}, {len(drawing.steps)} rollers in path order, seen from the operator side, "
    said += "web from left to right. "
    said += f"Blocked: {', '.join(blocked)}. " if blocked else "None blocked. "
    return said + "; ".join(step.spoken for step in drawing.steps) + "."


def line_drawing(drawing: LineDrawing) -> SafeString:
    """The SVG of a line: every roller a link where it has an address."""
    grid = _grid(drawing)
    rows = math.ceil(len(drawing.steps) / grid.per_row)
    ways = senses([step.rotation for step in drawing.steps])
    body: list[SafeString] = []
    if drawing.steps:
        body.append(canvas.text(3, grid.letter + 1, VIEWPOINT, "d-soft", grid.letter - 1))
    for number in range(rows):
        body += _row(drawing, grid, number, rows, ways)
    if not drawing.steps:
        words = "No rollers on this path yet. Import them, or add them to the path."
        body.append(canvas.text(20, 46, words, "d-firm", grid.letter + 1))
    return canvas.svg(
        body,
        width=grid.width,
        height=max(grid.head_px + rows * grid.row_px, 80.0),
        title=f"{drawing.name}" + (f", {drawing.product}" if drawing.product else ""),
        desc=describe(drawing),
        css=f"drawing--line drawing--{drawing.audience}",
        key=drawing.key or canvas.key_of("line", drawing.name, drawing.audience),
        has_links=any(step.href for step in drawing.steps),
    )
