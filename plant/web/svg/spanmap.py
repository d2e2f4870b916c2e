"""Map of the entering span: stress across the web, and how far the web moves sideways, exaggerated.

Tension across is a tone (the darker the more), pressing together is hatching, so that the map reads in grey. The
web runs down the sheet from the roller before to the roller in question; the operator end is at the left.
"""

import math
from dataclasses import dataclass
from itertools import pairwise

from django.utils.safestring import SafeString

from plant.web.svg import canvas
from plant.web.svg.axes import Axis, round_step
from plant.web.svg.canvas import figure
from plant.web.svg.curves import Table
from plant.web.svg.faceview import round_factor
from plant.web.svg.profile import Taped
from plant.web.svg.sizes import Audience, size_for

Grid = tuple[tuple[float, ...], ...]
TONES = 4
"""Steps of tension; the last is open upwards."""
_SHIFT_PX = 22.0


@dataclass(frozen=True)
class SpanMap:
    """Fields on a grid: rows `along_mm` (0: roller before), columns `across_mm` (operator negative)."""

    title: str
    along_mm: tuple[float, ...]
    across_mm: tuple[float, ...]
    cd_kpa: Grid
    shift_mm: Grid
    taped: tuple[Taped, ...] = ()
    audience: Audience = "desk"
    key: str = ""

    @property
    def step_kpa(self) -> float:
        """Step of the tones; the few singular points at band edges and corners do not stretch it."""
        sizes = sorted(abs(value) for row in self.cd_kpa for value in row if math.isfinite(value))
        if not sizes:
            return 1.0
        return round_step(max(sizes[int(0.93 * (len(sizes) - 1))], 1e-6) / TONES)


def level_of(value: float, step: float) -> int:
    """0: about nought; 1 to 4: tension in steps; -1, -2: pressed together."""
    if not math.isfinite(value) or abs(value) < 0.25 * step:
        return 0
    if value < 0:
        return -1 if value > -step else -2
    return min(TONES, 1 + int(value / step))


def level_words(level: int, step: float) -> str:
    """What a tone means, in kPa."""
    said = {
        0: f"within ±{figure(0.25 * step)}",
        -1: f"pressed, to {figure(-step)}",
        -2: f"pressed, past {figure(-step)}",
        1: f"to {figure(step)}",
        TONES: f"above {figure((TONES - 1) * step)}",
    }
    return said.get(level) or f"to {figure(level * step)}"


@dataclass(frozen=True)
class _Frame:
    """Where the web lies on the sheet."""

    x: Axis
    y: Axis
    factor: float
    letter: float

    def at(self, across: float, along: float, shift: float) -> tuple[float, float]:
        return self.x.free(across + self.factor * shift), self.y.at(along)


def _frame(drawing: SpanMap, width: float, letter: float) -> _Frame:
    half = max((abs(value) for value in drawing.across_mm), default=1.0) or 1.0
    reach = max([half, *(abs(edge) for band in drawing.taped for edge in (band.from_mm, band.to_mm))])
    left, right = 40.0 + letter, width - 40.0 - letter
    length = max(drawing.along_mm, default=1.0) or 1.0
    per_mm = (right - left) / (2 * reach)
    tall = canvas.clip(length * per_mm, 130.0, 380.0)
    moved = max((abs(v) for row in drawing.shift_mm for v in row if math.isfinite(v)), default=0.0)
    raw = _SHIFT_PX / (moved * per_mm) if moved > 0 else 1.0
    top = 3.4 * letter
    return _Frame(Axis(-reach, reach, left, right), Axis(0.0, length, top, top + tall), round_factor(raw), letter)


def _runs(drawing: SpanMap, frame: _Frame, step: float) -> dict[int, str]:
    """Path data of every level; cells of one row that share a level are one piece."""
    paths: dict[int, list[str]] = {}
    for (top, bottom), (above, below), (cd_top, cd_low) in zip(
        pairwise(drawing.along_mm), pairwise(drawing.shift_mm), pairwise(drawing.cd_kpa), strict=True
    ):
        levels = [
            level_of((a + b + c + d) / 4, step)
            for (a, b), (c, d) in zip(pairwise(cd_top), pairwise(cd_low), strict=True)
        ]
        start = 0
        for number in range(1, len(levels) + 1):
            if number < len(levels) and levels[number] == levels[start]:
                continue
            left, right = drawing.across_mm[start], drawing.across_mm[number]
            corners = (
                frame.at(left, top, above[start]),
                frame.at(right, top, above[number]),
                frame.at(right, bottom, below[number]),
                frame.at(left, bottom, below[start]),
            )
            piece = "M" + "L".join(f"{canvas.px(a)} {canvas.px(b)}" for a, b in corners) + "Z"
            paths.setdefault(levels[start], []).append(piece)
            start = number
    return {level: "".join(pieces) for level, pieces in paths.items()}


def _area(level: int, d: str, box: tuple[float, float, float, float], key: str) -> SafeString:
    if level > 0:
        share = {1: "0.16", 2: "0.36", 3: "0.6", 4: "0.88"}[level]
        return canvas.path(d, "d-level", fill_opacity=share, shape_rendering="crispEdges", data_level=level)
    left, top, right, bottom = box
    gap, rise = (9.0 if level == -1 else 4.5), bottom - top
    strokes, start = "", left - rise
    while start < right:
        strokes += f"M{canvas.px(start)} {canvas.px(bottom)}L{canvas.px(start + rise)} {canvas.px(top)}"
        start += gap
    clip = canvas.el("clipPath", "", canvas.el("path", "", d=d), id=f"{key}-press{-level}")
    hatch = canvas.path(strokes, "d-press", clip_path=f"url(#{key}-press{-level})")
    return canvas.group([clip, hatch], data_level=level)


def _edges(drawing: SpanMap, frame: _Frame) -> list[SafeString]:
    parts = []
    for column in (0, -1):
        place = drawing.across_mm[column]
        still = frame.x.at(place)
        parts.append(canvas.line(still, frame.y.start_px, still, frame.y.end_px, "d-ext"))
        points = [frame.at(place, x, row[column]) for x, row in zip(drawing.along_mm, drawing.shift_mm, strict=True)]
        parts.append(
            canvas.path(
                "M" + "L".join(f"{canvas.px(a)} {canvas.px(b)}" for a, b in points), "d-range", data_part="edge"
            )
        )
    return parts


def _rollers(drawing: SpanMap, frame: _Frame) -> list[SafeString]:
    x, y, letter = frame.x, frame.y, frame.letter
    tall = letter * 1.5
    parts = [
        canvas.rect(x.start_px - 14, y.start_px - tall, x.end_px - x.start_px + 28, tall, "d-metal"),
        canvas.text(x.start_px, y.start_px - letter * 0.4, "roller before", "d-text", letter),
        canvas.text(x.end_px, y.start_px - letter * 0.4, "web runs down the sheet", "d-text", letter, anchor="end"),
        canvas.rect(x.start_px - 14, y.end_px, x.end_px - x.start_px + 28, tall, "d-metal"),
    ]
    for band in drawing.taped:
        a, b = sorted((x.at(band.from_mm), x.at(band.to_mm)))
        parts.append(canvas.rect(a, y.end_px, b - a, tall, "d-tape", data_part="tape"))
    foot = y.end_px + tall + letter + 4
    words = "this roller, with its tape" if drawing.taped else "this roller, bare"
    return [
        *parts,
        canvas.text(x.start_px, foot, "operator end", "d-firm", letter),
        canvas.text((x.start_px + x.end_px) / 2, foot, words, "d-firm", letter, anchor="middle"),
        canvas.text(x.end_px, foot, "drive end", "d-firm", letter, anchor="end"),
    ]


def _legend(levels: list[int], step: float, frame: _Frame, y: float, width: float, key: str) -> tuple[list, float]:
    letter, parts = frame.letter, []
    x = frame.x.start_px - 14
    parts.append(canvas.text(x, y, "stress across, kPa:", "d-firm", letter))
    x += letter * 9.2
    for level in levels:
        words = level_words(level, step)
        wide = letter * 2.6 + len(words) * letter * 0.5 + letter * 0.8
        if x + wide > width:
            x, y = frame.x.start_px - 14, y + letter * 1.7
        box = (x, y - letter * 0.95, letter * 2, letter * 1.2)
        d = f"M{canvas.px(box[0])} {canvas.px(box[1])}h{canvas.px(box[2])}v{canvas.px(box[3])}h{canvas.px(-box[2])}z"
        if level:
            parts.append(_area(level, d, (box[0], box[1], box[0] + box[2], box[1] + box[3]), f"{key}-key"))
        parts.append(canvas.path(d, "d-tapeline"))
        parts.append(canvas.text(x + letter * 2.4, y, words, "d-text", letter))
        x += wide
    return parts, y


def describe(drawing: SpanMap) -> str:
    """The map in words."""
    last, shifts = drawing.cd_kpa[-1], drawing.shift_mm[-1]
    middle = len(last) // 2
    everything = [value for row in drawing.cd_kpa for value in row]
    step = drawing.step_kpa
    pressed = sum(1 for value in everything if level_of(value, step) < 0) / max(len(everything), 1)
    return (
        f"{drawing.title}: stress across the web in the entering span, {figure(max(drawing.along_mm))} mm long. In the "
        f"middle at the roller {figure(float(f'{last[middle]:.3g}'))} kPa; {100 * pressed:.0f} % of the span is "
        f"pressed together. At the roller the operator edge moves {figure(shifts[0], 3)} mm and the drive edge "
        f"{figure(shifts[-1], 3)} mm, positive to the drive end."
    )


def span_map(drawing: SpanMap) -> SafeString:
    """The SVG of the map."""
    size = size_for(drawing.audience)
    letter, width = size.letter_px, min(size.width_px, 760.0)
    key = drawing.key or canvas.key_of("span", drawing.title)
    frame, step = _frame(drawing, width, letter), drawing.step_kpa
    paths = _runs(drawing, frame, step)
    box = (0.0, frame.y.start_px, width, frame.y.end_px)
    body: list[SafeString] = [_area(level, d, box, key) for level, d in sorted(paths.items()) if level]
    body += _edges(drawing, frame) + _rollers(drawing, frame)
    parts, y = _legend(sorted(paths), step, frame, frame.y.end_px + 4.6 * letter, width, key)
    body += parts
    told = f"Sideways movement drawn {figure(frame.factor)} times too large; thin lines: where the edges would run."
    body.append(canvas.text(frame.x.start_px - 14, y + letter * 1.8, told, "d-soft", letter))
    return canvas.svg(
        body,
        width=width,
        height=y + letter * 2.6,
        title=drawing.title,
        desc=describe(drawing),
        css=f"drawing--plot drawing--{drawing.audience}",
        key=key,
    )


def span_table(drawing: SpanMap) -> Table:
    """Stress across and sideways movement on a coarse grid."""
    columns = _picked(len(drawing.across_mm), 7)
    heads = (
        ("mm before the roller", "num"),
        *((f"CD kPa at {figure(round(drawing.across_mm[column]))} mm", "num") for column in columns),
        ("operator edge moves, mm", "num"),
        ("drive edge moves, mm", "num"),
    )
    length = max(drawing.along_mm)
    rows = tuple(
        (
            figure(round(length - drawing.along_mm[row])),
            *(figure(drawing.cd_kpa[row][column], 1) for column in columns),
            figure(drawing.shift_mm[row][0], 3),
            figure(drawing.shift_mm[row][-1], 3),
        )
        for row in reversed(_picked(len(drawing.along_mm), 6))
    )
    return Table(f"{drawing.title}, in figures", heads, rows)


def _picked(count: int, wanted: int) -> list[int]:
    return sorted({round(number * (count - 1) / (wanted - 1)) for number in range(wanted)}) if count > 1 else [0]
