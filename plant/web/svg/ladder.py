"""Strain ladder: the line strain of every product of a roller beside the strain its step adds, on a log scale.

A product whose own strain is far above the step hardly feels it; one far below is pulled apart by it.
"""

import math
from dataclasses import dataclass

from django.utils.safestring import SafeString

from plant.web.svg import canvas
from plant.web.svg.axes import Axis
from plant.web.svg.canvas import figure
from plant.web.svg.curves import Table
from plant.web.svg.marks import mark_at, verdict_mark
from plant.web.svg.sizes import Audience, size_for


@dataclass(frozen=True)
class Rung:
    """One product: its line strain in percent at set tension and over its range, and its verdict."""

    name: str
    strain_pct: float
    low_pct: float
    high_pct: float
    verdict: str = ""


@dataclass(frozen=True)
class Ladder:
    """All products of a roller, and the step in percent (0: bare)."""

    title: str
    rungs: tuple[Rung, ...]
    step_pct: float = 0.0
    audience: Audience = "desk"
    key: str = ""

    @property
    def ordered(self) -> list[Rung]:
        """Products that can be drawn, the stiffest (least strain) first."""
        good = [rung for rung in self.rungs if canvas.positive(rung.strain_pct)]
        return sorted(good, key=lambda rung: rung.strain_pct)


def _log_axis(ladder: Ladder, start: float, end: float) -> Axis:
    """Whole decades that hold all strains and the step."""
    values = [
        value
        for rung in ladder.ordered
        for value in (rung.strain_pct, rung.low_pct, rung.high_pct)
        if canvas.positive(value)
    ]
    if canvas.positive(ladder.step_pct):
        values.append(ladder.step_pct)
    low = math.floor(math.log10(min(values, default=0.01)) + 1e-9)
    high = math.ceil(math.log10(max(values, default=1.0)) - 1e-9)
    return Axis(low, max(high, low + 1), start, end)


def _decades(x: Axis, top: float, foot: float, letter: float) -> list[SafeString]:
    parts = [canvas.line(x.start_px, foot, x.end_px, foot, "d-axis")]
    for power in range(int(x.low), int(x.high) + 1):
        for times in (1, 2, 5):
            value = math.log10(times) + power
            if value > x.high + 1e-9:
                continue
            at = x.at(value)
            parts.append(canvas.line(at, top, at, foot, "d-rule"))
            parts.append(
                canvas.text(at, foot + letter + 5, figure(times * 10.0**power), "d-soft", letter, anchor="middle")
            )
    parts.append(canvas.text(x.end_px, foot + 2 * letter + 12, "strain, %, log scale", "d-firm", letter, anchor="end"))
    return parts


def _rung(rung: Rung, x: Axis, y: float, letter: float) -> list[SafeString]:
    parts = [canvas.text(x.start_px - 12, y + letter * 0.35, rung.name, "d-firm", letter, anchor="end")]
    if canvas.positive(rung.low_pct) and canvas.positive(rung.high_pct):
        low, high = x.at(math.log10(rung.low_pct)), x.at(math.log10(rung.high_pct))
        parts.append(canvas.line(low, y, high, y, "d-range"))
        parts += [canvas.line(end, y - 5, end, y + 5, "d-range") for end in (low, high)]
    at = x.at(math.log10(rung.strain_pct))
    if rung.verdict:
        parts += [
            canvas.circle(at, y, letter * 0.85, "d-plate"),
            mark_at(verdict_mark(rung.verdict), at, y, letter * 1.3),
        ]
    else:
        parts.append(canvas.circle(at, y, letter * 0.35, "d-solid"))
    return [canvas.group(parts, data_product=rung.name)]


def describe(ladder: Ladder) -> str:
    """The drawing in words."""
    said = [f"{ladder.title}: line strain of every product on a log scale."]
    if canvas.positive(ladder.step_pct):
        said.append(f"The step of the tape is {figure(float(f'{ladder.step_pct:.3g}'))} %.")
    for rung in ladder.ordered:
        word = f", {verdict_mark(rung.verdict).word}" if rung.verdict else ""
        said.append(f"{rung.name}: {figure(float(f'{rung.strain_pct:.3g}'))} %{word}.")
    return " ".join(said)


def strain_ladder(ladder: Ladder) -> SafeString:
    """The SVG of the ladder."""
    size = size_for(ladder.audience)
    letter, width = size.letter_px, min(size.width_px, 760.0)
    names = max((len(rung.name) for rung in ladder.ordered), default=6) * letter * 0.55 + letter * 2
    x = _log_axis(ladder, min(names, width * 0.36), width - 24)
    pitch, top = letter * 2.1, letter * 2.4
    foot = top + max(len(ladder.ordered), 1) * pitch
    body = _decades(x, top, foot, letter)
    for number, rung in enumerate(ladder.ordered):
        body += _rung(rung, x, top + (number + 0.5) * pitch, letter)
    if canvas.positive(ladder.step_pct):
        at = x.at(math.log10(ladder.step_pct))
        words = f"step of the tape {figure(float(f'{ladder.step_pct:.3g}'))} %"
        anchor = "end" if at > (x.start_px + x.end_px) / 2 else "start"
        body.append(canvas.line(at, top - letter * 0.4, at, foot, "d-stop tone-plain", data_part="step"))
        body.append(canvas.text(at, top - letter * 0.9, words, "d-loud", letter, anchor=anchor))
    return canvas.svg(
        body,
        width=width,
        height=foot + 2 * letter + 24,
        title=ladder.title,
        desc=describe(ladder),
        css=f"drawing--plot drawing--{ladder.audience}",
        key=ladder.key or canvas.key_of("ladder", ladder.title),
    )


def ladder_table(ladder: Ladder) -> Table:
    """Its figures."""
    heads = (
        ("Product", ""),
        ("Line strain, %", "num"),
        ("at least, %", "num"),
        ("at most, %", "num"),
        ("Step over strain", "num"),
        ("Verdict", ""),
    )
    rows = tuple(
        (
            rung.name,
            *(figure(float(f"{value:.3g}")) for value in (rung.strain_pct, rung.low_pct, rung.high_pct)),
            figure(ladder.step_pct / rung.strain_pct, 2),
            verdict_mark(rung.verdict).word if rung.verdict else "",
        )
        for rung in ladder.ordered
    )
    return Table(f"{ladder.title}, in figures", heads, rows)
