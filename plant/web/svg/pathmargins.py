"""How much of its margin each roller of a path uses: bars along the path on a logarithmic scale, 1 is the edge."""

import math
from dataclasses import dataclass

from django.utils.safestring import SafeString

from plant.web.svg import canvas
from plant.web.svg.curves import Table
from plant.web.svg.sizes import Audience, size_for

LOW, HIGH = 0.01, 10.0


@dataclass(frozen=True)
class PathBar:
    """One roller: the share of the margin used; None where it cannot be worked out. `assumed`: not measured."""

    code: str
    used: float | None
    assumed: bool = False
    note: str = ""
    is_named: bool = False


@dataclass(frozen=True)
class PathMargins:
    """The whole path, in path order."""

    title: str
    bars: tuple[PathBar, ...]
    named_words: str = "named by the walk"
    audience: Audience = "desk"
    key: str = ""


def _place(share: float, top: float, foot: float) -> float:
    value = canvas.clip(share, LOW, HIGH)
    return foot - (math.log10(value) - math.log10(LOW)) / (math.log10(HIGH) - math.log10(LOW)) * (foot - top)


def _percent(share: float | None) -> str:
    if share is None:
        return "?"
    return f"{100 * share:.0f} %" if share >= 0.1 else f"{100 * share:.1f} %"


def describe(drawing: PathMargins) -> str:
    """The picture in words."""
    said = [f"{drawing.title}: share of the margin to wrinkling that each roller uses, in path order."]
    for bar in drawing.bars:
        words = "not worked out" if bar.used is None else _percent(bar.used)
        said.append(f"{bar.code} {words}{', assumed' if bar.assumed else ''}{', ' + bar.note if bar.note else ''}.")
    return " ".join(said)


def _bar(bar: PathBar, x: float, wide: float, top: float, foot: float, letter: float) -> list[SafeString]:
    middle = x + wide / 2
    if bar.used is None:
        return [canvas.text(middle, foot - 6, "?", "d-soft", letter, anchor="middle")]
    tone = "refused" if bar.used >= 1 else "caution" if bar.used >= 0.5 else "notice"
    y = _place(bar.used, top, foot)
    parts = [
        canvas.rect(
            x + wide * 0.2,
            y,
            wide * 0.6,
            foot - y,
            f"{'d-zone' if bar.assumed else 'd-bar'} tone-{tone}",
            stroke_dasharray="4 3" if bar.assumed else None,
            data_used=f"{bar.used:.4f}",
        ),
        canvas.rect(middle - letter * 1.5, y - 5 - letter, letter * 3, letter * 1.2, "d-plate"),
        canvas.text(middle, y - 5, _percent(bar.used), "d-firm", letter, anchor="middle"),
    ]
    if bar.note:
        parts.append(canvas.text(middle, foot + letter * 2.5, bar.note, "d-soft", letter - 2, anchor="middle"))
    return parts


def path_margins(drawing: PathMargins) -> SafeString:
    """The SVG of the path."""
    size = size_for(drawing.audience)
    letter, width = size.letter_px, size.width_px
    left, top = letter * 4.6, letter * 2.6
    foot = top + (220 if drawing.audience != "tablet" else 300)
    wide = (width - left - 8) / max(len(drawing.bars), 1)
    body: list[SafeString] = []
    for tick in (0.01, 0.1, 1.0, 10.0):
        y = _place(tick, top, foot)
        css = "d-stop tone-refused" if tick == 1 else "d-rule"
        body.append(canvas.line(left, y, width - 8, y, css))
        body.append(canvas.text(left - 7, y + letter * 0.35, f"{100 * tick:g} %", "d-soft", letter, anchor="end"))
    body.append(canvas.text(4, letter * 1.1, "share of the margin to wrinkling used", "d-firm", letter))
    for number, bar in enumerate(drawing.bars):
        x = left + number * wide
        body += _bar(bar, x, wide, top, foot, letter)
        css = "d-loud" if bar.is_named else "d-text"
        body.append(canvas.text(x + wide / 2, foot + letter * 1.3, bar.code, css, letter, anchor="middle"))
        if bar.is_named:
            body.append(canvas.rect(x + 3, top - 4, wide - 6, foot - top + letter * 1.9, "d-here", rx=4.0))
    body.append(canvas.line(left, foot, width - 8, foot, "d-axis"))
    words = "Filled: measured. Dashed: not measured, taken as the alignment rule allows."
    if any(bar.is_named for bar in drawing.bars):
        words += f" Framed: {drawing.named_words}."
    body.append(canvas.text(4, foot + letter * 4.2, words, "d-soft", letter))
    return canvas.svg(
        body,
        width=width,
        height=foot + letter * 5,
        title=drawing.title,
        desc=describe(drawing),
        css=f"drawing--plot drawing--{drawing.audience}",
        key=drawing.key or canvas.key_of("margins", drawing.title),
    )


def path_table(drawing: PathMargins) -> Table:
    """Its figures."""
    rows = tuple(
        (bar.code, _percent(bar.used), "assumed" if bar.assumed else "measured", bar.note or "–")
        for bar in drawing.bars
    )
    heads = (("Roller", ""), ("Margin used", "num"), ("Alignment", ""), ("Note", ""))
    return Table(f"{drawing.title}, in figures", heads, rows)
