"""Rates after over rates before, each with its interval, on one logarithmic axis: left of 1 is less than before."""

import math
from dataclasses import dataclass

from django.utils.safestring import SafeString

from plant.web.svg import canvas
from plant.web.svg.sizes import Audience, size_for

LOW, HIGH = 0.02, 20.0
TICKS = (0.05, 0.1, 0.2, 0.5, 1.0, 2.0, 5.0, 10.0)
TONES = {"better": "fits", "worse": "refused"}


@dataclass(frozen=True)
class RatioRow:
    """One measure; a limit that is None has no end."""

    name: str
    ratio: float | None
    low: float | None
    high: float | None
    verdict: str


@dataclass(frozen=True)
class Ratios:
    """All measures of one change."""

    title: str
    rows: tuple[RatioRow, ...]
    audience: Audience = "desk"
    key: str = ""


def describe(drawing: Ratios) -> str:
    """The picture in words."""
    said = [f"{drawing.title}: after over before with 95 % interval; 1 means no change."]
    for row in drawing.rows:
        if row.ratio is None:
            said.append(f"{row.name}: no ratio, {row.verdict}.")
        else:
            high = "no upper limit" if row.high is None else f"{row.high:.2g}"
            said.append(f"{row.name}: {row.ratio:.2g}, {row.low or 0:.2g} to {high}, {row.verdict}.")
    return " ".join(said)


def ratios(drawing: Ratios) -> SafeString:
    """The SVG of the intervals."""
    size = size_for(drawing.audience)
    letter, width = size.letter_px, min(size.width_px, 760.0)
    names = max((len(row.name) for row in drawing.rows), default=8) * letter * 0.5 + letter * 1.2
    left, right, top = names, width - letter * 11, letter * 2.4
    pitch = letter * 2.6
    foot = top + pitch * len(drawing.rows)

    def at(value: float) -> float:
        share = math.log(canvas.clip(value, LOW, HIGH) / LOW) / math.log(HIGH / LOW)
        return left + share * (right - left)

    body: list[SafeString] = []
    for tick in TICKS:
        css = "d-stop tone-plain" if tick == 1 else "d-rule"
        body.append(canvas.line(at(tick), top - letter * 0.4, at(tick), foot, css))
        body.append(canvas.text(at(tick), foot + letter + 5, f"{tick:g}", "d-soft", letter, anchor="middle"))
    body.append(canvas.text(at(1.0) - 8, letter * 1.3, "less than before", "d-soft", letter, anchor="end"))
    body.append(canvas.text(at(1.0) + 8, letter * 1.3, "more", "d-soft", letter))
    for number, row in enumerate(drawing.rows):
        y = top + (number + 0.5) * pitch
        tone = f"tone-{TONES.get(row.verdict, 'cannot')}"
        body.append(canvas.text(left - 8, y + letter * 0.35, row.name, "d-firm", letter, anchor="end"))
        if row.ratio is not None:
            low, high = at(row.low or LOW), at(HIGH if row.high is None else row.high)
            body.append(canvas.line(low, y, high, y, f"d-stop {tone}", stroke_width=5))
            body.append(canvas.circle(at(row.ratio or LOW), y, 7, f"d-zone {tone}", stroke_width=3))
        body.append(canvas.text(right + 10, y + letter * 0.35, row.verdict, f"d-zonetext d-firm {tone}", letter))
    body.append(canvas.line(left, foot, right, foot, "d-axis"))
    body.append(
        canvas.text(right, foot + 2 * letter + 10, "rate after over rate before", "d-firm", letter, anchor="end")
    )
    return canvas.svg(
        body,
        width=width,
        height=foot + 2 * letter + 20,
        title=drawing.title,
        desc=describe(drawing),
        css=f"drawing--plot drawing--{drawing.audience}",
        key=drawing.key or canvas.key_of("ratios", drawing.title),
    )
