"""Several curves over one axis: each has its own stroke and its name, so no colour is needed to tell them apart."""

from dataclasses import dataclass
from itertools import pairwise
from typing import Literal

from django.utils.safestring import SafeString

from plant.web.svg import canvas
from plant.web.svg.axes import Axis, span, x_axis, y_axis
from plant.web.svg.canvas import figure
from plant.web.svg.profile import Taped
from plant.web.svg.sizes import Audience, size_for

Points = tuple[tuple[float, float], ...]
Stroke = Literal["firm", "broken", "dotted"]
STROKES: dict[str, str] = {"firm": "d-curve", "broken": "d-curve d-curve--broken", "dotted": "d-curve d-curve--dotted"}


@dataclass(frozen=True)
class Curve:
    """A curve with its name; `points` are (x, y) in rising x."""

    name: str
    points: Points
    stroke: Stroke = "firm"


@dataclass(frozen=True)
class Level:
    """A line across the sheet with its words, for a limit."""

    value: float
    words: str
    tone: str = "plain"


@dataclass(frozen=True)
class Post:
    """An upright line with its words, for a measured or critical value on the x axis."""

    value: float
    words: str
    tone: str = "plain"


@dataclass(frozen=True)
class CurvePlot:
    """All of one plot. `taped` shades where tape lies; `said` is added to the words for those who do not see it."""

    title: str
    curves: tuple[Curve, ...]
    x_name: str
    y_name: str
    levels: tuple[Level, ...] = ()
    posts: tuple[Post, ...] = ()
    taped: tuple[Taped, ...] = ()
    with_zero: bool = True
    said: str = ""
    foot: str = ""
    audience: Audience = "desk"
    key: str = ""


@dataclass(frozen=True)
class Table:
    """The figures of a drawing: caption, heads (with their kind) and rows, as the `grid` tag takes them."""

    caption: str
    columns: tuple[tuple[str, str], ...]
    rows: tuple[tuple[object, ...], ...]


def known(points: Points) -> list[tuple[float, float]]:
    """The points whose two numbers are finite."""
    return [(x, y) for x, y in points if canvas.finite(x) is not None and canvas.finite(y) is not None]


def value_at(points: Points, x: float) -> float | None:
    """The curve at a place, straight between its points; None outside."""
    pairs = known(points)
    for (left, low), (right, high) in pairwise(pairs):
        if left <= x <= right:
            return high if right == left else low + (high - low) * (x - left) / (right - left)
    return None


def sampled_places(curves: tuple[Curve, ...], count: int = 13) -> list[float]:
    """Even places over all curves."""
    across = [x for curve in curves for x, _ in known(curve.points)]
    if not across:
        return []
    low, high = min(across), max(across)
    return [low + (high - low) * number / (count - 1) for number in range(count)]


def curve_table(plot: CurvePlot, digits: int | None = None) -> Table:
    """The figures of a plot at even places."""
    heads = ((plot.x_name, "num"), *((f"{curve.name}, {plot.y_name}", "num") for curve in plot.curves))
    rows = tuple(
        (figure(float(f"{x:.4g}")), *(_cell(value_at(curve.points, x), digits) for curve in plot.curves))
        for x in sampled_places(plot.curves)
    )
    return Table(f"{plot.title}, in figures", heads, rows)


def _cell(value: float | None, digits: int | None) -> str:
    if value is None:
        return "–"
    return figure(value, digits) if digits is not None else figure(float(f"{value:.3g}"))


def _axes(plot: CurvePlot, width: float, letter: float, top: float) -> tuple[Axis, Axis]:
    pairs = [pair for curve in plot.curves for pair in known(curve.points)]
    across = [x for x, _ in pairs] + [edge for band in plot.taped for edge in (band.from_mm, band.to_mm)]
    low, high = span(across, room=0.02)
    tall = [y for _, y in pairs]
    reach = (max(tall, default=1.0) - min(tall, default=0.0)) or 1.0
    near = [
        level.value
        for level in plot.levels
        if min(tall, default=0.0) - 1.2 * reach <= level.value <= max(tall, default=1.0) + 1.2 * reach
    ]
    bottom, most = span([*tall, *near], with_zero=plot.with_zero, room=0.1)
    return Axis(low, high, 4.6 * letter, width - 20), Axis(bottom, most, top + 250.0, top)


def _track(curve: Curve, x: Axis, y: Axis) -> list[SafeString]:
    pairs = known(curve.points)
    if len(pairs) < 2:
        return []
    d = "M" + "L".join(f"{canvas.px(x.at(a))} {canvas.px(y.at(b))}" for a, b in pairs)
    return [canvas.path(d, STROKES[curve.stroke], data_curve=curve.name)]


def _legend(plot: CurvePlot, start: float, letter: float) -> list[SafeString]:
    parts, x, y = [], start, letter * 1.1
    for curve in plot.curves:
        parts.append(canvas.line(x, y - letter * 0.35, x + 34, y - letter * 0.35, STROKES[curve.stroke]))
        parts.append(canvas.text(x + 41, y, curve.name, "d-firm", letter))
        x += 41 + len(curve.name) * letter * 0.5 + letter * 1.6
    return parts


def _levels(plot: CurvePlot, x: Axis, y: Axis, letter: float) -> list[SafeString]:
    parts = []
    for level in plot.levels:
        if not y.low <= level.value <= y.high:
            continue
        place = y.at(level.value)
        parts.append(canvas.line(x.start_px, place, x.end_px, place, f"d-limit tone-{level.tone}"))
        parts.append(
            canvas.text(x.end_px - 6, place - 4, level.words, f"d-word d-firm tone-{level.tone}", letter, anchor="end")
        )
    return parts


def _posts(plot: CurvePlot, x: Axis, y: Axis, letter: float) -> list[SafeString]:
    parts = []
    for number, post in enumerate(post for post in plot.posts if x.low <= post.value <= x.high):
        place = x.at(post.value)
        at_left = place > (x.start_px + x.end_px) / 2
        tall = y.end_px + letter * (1.1 + 1.35 * number)
        parts.append(canvas.line(place, y.start_px, place, y.end_px, f"d-limit tone-{post.tone}"))
        parts.append(
            canvas.text(
                place + (-6 if at_left else 6),
                tall,
                post.words,
                f"d-word d-firm tone-{post.tone}",
                letter,
                anchor="end" if at_left else "start",
            )
        )
    return parts


def describe(plot: CurvePlot) -> str:
    """The plot in words."""
    said = [f"{plot.title}."]
    for curve in plot.curves:
        tall = [y for _, y in known(curve.points)]
        if tall:
            said.append(f"{curve.name}: from {figure(min(tall))} to {figure(max(tall))}, {plot.y_name}.")
        else:
            said.append(f"{curve.name}: nothing worked out.")
    said += [f"{level.words}." for level in plot.levels] + [f"{post.words}." for post in plot.posts]
    return " ".join([*said, plot.said]).strip()


def curve_plot(plot: CurvePlot) -> SafeString:
    """The SVG of several curves."""
    size = size_for(plot.audience)
    letter, width = size.letter_px, min(size.width_px, 760.0)
    x, y = _axes(plot, width, letter, 3.6 * letter)
    body: list[SafeString] = []
    body += x_axis(x, y.start_px, y.end_px, plot.x_name, letter)
    body += y_axis(y, x.start_px, x.end_px, plot.y_name, letter, about=5)
    for band in plot.taped:
        a, b = sorted((x.at(band.from_mm), x.at(band.to_mm)))
        body.append(canvas.rect(a, y.start_px - 9, b - a, 9, "d-tape", data_part="tape"))
    if y.low < 0 < y.high:
        body.append(canvas.line(x.start_px, y.at(0), x.end_px, y.at(0), "d-axis"))
    for curve in plot.curves:
        body += _track(curve, x, y)
    body += _levels(plot, x, y, letter) + _posts(plot, x, y, letter)
    body += _legend(plot, x.start_px, letter)
    foot = y.start_px + 2 * letter + 12
    if plot.foot:
        body.append(canvas.text(x.start_px, foot, plot.foot, "d-firm", letter))
    return canvas.svg(
        body,
        width=width,
        height=foot + 12,
        title=plot.title,
        desc=describe(plot),
        css=f"drawing--plot drawing--{plot.audience}",
        key=plot.key or canvas.key_of("curves", plot.title),
    )
