"""Shapes that several pictures share: the end of a roller, tape wound round it, a face from the front, a web."""

import math

from django.utils.safestring import SafeString

from plant.web.svg import canvas
from plant.web.svg.endview import arc
from training.drawings.sheet import polyline

Parts = list[SafeString]


def spiral(cx: float, cy: float, r: float, start: float, turns: float, step: float, thick: float) -> Parts:
    """Tape wound clockwise on the sheet from angle `start`; it climbs `step` px where it meets its start."""
    points = []
    count = max(int(abs(turns) * 90), 2)
    for number in range(count + 1):
        share = number / count
        angle = start + share * turns * 2 * math.pi
        layer, along = divmod(share * abs(turns), 1.0)
        climb = min(layer + max(along - 0.96, 0) / 0.04, math.ceil(abs(turns)) - 1)
        out = r + thick / 2 + step * climb
        points.append((cx + out * math.cos(angle), cy + out * math.sin(angle)))
    return strip(polyline(points), thick)


def strip(d: str, thick: float) -> Parts:
    """Tape seen from its edge: a filled line with an edge."""
    return [
        canvas.path(d, "d-tail", stroke_width=thick),
        canvas.path(d, "d-halftape", stroke_width=max(thick - 2, 0.5)),
    ]


def disc(cx: float, cy: float, r: float, axis: bool = True) -> Parts:
    """The end of a roller."""
    parts = [canvas.circle(cx, cy, r, "d-metal")]
    if axis:
        parts += [
            canvas.circle(cx, cy, 4, "d-outline"),
            canvas.line(cx - 12, cy, cx + 12, cy, "d-centre"),
            canvas.line(cx, cy - 12, cx, cy + 12, "d-centre"),
        ]
    return parts


def turn_arrow(cx: float, cy: float, r: float, clockwise: bool = True, degrees: float = 230) -> Parts:
    """The arrow of the running direction."""
    sign = 1.0 if clockwise else -1.0
    start = math.radians(-90) - sign * math.radians(degrees / 2)
    sweep = sign * math.radians(degrees)
    end = start + sweep + sign * 0.12
    tip = (cx + r * math.cos(end), cy + r * math.sin(end))
    return [
        canvas.path(arc(cx, cy, r, start, sweep), "d-turn"),
        canvas.arrow_head(*tip, end + sign * (math.pi / 2 - 0.1), "d-turnhead", 16),
    ]


def web_over(cx: float, cy: float, r: float, wrap_deg: float, free: float) -> SafeString:
    """A web over the top of a roller, with free spans at both sides."""
    wrap = math.radians(wrap_deg)
    start, end = -math.pi / 2 - wrap / 2, -math.pi / 2 + wrap / 2
    x1, y1 = cx + r * math.cos(start), cy + r * math.sin(start)
    x2, y2 = cx + r * math.cos(end), cy + r * math.sin(end)
    d = polyline(((x1 + free * math.sin(start), y1 - free * math.cos(start)), (x1, y1)))
    d += arc(cx, cy, r, start, wrap).replace("M", "L", 1)
    d += f"L{canvas.px(x2 - free * math.sin(end))} {canvas.px(y2 + free * math.cos(end))}"
    return canvas.path(d, "d-webline", stroke_width=3.5)


def face(x1: float, x2: float, y: float, tall: float, stub: float = 20) -> Parts:
    """A roller from the front, its axis level."""
    small = tall * 0.3
    return [
        canvas.rect(x1 - stub, y - small / 2, stub, small, "d-metal"),
        canvas.rect(x2, y - small / 2, stub, small, "d-metal"),
        canvas.rect(x1, y - tall / 2, x2 - x1, tall, "d-metal"),
    ]


def band(x1: float, x2: float, y: float, tall: float, rise: float, lanes: int = 1) -> Parts:
    """A band of tape on a face as a step above and below it, with a line between its lanes."""
    parts = [canvas.rect(x1, y - tall / 2 - rise, x2 - x1, tall + 2 * rise, "d-tape")]
    for number in range(1, lanes):
        x = x1 + (x2 - x1) * number / lanes
        parts.append(canvas.line(x, y - tall / 2 - rise, x, y + tall / 2 + rise, "d-tapeline", stroke_width=1.4))
    return parts


def web(x1: float, x2: float, y1: float, y2: float) -> Parts:
    """A web that runs up the sheet."""
    return [
        canvas.rect(x1, y1, x2 - x1, y2 - y1, "d-web"),
        canvas.line(x1, y1, x1, y2, "d-webline"),
        canvas.line(x2, y1, x2, y2, "d-webline"),
    ]


def level_dim(x1: float, x2: float, y: float) -> Parts:
    """A dimension line with arrows at both ends."""
    low, high = min(x1, x2), max(x1, x2)
    return [
        canvas.line(low, y, high, y, "d-dim"),
        canvas.arrow_head(high, y, 0.0, size=9),
        canvas.arrow_head(low, y, math.pi, size=9),
    ]


def pointer(x1: float, y1: float, x2: float, y2: float) -> Parts:
    """A thin arrow from words to the thing meant."""
    return [canvas.line(x1, y1, x2, y2, "d-dim"), canvas.arrow_head(x2, y2, math.atan2(y2 - y1, x2 - x1), size=10)]


def padlock(x: float, y: float, size: float) -> Parts:
    """A closed padlock, centred on (x, y)."""
    wide, tall = size * 0.8, size * 0.58
    r = size * 0.24
    bow = canvas.px(r)
    d = f"M{canvas.px(x - r)} {canvas.px(y)}v-{bow}a{bow} {bow} 0 0 1 {canvas.px(2 * r)} 0v{bow}"
    return [
        canvas.path(d, "d-here", stroke_width=size * 0.1),
        canvas.rect(x - wide / 2, y - size * 0.04, wide, tall, "d-turnhead"),
        canvas.circle(x, y + tall * 0.38, size * 0.08, "d-plate"),
    ]


def eye(x: float, y: float, size: float) -> Parts:
    """An eye: here one looks."""
    half = size / 2
    left, right, level = canvas.px(x - half), canvas.px(x + half), canvas.px(y)
    d = f"M{left} {level}Q{canvas.px(x)} {canvas.px(y - half)} {right} {level}"
    d += f"Q{canvas.px(x)} {canvas.px(y + half)} {left} {level}Z"
    return [canvas.path(d, "d-outline", stroke_width=2), canvas.circle(x, y, size * 0.13, "d-turnhead")]


def bent(x: float, shift: float, top: float, foot: float) -> str:
    """Path data of a line in the web that leaves `foot` straight and arrives at `top` moved sideways by `shift`."""
    start, end = canvas.px(x), canvas.px(x + shift)
    pulls = f"{start} {canvas.px(foot - 150)} {start} {canvas.px(foot - 130)}"
    return f"M{start} {canvas.px(foot)}C{pulls} {end} {canvas.px(top)}"
