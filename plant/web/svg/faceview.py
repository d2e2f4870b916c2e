"""The face of a roller from the front: where millimetres land, body, bands, web."""

import math
from dataclasses import dataclass

from django.utils.safestring import SafeString

from plant.web.svg import canvas
from plant.web.svg.bands import LEFT_IS_OPERATOR, Band, RollerDrawing
from plant.web.svg.sizes import size_for

TAPE_AIM_PX = 15.0
BODY_PX = (30.0, 150.0)


@dataclass(frozen=True)
class Frame:
    """Where millimetres land on the sheet."""

    centre_x: float
    axis_y: float
    px_per_mm: float
    body_px: float
    raise_factor: float
    letter: float
    left: float
    right: float
    width: float
    true_height: bool

    def x(self, mm: float) -> float:
        return self.centre_x + mm * self.px_per_mm

    def raise_px(self, build_mm: float) -> float:
        return build_mm * self.px_per_mm * self.raise_factor


def round_factor(raw: float) -> float:
    """The largest of 1, 2, 5, 10, 20, 50 ... not above `raw`, and at least 1."""
    if raw <= 1:
        return 1.0
    power = 10.0 ** math.floor(math.log10(raw))
    return max(step * power for step in (1, 2, 5) if step * power <= raw * 1.0000001)


def frame_of(drawing: RollerDrawing, face_mm: float) -> Frame:
    size = size_for(drawing.audience)
    letter = size.letter_px
    view_px = 190.0 if drawing.audience == "desk" else 168.0
    left, right = view_px + 34, size.width_px - 34
    reach = [face_mm / 2, (canvas.positive(drawing.web_width_mm) or 0) / 2 + abs(drawing.web_offset_mm)]
    reach += [abs(edge) for band in drawing.bands if (edge := canvas.finite(band.outer_mm)) is not None]
    diameter = canvas.positive(drawing.diameter_mm)
    px_per_mm = (right - left) / (2 * max(reach))
    if diameter:
        px_per_mm = min(px_per_mm, BODY_PX[1] / diameter)
    body = canvas.clip((diameter or 0) * px_per_mm, *BODY_PX)
    highest = max((build_mm(band, max(band.lanes)) for band in drawing.bands), default=0.0)
    factor = round_factor(TAPE_AIM_PX / (highest * px_per_mm)) if highest > 0 else 1.0
    top = 3.4 * letter + (2.9 * letter if drawing.turned_end_for_end else 0)
    return Frame(
        centre_x=(left + right) / 2,
        axis_y=top + 30 + TAPE_AIM_PX + body / 2,
        px_per_mm=px_per_mm,
        body_px=body,
        raise_factor=factor,
        letter=letter,
        left=left,
        right=right,
        width=size.width_px,
        true_height=bool(diameter) and math.isclose(body, (diameter or 0) * px_per_mm, rel_tol=1e-6),
    )


def build_mm(band: Band, wraps: int) -> float:
    """Height of the tape; where the thickness is not recorded a layer counts 0.1 mm, for the picture only."""
    return max(wraps, 0) * (canvas.positive(band.tape_mm) or 0.1)


def body_of(frame: Frame, face_mm: float) -> SafeString:
    half, stub = frame.body_px / 2, frame.body_px * 0.24
    x1, x2, y = frame.x(-face_mm / 2), frame.x(face_mm / 2), frame.axis_y
    return canvas.group(
        [
            canvas.rect(x1 - 20, y - stub / 2, 20, stub, "d-metal"),
            canvas.rect(x2, y - stub / 2, 20, stub, "d-metal"),
            canvas.rect(x1, y - half, x2 - x1, frame.body_px, "d-metal", data_part="face"),
        ]
    )


def band_step(frame: Frame, band: Band) -> SafeString:
    """The band as a raised step above and below the face; a hair line for every wrap, one for every lane."""
    side, half = LEFT_IS_OPERATOR[band.end], frame.body_px / 2
    inner, outer = canvas.finite(band.inner_mm) or 0.0, canvas.finite(band.outer_mm) or 0.0
    lane_mm = (outer - inner) / len(band.lanes)
    parts = []
    for number, wraps in enumerate(band.lanes):
        a = frame.x(side * (inner + number * lane_mm))
        b = frame.x(side * (inner + (number + 1) * lane_mm))
        rise = canvas.clip(frame.raise_px(build_mm(band, wraps)), 0, 60)
        x, wide = min(a, b), max(abs(b - a), 1.5)
        top = frame.axis_y - half - rise
        parts.append(canvas.rect(x, top, wide, frame.body_px + 2 * rise, "d-tape", data_band=band.end))
        for layer in range(min(max(wraps, 0), 12)):
            for sign in (-1, 1):
                y = frame.axis_y + sign * (half + rise * layer / max(wraps, 1))
                parts.append(canvas.line(x, y, x + wide, y, "d-tapeline"))
    return canvas.group(parts, data_end=band.end)


def band_label(frame: Frame, band: Band, y: float) -> SafeString:
    side = LEFT_IS_OPERATOR[band.end]
    middle = frame.x(side * ((canvas.finite(band.inner_mm) or 0) + (canvas.finite(band.outer_mm) or 0)) / 2)
    wide = len(band.wraps_text) * frame.letter * 0.27
    x = canvas.clip(middle, frame.left + wide - 24, frame.right - wide + 24)
    return canvas.text(x, y, band.wraps_text, "d-loud", frame.letter + 2, anchor="middle")


def web_strip(frame: Frame, drawing: RollerDrawing, width_mm: float) -> SafeString:
    """The web as a pale strip over the roller, its edges dashed, the wander of each edge shaded."""
    offset = canvas.finite(drawing.web_offset_mm) or 0.0
    wander = max(canvas.finite(drawing.wander_mm) or 0.0, 0.0)
    top, tall = frame.axis_y - frame.body_px / 2 - 38, frame.body_px + 76
    x1, x2 = frame.x(offset - width_mm / 2), frame.x(offset + width_mm / 2)
    parts = [canvas.rect(x1, top, x2 - x1, tall, "d-web", data_part="web")]
    for x in (x1, x2):
        if wander:
            half = max(wander * frame.px_per_mm, 0.8)
            parts.append(canvas.rect(x - half, top, 2 * half, tall, "d-wander"))
        parts.append(canvas.line(x, top, x, top + tall, "d-webedge"))
    return canvas.group(parts)
