"""Dimension lines under the face of a roller: band edges and web edges from the centre, web and face overall."""

import math
from dataclasses import dataclass

from django.utils.safestring import SafeString

from plant.web.svg import canvas
from plant.web.svg.bands import LEFT_IS_OPERATOR, RollerDrawing
from plant.web.svg.canvas import figure
from plant.web.svg.faceview import Frame


@dataclass(frozen=True)
class Measure:
    """One dimension line: from, to (mm), its words."""

    from_mm: float
    to_mm: float
    words: str


def measures(drawing: RollerDrawing, face_mm: float, web_mm: float | None) -> list[list[Measure]]:
    """The dimension rows, nearest to the roller first; a row holds at most one line for each end."""
    sides: list[list[Measure]] = []
    wander = f" ±{figure(drawing.wander_mm)}" if drawing.wander_mm else ""
    offset = canvas.finite(drawing.web_offset_mm) or 0.0
    for end, sign in LEFT_IS_OPERATOR.items():
        found: list[tuple[float, str]] = []
        for band in drawing.bands:
            if band.end == end:
                found += [(abs(band.inner_mm), "inner edge"), (abs(band.outer_mm), "outer edge")]
        if web_mm:
            found.append((abs(sign * web_mm / 2 + offset), "web edge"))
        named: dict[float, str] = {}
        for mm, words in sorted(found):
            named[mm] = f"{named[mm]}, {words}" if mm in named else words
        sides.append(
            [
                Measure(0, sign * mm, f"{words} {figure(mm)}{wander if 'web' in words else ''}")
                for mm, words in named.items()
            ]
        )
    rows = [[side[i] for side in sides if i < len(side)] for i in range(max(map(len, sides), default=0))]
    if web_mm:
        rows.append([Measure(offset - web_mm / 2, offset + web_mm / 2, f"web {figure(web_mm)}")])
    rows.append([Measure(-face_mm / 2, face_mm / 2, f"face {figure(face_mm)}")])
    return rows


def dimensions(frame: Frame, rows: list[list[Measure]], first_y: float) -> tuple[list[SafeString], float]:
    step = frame.letter + 9
    from_y = frame.axis_y + frame.body_px / 2 + 2
    parts: list[SafeString] = []
    for number, row in enumerate(rows):
        y = first_y + number * step
        for measure in row:
            a, b = frame.x(measure.from_mm), frame.x(measure.to_mm)
            parts.append(canvas.line(a, y, b, y, "d-dim"))
            toward = 0.0 if b >= a else math.pi
            parts.append(canvas.arrow_head(b, y, toward))
            if measure.from_mm != 0:
                parts += [
                    canvas.arrow_head(a, y, toward + math.pi),
                    canvas.line(a, from_y, a, y + 4, "d-ext"),
                ]
            parts.append(canvas.line(b, from_y, b, y + 4, "d-ext"))
            parts.append(_dimension_words(frame, measure, a, b, y))
    last = first_y + (len(rows) - 1) * step
    return parts, last


def _dimension_words(frame: Frame, measure: Measure, a: float, b: float, y: float) -> SafeString:
    wide = len(measure.words) * frame.letter * 0.47
    if abs(b - a) > wide + 24:
        return canvas.text((a + b) / 2, y - 3, measure.words, "d-text d-dimtext", frame.letter, anchor="middle")
    if b >= a and b + wide + 8 < frame.width:
        return canvas.text(b + 7, y + frame.letter * 0.35, measure.words, "d-text d-dimtext", frame.letter)
    return canvas.text(
        min(a, b) - 7, y + frame.letter * 0.35, measure.words, "d-text d-dimtext", frame.letter, anchor="end"
    )
