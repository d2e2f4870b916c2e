"""Axes of the engineer's plots: round ticks, thin rules, the name and unit at the end of each axis."""

import math
from dataclasses import dataclass

from django.utils.safestring import SafeString

from plant.web.svg import canvas
from plant.web.svg.canvas import figure


@dataclass(frozen=True)
class Axis:
    """Values from `low` to `high` laid between two places on the sheet."""

    low: float
    high: float
    start_px: float
    end_px: float

    def at(self, value: float) -> float:
        """Where a value lies; outside the axis it stays at the end."""
        share = canvas.clip((value - self.low) / (self.high - self.low), 0.0, 1.0)
        return self.start_px + share * (self.end_px - self.start_px)

    def free(self, value: float) -> float:
        """Where a value lies, also some way beyond the ends; for what is clipped to the sheet."""
        share = canvas.clip((value - self.low) / (self.high - self.low), -20.0, 20.0)
        return self.start_px + share * (self.end_px - self.start_px)

    def ticks(self, about: int = 6) -> list[float]:
        step = round_step((self.high - self.low) / max(about, 1))
        first = math.ceil(self.low / step - 1e-9)
        last = math.floor(self.high / step + 1e-9)
        return [number * step for number in range(first, min(last, first + 40) + 1)]


def round_step(raw: float) -> float:
    """The smallest of 1, 2, 2.5, 5, 10 times a power of ten that is not below `raw`."""
    if not raw > 0 or not math.isfinite(raw):
        return 1.0
    power = 10.0 ** math.floor(math.log10(raw))
    return next(step * power for step in (1, 2, 2.5, 5, 10) if step * power >= raw * (1 - 1e-9))


def span(values: list[float], *, with_zero: bool = False, room: float = 0.06) -> tuple[float, float]:
    """Low and high of an axis that holds all values, with a little room; never of no length."""
    known = [value for value in values if math.isfinite(value)] + ([0.0] if with_zero else [])
    low, high = min(known, default=0.0), max(known, default=1.0)
    if not high > low:
        return low - (abs(low) * 0.1 if low else 0.0), high + (abs(high) * 0.1 or 1.0)
    gap = (high - low) * room
    return (low if with_zero and low == 0 else low - gap), (high if with_zero and high == 0 else high + gap)


def x_axis(axis: Axis, y: float, top: float, name: str, letter: float, about: int = 8) -> list[SafeString]:
    parts = [canvas.line(axis.start_px, y, axis.end_px, y, "d-axis")]
    for tick in axis.ticks(about):
        x = axis.at(tick)
        parts.append(canvas.line(x, top, x, y, "d-rule"))
        parts.append(canvas.text(x, y + letter + 5, figure(tick), "d-soft", letter, anchor="middle"))
    parts.append(canvas.text(axis.end_px, y + 2 * letter + 12, name, "d-firm", letter, anchor="end"))
    return parts


def y_axis(axis: Axis, x: float, right: float, name: str, letter: float, about: int = 6) -> list[SafeString]:
    parts = [canvas.line(x, axis.start_px, x, axis.end_px, "d-axis")]
    for tick in axis.ticks(about):
        y = axis.at(tick)
        parts.append(canvas.line(x, y, right, y, "d-rule"))
        parts.append(canvas.text(x - 7, y + letter * 0.35, figure(tick), "d-soft", letter, anchor="end"))
    parts.append(canvas.text(x, axis.end_px - letter * 0.8, name, "d-firm", letter))
    return parts
