"""What matters most: how far each input alone moves the least margin of all checks, the strongest on top."""

import math
from dataclasses import dataclass

from django.utils.safestring import SafeString

from plant.web.svg import canvas
from plant.web.svg.axes import Axis, span, x_axis
from plant.web.svg.canvas import figure
from plant.web.svg.curves import Table
from plant.web.svg.sizes import Audience, size_for


@dataclass(frozen=True)
class Lever:
    """One input: its range in words, and the least margin (percent of the limit) at the low and the high end."""

    name: str
    low: str
    high: str
    at_low_pct: float | None
    at_high_pct: float | None
    tightest: str = ""


@dataclass(frozen=True)
class Tornado:
    """All levers of one case, strongest first, about the margin at nominal values."""

    title: str
    nominal_pct: float | None
    levers: tuple[Lever, ...]
    audience: Audience = "desk"
    key: str = ""


def _finite(*values: float | None) -> list[float]:
    return [number for value in values if (number := canvas.finite(value)) is not None]


def _lever(lever: Lever, nominal: float, x: Axis, y: float, letter: float) -> list[SafeString]:
    parts = [canvas.text(x.start_px - 10, y + letter * 0.35, lever.name, "d-firm", letter, anchor="end")]
    for value, words, css in ((lever.at_low_pct, lever.low, "d-tape"), (lever.at_high_pct, lever.high, "d-metal")):
        number = canvas.finite(value)
        end = x.at(x.low if number is None else number)
        start = x.at(nominal)
        left, right = min(start, end), max(start, end)
        parts.append(canvas.rect(left, y - letter * 0.55, max(right - left, 1.5), letter * 1.1, css, data_end=words))
    return parts


def _words(lever: Lever) -> str:
    return f"{lever.low} to {lever.high}"


def describe(drawing: Tornado) -> str:
    """The drawing in words."""
    if not drawing.levers:
        return f"{drawing.title}: no input has a range."
    said = [f"{drawing.title}: least margin of all checks {_pct(drawing.nominal_pct)} at nominal values."]
    said += [
        f"{lever.name}, {_words(lever)}: {_pct(lever.at_low_pct)} at low, {_pct(lever.at_high_pct)} at high."
        for lever in drawing.levers
    ]
    return " ".join(said)


def _pct(value: float | None) -> str:
    number = canvas.finite(value)
    return "none left" if number is None else f"{figure(number, 0)} %"


def tornado(drawing: Tornado) -> SafeString:
    """The SVG of the levers."""
    size = size_for(drawing.audience)
    letter, width = size.letter_px, min(size.width_px, 760.0)
    names = max((len(lever.name) for lever in drawing.levers), default=8) * letter * 0.5 + letter * 1.6
    ends = max((len(_words(lever)) for lever in drawing.levers), default=8) * letter * 0.5 + letter
    nominal = canvas.finite(drawing.nominal_pct) or 0.0
    reach = [v for lever in drawing.levers for v in _finite(lever.at_low_pct, lever.at_high_pct)]
    low, high = _ends(reach, nominal)
    x = Axis(low, high, min(names, width * 0.36), width - ends - 8)
    pitch, top = letter * 1.75, letter * 2.6
    foot = top + len(drawing.levers) * pitch
    body: list[SafeString] = x_axis(x, foot, top - pitch * 0.4, "least margin, % of the limit", letter, about=6)
    for number, lever in enumerate(drawing.levers):
        y = top + (number + 0.4) * pitch
        body += _lever(lever, nominal, x, y, letter)
        body.append(canvas.text(width - 4, y + letter * 0.35, _words(lever), "d-soft", letter - 1, anchor="end"))
    body.append(canvas.line(x.at(nominal), top - pitch * 0.4, x.at(nominal), foot, "d-centre"))
    if low <= 0 <= high:
        body.append(canvas.line(x.at(0.0), top - pitch * 0.4, x.at(0.0), foot, "d-stop tone-refused"))
        body.append(canvas.text(4, foot + 2 * letter + 12, "left of the thick line at 0: refused", "d-soft", letter))
    body += _key(x.start_px, letter)
    return canvas.svg(
        body,
        width=width,
        height=foot + 2 * letter + 24,
        title=drawing.title,
        desc=describe(drawing),
        css=f"drawing--plot drawing--{drawing.audience}",
        key=drawing.key or canvas.key_of("tornado", drawing.title),
    )


def _ends(reach: list[float], nominal: float) -> tuple[float, float]:
    """The axis holds all levers, and the line at 0 where it is not so far off that it would hide them."""
    values = [*reach, nominal]
    wide = max(values) - min(values)
    near = min(values) <= 2.5 * wide
    return span([*values, 0.0] if near else values, room=0.06)


def _key(x: float, letter: float) -> list[SafeString]:
    parts, y = [], letter * 1.05
    for css, words in (("d-tape", "at its low end"), ("d-metal", "at its high end")):
        parts.append(canvas.rect(x, y - letter * 0.85, letter * 1.6, letter * 1.05, css))
        parts.append(canvas.text(x + letter * 2, y, words, "d-firm", letter))
        x += letter * 3 + len(words) * letter * 0.5
    return parts


def tornado_table(drawing: Tornado) -> Table:
    """Its figures."""
    heads = (
        ("Input", ""),
        ("Range", ""),
        ("Margin at the low end", "num"),
        ("Margin at the high end", "num"),
        ("Tightest check", ""),
    )
    rows = tuple(
        (lever.name, _words(lever), _pct(lever.at_low_pct), _pct(lever.at_high_pct), lever.tightest)
        for lever in drawing.levers
    )
    return Table(f"{drawing.title}, in figures", heads, rows)


def margin_pct(share: float | None) -> float | None:
    """A margin as a share in percent; None where it is not finite."""
    return None if share is None or not math.isfinite(share) else 100 * share
