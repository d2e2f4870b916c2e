"""A roller with its bands, to scale along the axis, operator end always on the left.

Two views, as on a machine drawing: the face from the front, and beside it the end as seen from the operator side,
with the running direction and the tail. Only the height of the tape is exaggerated, and the drawing says by how
much.
"""

from django.utils.safestring import SafeString

from plant.web.svg import canvas
from plant.web.svg.bands import VIEWPOINT, Band, RollerDrawing, describe
from plant.web.svg.canvas import figure
from plant.web.svg.dimensions import dimensions, measures
from plant.web.svg.endview import EndView, end_view
from plant.web.svg.faceview import TAPE_AIM_PX, Frame, band_label, band_step, body_of, frame_of, web_strip
from plant.web.svg.marks import mark_at, state_mark, verdict_mark
from plant.web.svg.sizes import size_for

__all__ = ["Band", "RollerDrawing", "roller_drawing"]


def _warning(frame: Frame, words: str) -> SafeString:
    tall = 2.3 * frame.letter
    return canvas.group(
        [
            canvas.rect(2, 2, frame.width - 4, tall, "d-flag"),
            mark_at(verdict_mark("refused"), 22, 2 + tall / 2, frame.letter * 1.6),
            canvas.text(42, 2 + tall / 2 + frame.letter * 0.36, words, "d-loud", frame.letter + 1),
        ],
        data_part="turned",
    )


def _notes(frame: Frame, drawing: RollerDrawing, y: float) -> tuple[list[SafeString], float]:
    # What is not to scale stands on a line of its own: a factor that is cut off would read as another one.
    off_scale = [f"Tape height × {figure(frame.raise_factor)}."] if drawing.bands else []
    off_scale += [] if frame.true_height else ["Diameter not to scale."]
    notes = [VIEWPOINT, "Lengths in mm, from the roller centre, to scale along the axis."]
    notes += [" ".join(off_scale)] if off_scale else []
    lines = []
    for words in notes:
        lines.append(canvas.text(frame.left - 20, y, words, "d-soft", frame.letter - 0.5))
        y += frame.letter + 5
    return lines, y


def _nothing_on_it(frame: Frame, drawing: RollerDrawing) -> SafeString:
    words = {"": "bare: no tape", "bare": "bare: no tape"}.get(drawing.state, f"{drawing.state}: no bands recorded")
    x, y = frame.centre_x, frame.axis_y
    wide = len(words) * frame.letter * 0.52 + 40
    return canvas.group(
        [
            canvas.rect(x - wide / 2, y - frame.letter, wide, 2 * frame.letter, "d-plate"),
            mark_at(state_mark(drawing.state or "bare"), x - wide / 2 + 18, y, frame.letter * 1.5),
            canvas.text(x + 12, y + frame.letter * 0.36, words, "d-firm", frame.letter + 1, anchor="middle"),
        ]
    )


def roller_drawing(drawing: RollerDrawing) -> SafeString:
    """The SVG of one roller. Missing or impossible sizes give a sheet that says so."""
    title = f"Roller {drawing.code}" + (f" with {drawing.product}" if drawing.product else "")
    key = drawing.key or canvas.key_of("roller", drawing.code, drawing.audience)
    face_mm = canvas.positive(drawing.face_mm)
    if face_mm is None:
        return _missing(drawing, title, key)
    frame, web_mm = frame_of(drawing, face_mm), canvas.positive(drawing.web_width_mm)
    label_y = frame.axis_y - frame.body_px / 2 - TAPE_AIM_PX - 30
    ends_y = label_y - frame.letter - 8
    body: list[SafeString] = []
    if drawing.turned_end_for_end:
        leads = ", and the tail leads" if drawing.tail == "leads" else ""
        body.append(_warning(frame, f"Turned end for end: tape sits at the other end now{leads}."))
    body.append(body_of(frame, face_mm))
    body += [band_step(frame, band) for band in drawing.bands]
    if web_mm:
        body.append(web_strip(frame, drawing, web_mm))
    body.append(canvas.line(frame.left - 32, frame.axis_y, frame.right + 32, frame.axis_y, "d-centre"))
    body.append(
        canvas.line(frame.centre_x, label_y + 6, frame.centre_x, frame.axis_y + frame.body_px / 2 + 44, "d-centre")
    )
    body += [band_label(frame, band, label_y) for band in drawing.bands]
    if not drawing.bands:
        body.append(_nothing_on_it(frame, drawing))
    body.append(canvas.text(frame.left - 30, ends_y, "operator end", "d-firm d-end", frame.letter + 1))
    body.append(canvas.text(frame.right + 30, ends_y, "drive end", "d-firm d-end", frame.letter + 1, anchor="end"))
    rows = measures(drawing, face_mm, web_mm)
    lines, y = dimensions(frame, rows, frame.axis_y + frame.body_px / 2 + TAPE_AIM_PX + 30 + frame.letter)
    body += lines
    notes, y = _notes(frame, drawing, y + frame.letter + 16)
    body += notes
    body.append(end_view(EndView.of(drawing), frame.left - 44, frame.axis_y, frame.letter))
    return canvas.svg(
        body,
        width=frame.width,
        height=max(y, frame.axis_y + 150 + 3 * frame.letter),
        title=title,
        desc=describe(drawing),
        css=f"drawing--roller drawing--{drawing.audience}",
        key=key,
    )


def _missing(drawing: RollerDrawing, title: str, key: str) -> SafeString:
    size = size_for(drawing.audience)
    words = "The face width is not recorded, so the roller cannot be drawn. Maintenance can measure it."
    return canvas.svg(
        [canvas.text(20, 46, words, "d-firm", size.letter_px + 1)],
        width=size.width_px,
        height=80,
        title=title,
        desc=f"{words} {describe(drawing)}",
        css=f"drawing--roller drawing--{drawing.audience}",
        key=key,
    )
