"""Wraps against line tension: where the edges would carry too much, where the target lies, where each product runs.

A zone is the field between two curves over tension; the caller computes them (for the wraps that give an edge ratio
of 1.2, 1.4, 1.6 and 2.0, say). Zones are told apart by their hatching and by a word, not by colour alone.
"""

from dataclasses import dataclass
from typing import Literal

from django.utils.safestring import SafeString

from plant.web.svg import canvas
from plant.web.svg.axes import Axis, span, x_axis, y_axis
from plant.web.svg.canvas import figure
from plant.web.svg.marks import mark_at, verdict_mark
from plant.web.svg.sizes import size_for

TONES = {"target": "fits", "caution": "caution", "refused": "refused"}
HATCH_PX = {"target": 0.0, "caution": 11.0, "refused": 6.0}


@dataclass(frozen=True)
class Zone:
    """The field between a lower and an upper curve, each as (tension N/m, wraps) in rising tension."""

    kind: Literal["target", "caution", "refused"]
    lower: tuple[tuple[float, float], ...]
    upper: tuple[tuple[float, float], ...]
    words: str = ""


@dataclass(frozen=True)
class ProductPoint:
    """A product at its wraps and set tension, with the range the line really runs."""

    name: str
    tension_n_per_m: float
    wraps: float
    verdict: str
    low_n_per_m: float | None = None
    high_n_per_m: float | None = None


@dataclass(frozen=True)
class TriedWorse:
    """Tape that was tried and made it worse; `words` say when and by what it showed."""

    tension_n_per_m: float
    wraps: float
    words: str


@dataclass(frozen=True)
class WindowPlot:
    """All of one plot. `most_wraps` closes the axis upwards."""

    title: str
    zones: tuple[Zone, ...] = ()
    points: tuple[ProductPoint, ...] = ()
    tries: tuple[TriedWorse, ...] = ()
    most_wraps: float = 8.0
    audience: Literal["desk", "tablet", "paper"] = "desk"
    key: str = ""


def _known(value: float | None) -> list[float]:
    number = canvas.finite(value)
    return [] if number is None else [number]


def _axes(plot: WindowPlot, width: float, letter: float) -> tuple[Axis, Axis]:
    tensions = [t for zone in plot.zones for t, _ in (*zone.lower, *zone.upper) if canvas.finite(t) is not None]
    for point in plot.points:
        for value in (point.tension_n_per_m, point.low_n_per_m, point.high_n_per_m):
            tensions += _known(value)
    for tried in plot.tries:
        tensions += _known(tried.tension_n_per_m)
    low, high = span(tensions, room=0.02)
    top, bottom = 2.4 * letter, 330.0
    wraps = [point.wraps for point in plot.points] + [tried.wraps for tried in plot.tries]
    marks = [count + 0.5 for count in wraps if canvas.finite(count)]
    most = max(canvas.positive(plot.most_wraps) or 8.0, *marks, 1)
    return Axis(low, high, 3.2 * letter, width - 20), Axis(0.0, most, bottom, top)


def _zone(zone: Zone, x: Axis, y: Axis, key: str) -> list[SafeString]:
    """The field and its hatching. Both curves may leave the sheet."""
    edge = [*zone.lower, *reversed(zone.upper)]
    points = [(x.at(t), y.free(n)) for t, n in edge if canvas.finite(t) is not None and canvas.finite(n) is not None]
    if len(points) < 3:
        return []
    d = "M" + "L".join(f"{canvas.px(a)} {canvas.px(b)}" for a, b in points) + "Z"
    tone, gap = TONES[zone.kind], HATCH_PX[zone.kind]
    area = [canvas.path(d, f"d-zone tone-{tone}", data_zone=zone.kind)]
    if gap:
        area.append(_hatching(d, x, y, gap, f"{key}-{zone.kind}", tone))
    return [canvas.group(area, clip_path=f"url(#{key}-area)")]


def _legend(zones: tuple[Zone, ...], x: Axis, y: float, key: str, letter: float) -> list[SafeString]:
    """A swatch and a word for each zone, above the plot at the right."""
    parts: list[SafeString] = []
    right = x.end_px
    for zone in reversed(zones):
        words, tone, gap = zone.words or zone.kind, TONES[zone.kind], HATCH_PX[zone.kind]
        left = right - len(words) * letter * 0.47 - letter * 2.6
        box = (left, y - letter * 0.9, letter * 2, letter * 1.15)
        parts.append(canvas.rect(*box, f"d-zone tone-{tone}"))
        if gap:
            a, b, wide, tall = box
            d = f"M{canvas.px(a)} {canvas.px(b)}h{canvas.px(wide)}v{canvas.px(tall)}h{canvas.px(-wide)}z"
            swatch = (Axis(0, 1, a, a + wide), Axis(0, 1, b + tall, b))
            parts.append(_hatching(d, *swatch, gap / 2, f"{key}-{zone.kind}-swatch", tone))
        parts.append(canvas.text(left + letter * 2.35, y, words, f"d-zonetext d-firm tone-{tone}", letter))
        right = left - letter
    return parts


def _hatching(d: str, x: Axis, y: Axis, gap: float, clip_id: str, tone: str) -> SafeString:
    rise = y.start_px - y.end_px
    strokes, start = "", x.start_px - rise
    while start < x.end_px:
        strokes += f"M{canvas.px(start)} {canvas.px(y.start_px)}L{canvas.px(start + rise)} {canvas.px(y.end_px)}"
        start += gap
    clip = canvas.el("clipPath", "", canvas.el("path", "", d=d), id=clip_id)
    return canvas.group([clip, canvas.path(strokes, f"d-hatch tone-{tone}", clip_path=f"url(#{clip_id})")])


def _point(point: ProductPoint, x: Axis, y: Axis, letter: float) -> SafeString:
    tension, wraps = canvas.finite(point.tension_n_per_m), canvas.finite(point.wraps)
    if tension is None or wraps is None:
        return canvas.group([])
    px, py = x.at(tension), y.at(wraps)
    parts = []
    low, high = canvas.finite(point.low_n_per_m), canvas.finite(point.high_n_per_m)
    if low is not None and high is not None:
        parts.append(canvas.line(x.at(low), py, x.at(high), py, "d-range"))
        for end in (low, high):
            parts.append(canvas.line(x.at(end), py - 6, x.at(end), py + 6, "d-range"))
    mark = verdict_mark(point.verdict)
    wide = len(point.name) * letter * 0.52 + 10
    at_right = px + 16 + wide < x.end_px
    box = px + 13 if at_right else px - 13 - wide
    parts.append(canvas.rect(box, py - letter * 1.55, wide, letter * 1.4, "d-plate"))
    parts.append(canvas.text(box + 5, py - letter * 0.5, point.name, "d-loud", letter))
    parts.append(canvas.circle(px, py, letter * 0.95, "d-plate"))
    parts.append(mark_at(mark, px, py, letter * 1.45))
    return canvas.group(parts, data_product=point.name)


def _try(tried: TriedWorse, x: Axis, y: Axis, letter: float) -> SafeString:
    """A cross with its words: no verdict of a calculation, but what the line showed."""
    tension, wraps = canvas.finite(tried.tension_n_per_m), canvas.finite(tried.wraps)
    if tension is None or wraps is None:
        return canvas.group([])
    px, py, arm, words = x.at(tension), y.at(wraps), letter * 0.62, "tried, worse"
    wide = len(words) * letter * 0.5 + 10
    box = px - 13 - wide if px - 13 - wide > x.start_px else px + 13
    parts = [
        canvas.circle(px, py, letter * 0.95, "d-plate"),
        canvas.line(px - arm, py - arm, px + arm, py + arm, "d-worse"),
        canvas.line(px - arm, py + arm, px + arm, py - arm, "d-worse"),
        canvas.rect(box, py + letter * 0.2, wide, letter * 1.4, "d-plate"),
        canvas.text(box + 5, py + letter * 1.25, words, "d-loud", letter),
    ]
    return canvas.group(parts, data_tried=tried.words)


def describe(plot: WindowPlot) -> str:
    """The plot in words."""
    said = [f"{plot.title}: wraps against line tension."]
    for point in plot.points:
        ran = ""
        if canvas.finite(point.low_n_per_m) is not None and canvas.finite(point.high_n_per_m) is not None:
            ran = f" ({figure(point.low_n_per_m)} to {figure(point.high_n_per_m)})"
        word = verdict_mark(point.verdict).word
        said.append(f"{point.name}: {figure(point.wraps)} wraps at {figure(point.tension_n_per_m)}{ran} N/m, {word}.")
    for tried in plot.tries:
        said.append(
            f"Tried and worse: {figure(tried.wraps)} wraps at {figure(tried.tension_n_per_m)} N/m, {tried.words}."
        )
    return " ".join(said)


def window_plot(plot: WindowPlot) -> SafeString:
    """The SVG of the window of wraps against tension."""
    size = size_for(plot.audience)
    letter, width = size.letter_px, min(size.width_px, 760.0)
    key = plot.key or canvas.key_of("window", plot.title)
    x, y = _axes(plot, width, letter)
    sheet = canvas.rect(x.start_px, y.end_px, x.end_px - x.start_px, y.start_px - y.end_px, "")
    body: list[SafeString] = [canvas.el("clipPath", "", sheet, id=f"{key}-area")]
    for zone in plot.zones:
        body += _zone(zone, x, y, key)
    body += _legend(plot.zones, x, y.end_px - letter * 0.8, key, letter)
    body += x_axis(x, y.start_px, y.end_px, "line tension, N/m", letter)
    body += y_axis(y, x.start_px, x.end_px, "wraps", letter, about=int(canvas.clip(y.high, 1, 10)))
    body += [_try(tried, x, y, letter) for tried in plot.tries]
    body += [_point(point, x, y, letter) for point in plot.points]
    height = y.start_px + 2 * letter + 24
    return canvas.svg(
        body,
        width=width,
        height=height,
        title=plot.title,
        desc=describe(plot),
        css=f"drawing--plot drawing--{plot.audience}",
        key=key,
    )
