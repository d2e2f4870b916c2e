"""Each check as a small bar against its limits, so that the eye finds the worst one first.

Every bar has its own scale: the refuse limit stands at the same place on all of them. A check that must stay above
its limit runs the other way: its bar must reach past the limit.
"""

from dataclasses import dataclass
from typing import Literal

from django.utils.safestring import SafeString

from plant.web.svg import canvas
from plant.web.svg.canvas import figure
from plant.web.svg.marks import mark_at, verdict_mark
from plant.web.svg.sizes import size_for

LIMIT_SHARE = 0.72


@dataclass(frozen=True)
class Bar:
    """One check: its value, its limits in the same unit, its verdict. Limits below each other: more is better."""

    name: str
    value: float | None
    verdict: str
    unit: str = ""
    caution: float | None = None
    refuse: float | None = None
    digits: int | None = None

    @property
    def is_floor(self) -> bool:
        """Whether falling below is what is refused."""
        caution, refuse = canvas.finite(self.caution), canvas.finite(self.refuse)
        return caution is not None and refuse is not None and caution > refuse


@dataclass(frozen=True)
class Bars:
    """The bars of one verdict, in the order given."""

    title: str
    bars: tuple[Bar, ...]
    audience: Literal["desk", "tablet", "paper"] = "desk"
    key: str = ""


@dataclass(frozen=True)
class _Rail:
    """The rail on which a bar lies."""

    start: float
    length: float
    letter: float

    def at(self, value: float, full: float) -> float:
        return self.start + self.length * canvas.clip(value / full, 0.0, 1.0)


def _full_scale(bar: Bar) -> float | None:
    """The value at the end of the rail; None where nothing can be drawn."""
    refuse, caution, value = canvas.positive(bar.refuse), canvas.positive(bar.caution), canvas.positive(bar.value)
    if bar.is_floor and caution:
        return max(caution * 1.6, value or 0)
    limit = refuse or caution
    return limit / LIMIT_SHARE if limit else value


def _limits(bar: Bar, rail: _Rail, full: float, y: float) -> list[SafeString]:
    parts = []
    for value, tone, tall in ((bar.caution, "caution", 9.0), (bar.refuse, "refused", 12.0)):
        number = canvas.finite(value)
        if number is not None and 0 <= number <= full:
            x = rail.at(number, full)
            parts.append(canvas.line(x, y - tall, x, y + tall, f"d-stop tone-{tone}", data_limit=tone))
    return parts


def _bar(bar: Bar, rail: _Rail, y: float, width: float) -> list[SafeString]:
    mark, letter = verdict_mark(bar.verdict), rail.letter
    value, full = canvas.finite(bar.value), _full_scale(bar)
    parts = [
        mark_at(mark, letter * 0.9, y, letter * 1.3),
        canvas.text(letter * 2.1, y + letter * 0.35, bar.name, "d-firm", letter),
        canvas.line(rail.start, y, rail.start + rail.length, y, "d-rule"),
    ]
    if value is not None and full:
        end = rail.at(abs(value), full)
        parts.append(canvas.rect(rail.start, y - 5, max(end - rail.start, 1.5), 10, f"d-bar tone-{mark.tone}"))
        if abs(value) > full:
            parts.append(canvas.path(f"M{canvas.px(end - 12)} {canvas.px(y + 8)}l5-16m5 16l5-16", "d-break"))
        parts += _limits(bar, rail, full, y)
    shown = figure(value, bar.digits) + (f" {bar.unit}" if bar.unit and value is not None else "")
    words = f"{mark.word}, {shown}" if value is not None else mark.word
    parts.append(
        canvas.text(width - 4, y + letter * 0.35, words, f"d-word d-firm tone-{mark.tone}", letter, anchor="end")
    )
    return parts


def _said(bar: Bar) -> str:
    limits = [
        f"{word} {'below' if bar.is_floor else 'above'} {figure(limit)}"
        for word, limit in (("caution", bar.caution), ("refused", bar.refuse))
        if canvas.finite(limit) is not None
    ]
    unit = f" {bar.unit}" if bar.unit and canvas.finite(bar.value) is not None else ""
    tail = f" ({', '.join(limits)})" if limits else ""
    return f"{bar.name}: {figure(bar.value)}{unit}, {verdict_mark(bar.verdict).word}{tail}."


def bars(drawing: Bars) -> SafeString:
    """The SVG of the checks as bars against their limits."""
    size = size_for(drawing.audience)
    letter, width = size.letter_px, min(size.width_px, 760.0)
    names = max((len(bar.name) for bar in drawing.bars), default=8) * letter * 0.49 + letter * 2.8
    start = min(names, width * 0.42)
    rail = _Rail(start, width - start - letter * 10.5, letter)
    pitch, top = letter + 15, letter * 2.2
    body: list[SafeString] = []
    for number, bar in enumerate(drawing.bars):
        body += _bar(bar, rail, top + number * pitch, width)
    foot = top + len(drawing.bars) * pitch + 4
    key_words = "short line: caution limit; long line: refuse limit; each bar has its own scale"
    body.append(canvas.text(rail.start, foot, key_words, "d-soft", letter - 1))
    return canvas.svg(
        body,
        width=width,
        height=foot + 12,
        title=drawing.title,
        desc=" ".join(_said(bar) for bar in drawing.bars) or "No checks yet.",
        css=f"drawing--bars drawing--{drawing.audience}",
        key=drawing.key or canvas.key_of("bars", drawing.title),
    )
