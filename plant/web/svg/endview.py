"""The end of a roller as seen from the operator side: running direction, web, tape and tail. Not to scale."""

import math
from dataclasses import dataclass
from typing import Protocol

from django.utils.safestring import SafeString

from plant.web.svg import canvas
from plant.web.svg.marks import mark_at, verdict_mark

WAYS = {"cw": "turns clockwise", "ccw": "turns anticlockwise"}


class _Roller(Protocol):
    """What the end view needs to know of a roller."""

    @property
    def rotation(self) -> str | None: ...
    @property
    def wrap_deg(self) -> float | None: ...
    @property
    def web_over(self) -> str: ...
    @property
    def tail(self) -> str | None: ...
    @property
    def bands(self) -> tuple[object, ...]: ...


@dataclass(frozen=True)
class EndView:
    """What the end view shows."""

    rotation: str | None
    wrap_deg: float | None
    web_over: str
    tail: str | None
    is_taped: bool

    @classmethod
    def of(cls, roller: _Roller) -> "EndView":
        return cls(
            rotation=roller.rotation,
            wrap_deg=canvas.positive(roller.wrap_deg),
            web_over=roller.web_over,
            tail=roller.tail,
            is_taped=bool(roller.bands),
        )

    @property
    def turning(self) -> str:
        return WAYS.get(self.rotation or "", "running direction not recorded")

    @property
    def tail_text(self) -> str:
        if not self.is_taped:
            return ""
        return {"trails": "tail trails", "leads": "tail leads", "none": "no tail"}.get(
            self.tail or "", "tail not recorded"
        )

    @property
    def words(self) -> str:
        wrap = f", web wraps {canvas.figure(self.wrap_deg)} degrees" if self.wrap_deg else ""
        tail = f" The {self.tail_text}." if self.tail_text.startswith("tail") else ""
        return f"Seen from the operator side it {self.turning}{wrap}.{tail}".replace("it running", "the running")


def _at(cx: float, cy: float, r: float, angle: float) -> tuple[float, float]:
    return cx + r * math.cos(angle), cy + r * math.sin(angle)


def arc(cx: float, cy: float, r: float, start: float, sweep: float) -> str:
    """Path data of an arc of `sweep` radians (positive: clockwise on the sheet) from `start`."""
    sweep = canvas.clip(sweep, -6.2, 6.2)
    x1, y1 = _at(cx, cy, r, start)
    x2, y2 = _at(cx, cy, r, start + sweep)
    large, clockwise = int(abs(sweep) > math.pi), int(sweep > 0)
    radius = canvas.px(r)
    start_at, end_at = f"{canvas.px(x1)} {canvas.px(y1)}", f"{canvas.px(x2)} {canvas.px(y2)}"
    return f"M{start_at}A{radius} {radius} 0 {large} {clockwise} {end_at}"


def _web(view: EndView, cx: float, cy: float, r: float) -> list[SafeString]:
    wrap = math.radians(canvas.clip(view.wrap_deg or 90, 2, 340))
    middle = -math.pi / 2 if view.web_over == "top" else math.pi / 2
    start, end = middle - wrap / 2, middle + wrap / 2
    x1, y1 = _at(cx, cy, r, start)
    x2, y2 = _at(cx, cy, r, end)
    free = 34.0
    comes_from = f"{canvas.px(x1 + free * math.sin(start))} {canvas.px(y1 - free * math.cos(start))}"
    d = f"M{comes_from}L{canvas.px(x1)} {canvas.px(y1)}"
    d += arc(cx, cy, r, start, wrap).replace("M", "L", 1)
    d += f"L{canvas.px(x2 - free * math.sin(end))} {canvas.px(y2 + free * math.cos(end))}"
    return [canvas.path(d, "d-webline")]


def _tail(view: EndView, cx: float, cy: float, r: float) -> list[SafeString]:
    """The free end of the tape: pointing back against the travel when it trails, into it when it leads."""
    if not view.is_taped or view.tail not in ("trails", "leads") or view.rotation not in WAYS:
        return []
    angle = math.radians(125) if view.web_over == "top" else math.radians(-125)
    travel = 1.0 if view.rotation == "cw" else -1.0
    along = -travel if view.tail == "trails" else travel
    x, y = _at(cx, cy, r, angle)
    tx, ty = -math.sin(angle) * along, math.cos(angle) * along
    x2, y2 = x + 17 * tx + 7 * math.cos(angle), y + 17 * ty + 7 * math.sin(angle)
    return [canvas.line(x, y, x2, y2, "d-tail", data_tail=view.tail)]


def _turn(view: EndView, cx: float, cy: float, r: float) -> list[SafeString]:
    """The arrow of the running direction, inside the circle where nothing else is."""
    if view.rotation not in WAYS:
        return []
    sign = 1.0 if view.rotation == "cw" else -1.0
    start = math.radians(-90) - sign * math.radians(115)
    sweep = sign * math.radians(230)
    end = start + sweep
    tip = _at(cx, cy, r, end + sign * 0.12)
    heading = end + sign * (math.pi / 2 + 0.16)
    return [
        canvas.path(arc(cx, cy, r, start, sweep), "d-turn", data_rotation=view.rotation),
        canvas.arrow_head(*tip, heading, "d-turnhead", size=13),
    ]


def end_view(view: EndView, box_px: float, axis_y: float, letter: float) -> SafeString:
    """The end view in a column `box_px` wide at the left of a drawing, centred on the axis of the roller."""
    r, cx, cy = 44.0, box_px / 2, axis_y
    ring = 7.0 if view.is_taped else 0.0
    parts = [canvas.circle(cx, cy, r + ring, "d-tape")] if view.is_taped else []
    parts.append(canvas.circle(cx, cy, r, "d-metal"))
    parts += [canvas.circle(cx, cy, 4, "d-outline"), canvas.line(cx - 12, cy, cx + 12, cy, "d-centre")]
    parts.append(canvas.line(cx, cy - 12, cx, cy + 12, "d-centre"))
    parts += _tail(view, cx, cy, r + ring)
    parts += _web(view, cx, cy, r + ring + 2.2) if view.wrap_deg else []
    parts += _turn(view, cx, cy, r * 0.66)
    y = cy + r + ring + 30 + letter
    wrap = f"wrap {canvas.figure(view.wrap_deg)}°" if view.wrap_deg else "wrap not recorded"
    for words in ("from the operator side", view.turning, wrap):
        parts.append(
            canvas.text(
                cx,
                y,
                words,
                "d-soft" if words.startswith("from") else "d-text",
                letter - 0.5,
                anchor="middle",
            )
        )
        y += letter + 4
    if view.tail_text:
        parts += _tail_words(view, cx, y, letter)
    return canvas.group(parts, data_part="end-view")


def _tail_words(view: EndView, cx: float, y: float, letter: float) -> list[SafeString]:
    if view.tail != "leads":
        return [canvas.text(cx, y, view.tail_text, "d-text", letter, anchor="middle")]
    return [
        mark_at(verdict_mark("refused"), cx - letter * 2.9, y - letter * 0.34, letter * 1.3),
        canvas.text(cx + letter * 0.7, y, view.tail_text, "d-loud", letter + 1, anchor="middle"),
    ]
