"""Where tape lies: lanes and bands to scale, start and finish of a wrap, web edges on the step, points to measure."""

import math

from plant.web.svg import canvas
from training.drawings import shapes
from training.drawings.sheet import RIGHT, WIDTH, WRONG, Sheet, drawing

# Roller A05 of our invented plant with product SF-17: mm from the roller centre.
FACE_MM, WEB_MM, INNER_MM, OUTER_MM, LANES, WANDER_MM = 1800.0, 1500.0, 600.0, 792.0, 4, 5.0


@drawing(
    "lanes-and-bands",
    "Two bands on a roller, to scale along the axis",
    "Roller A05 from the front, face 1800 mm. A band of four lanes lies at each end, from 600 to 792 mm from the "
    "roller centre. The web, 1500 mm wide, covers the inner 150 mm of each band.",
)
def lanes_and_bands(sheet: Sheet) -> float:
    centre, scale, y, tall = 360.0, 0.345, 140.0, 84.0

    def x(mm: float) -> float:
        return centre + mm * scale

    sheet.add(*shapes.web(x(-WEB_MM / 2), x(WEB_MM / 2), 46, 234))
    sheet.add(*shapes.face(x(-FACE_MM / 2), x(FACE_MM / 2), y, tall))
    for side in (-1, 1):
        a, b = sorted((x(side * INNER_MM), x(side * OUTER_MM)))
        sheet.add(*shapes.band(a, b, y, tall, 11, LANES))
    sheet.add(canvas.rect(x(-WEB_MM / 2), y - tall / 2 - 11, WEB_MM * scale, tall + 22, "d-web"))
    sheet.add(canvas.line(centre, 60, centre, 330, "d-centre"))
    sheet.label(x(-FACE_MM / 2), 26, "operator end", "d-soft", anchor="start")
    sheet.label(x(FACE_MM / 2), 26, "drive end", "d-soft", anchor="end")
    sheet.label(centre, 36, "web 1500 mm")
    for row, (mm, words) in enumerate(
        ((INNER_MM, "inner edge 600"), (WEB_MM / 2, "web edge 750"), (OUTER_MM, "outer edge 792"))
    ):
        level = 262.0 + row * 28
        sheet.add(canvas.line(x(mm), 200, x(mm), level + 5, "d-ext"), *shapes.level_dim(centre, x(mm), level))
        sheet.plate((centre + x(mm)) / 2, level, words)
    level = 262.0
    sheet.add(canvas.line(x(-INNER_MM), 200, x(-INNER_MM), level + 5, "d-ext"))
    sheet.add(*shapes.level_dim(centre, x(-INNER_MM), level))
    sheet.plate((centre + x(-INNER_MM)) / 2, level, "inner edge 600")
    sheet.label(centre - 16, 318, "mm from the roller centre", "d-soft", anchor="end")
    sheet.label(centre, 366, "The same distances hold at the operator end. Height of the tape not to scale.", "d-soft")
    return 384


@drawing(
    "band-detail",
    "The drive end of the band, enlarged",
    "The drive end of roller A05, enlarged, to scale along the axis. Lanes 1 to 4 lie side by side from 600 to "
    "792 mm. The web edge at 750 mm wanders 5 mm to each side. 150 mm of web lie on the tape. The tape reaches 42"
    " mm past the web edge.",
)
def band_detail(sheet: Sheet) -> float:
    left, scale, y, tall = 60.0, 1.95, 150.0, 96.0

    def x(mm: float) -> float:
        return left + (mm - 570) * scale

    sheet.add(canvas.rect(x(900), y - 16, 12, 32, "d-metal"))
    sheet.add(canvas.rect(left - 36, y - tall / 2, x(900) - left + 36, tall, "d-metal"))
    sheet.add(*shapes.band(x(INNER_MM), x(OUTER_MM), y, tall, 14, LANES))
    lane = (OUTER_MM - INNER_MM) / LANES
    for number in range(LANES):
        sheet.number(x(INNER_MM + lane * (number + 0.5)), y + 40, str(number + 1))
    sheet.add(canvas.rect(left - 36, 52, x(WEB_MM / 2) - left + 36, 196, "d-web"))
    wander = WANDER_MM * scale
    sheet.add(canvas.rect(x(WEB_MM / 2) - wander, 52, 2 * wander, 196, "d-wander"))
    sheet.add(canvas.line(x(WEB_MM / 2), 52, x(WEB_MM / 2), 330, "d-webline"))
    sheet.label(x(WEB_MM / 2), 38, "web edge, wanders ± 5 mm")
    sheet.label(66, 80, "web")
    sheet.label(x(846), y + 6, "face")
    sheet.add(
        canvas.line(x(INNER_MM), 212, x(INNER_MM), 300, "d-ext"),
        canvas.line(x(OUTER_MM), 212, x(OUTER_MM), 330, "d-ext"),
    )
    sheet.add(*shapes.level_dim(x(INNER_MM), x(WEB_MM / 2), 276))
    sheet.plate((x(INNER_MM) + x(WEB_MM / 2)) / 2, 276, "150 mm of web on the tape")
    sheet.add(*shapes.level_dim(x(WEB_MM / 2), x(OUTER_MM), 312))
    sheet.label(x(OUTER_MM) + 12, 318, "42 mm past the web edge", anchor="start")
    sheet.label(
        360, 366, "Lanes are numbered from the inside. Default: 20 mm past the edge, at least wander + 5 mm.", "d-soft"
    )
    return 384


def _wrapped(sheet: Sheet, cx: float, turns: float, kind: str, verdict: str, words: str) -> None:
    cy, r, top = 140.0, 62.0, math.radians(-90)
    sheet.add(*shapes.disc(cx, cy, r))
    if kind == "butt":
        for layer in (0, 1):
            sheet.add(*shapes.strip(_ring(cx, cy, r + 5 + 11 * layer), 10))
        sheet.add(canvas.line(cx, cy - r + 1, cx, cy - r - 23, "d-outline", stroke_width=3))
    else:
        sheet.add(*shapes.spiral(cx, cy, r, top, turns, 11, 10))
        sheet.add(canvas.line(cx, cy - r - 34, cx, cy - r + 12, "d-centre"))
    sheet.verdict(cx - 62, 262, verdict, words)


def _ring(cx: float, cy: float, r: float) -> str:
    x, high, low = canvas.px(cx), canvas.px(cy - r), canvas.px(cy + r)
    half = f"A{r:.1f} {r:.1f} 0 0 1"
    return f"M{x} {high}{half} {x} {low}{half} {x} {high}"


@drawing(
    "start-and-finish",
    "Where a wrap starts and finishes",
    "Three ends of a roller with two wraps. Left: the tape finishes over its start, so there are two whole wraps."
    " Middle: butt joint, each wrap is cut where it began. Right: the tape goes on a quarter turn, so there is a "
    "bump once a turn.",
)
def start_and_finish(sheet: Sheet) -> float:
    _wrapped(sheet, 130, 2.0, "over", RIGHT, "over its start")
    sheet.label(130, 290, "whole wraps,|within 2 mm")
    _wrapped(sheet, 360, 2.0, "butt", RIGHT, "butt joint")
    sheet.label(360, 290, "cut where it began,|gap at most 1 mm")
    _wrapped(sheet, 590, 2.25, "over", WRONG, "a quarter past")
    sheet.label(590, 290, "three layers here,|a bump once a turn")
    sheet.add(*shapes.pointer(704, 34, 660, 70))
    sheet.label(360, 350, "Two wraps each. Thickness of the tape drawn many times too large.", "d-soft")
    return 368


def _step_row(sheet: Sheet, y: float, edge_mm: float, verdict: str, words: str, note: str) -> None:
    """The drive end in section: roller, step of the tape, and a web that covers `edge_mm` of the band."""
    step_x, high, scale = 200.0, 20.0, 0.95
    edge = step_x + edge_mm * scale
    sheet.add(canvas.rect(24, y, 366, 34, "d-metal"), canvas.rect(step_x, y - high, 190, high, "d-tape"))
    lift = y - high - 3
    if edge_mm <= 0:
        d = f"M24 {canvas.px(y - 3)}H{canvas.px(edge)}"
    else:
        low, high_y = canvas.px(y - 3), canvas.px(lift)
        d = f"M24 {low}H{canvas.px(step_x - 26)}C{canvas.px(step_x - 10)} {low} {canvas.px(step_x - 12)} {high_y} "
        d += f"{canvas.px(step_x)} {high_y}H{canvas.px(max(edge, step_x))}"
    sheet.add(canvas.path(d, "d-webline", stroke_width=4))
    sheet.add(canvas.line(edge, y - 48, edge, y + 8, "d-webedge"))
    sheet.verdict(420, y - 22, verdict, words)
    sheet.label(420, y + 4, note, anchor="start")


@drawing(
    "edge-rides-step",
    "The web edge and the step of the tape",
    "Three sections through the drive end of a taped roller. In the first, 110 mm of web lie on the tape: fits. "
    "In the second only 10 mm: refused, the edge rides the step. In the third the web ends before the tape: not "
    "touched, so the tape does nothing.",
)
def edge_rides_step(sheet: Sheet) -> float:
    sheet.label(26, 30, "towards the roller centre", "d-soft", anchor="start")
    sheet.label(390, 30, "drive end", "d-soft", anchor="end")
    _step_row(sheet, 104, 110, "fits", "110 mm on the tape", "at least 30 mm wanted,|50 mm or more is better")
    _step_row(sheet, 224, 10, "refused", "10 mm on the tape", "the edge rides the step:|it creases or tears")
    _step_row(sheet, 344, -100, "notice", "100 mm beside the tape", "not touched:|the tape does nothing")
    sheet.label(24, 412, "Heights drawn many times too large.", "d-soft", anchor="start")
    return 430


@drawing(
    "measure-points",
    "Where to measure after taping",
    "A taped roller from the front. Measure the build at both ends, at three places round the roller, and the "
    "distance of the inner and the outer edge of each band from the roller centre.",
)
def measure_points(sheet: Sheet) -> float:
    x1, x2, y, tall = 90.0, 630.0, 150.0, 84.0
    sheet.add(*shapes.face(x1, x2, y, tall))
    for a, b in ((x1 + 14, x1 + 104), (x2 - 104, x2 - 14)):
        sheet.add(*shapes.band(a, b, y, tall, 11, 3))
    sheet.add(canvas.line(360, 84, 360, 292, "d-centre"))
    for number, x in enumerate((x1 + 59, x2 - 59)):
        sheet.add(*shapes.pointer(x, 48, x, y - tall / 2 - 13))
        sheet.number(x, 34, str(number + 1))
        for place in (-24, 0, 24):
            sheet.add(canvas.circle(x, y + place, 5, "d-turnhead"))
    sheet.label(360, 40, "build, at 3 places|round the roller", "d-firm")
    for level, inset, words in ((240, 104, "inner edge"), (270, 14, "outer edge")):
        for end in (x1 + inset, x2 - inset):
            sheet.add(canvas.line(end, y + tall / 2 + 14, end, level + 5, "d-ext"), *shapes.level_dim(360, end, level))
            sheet.plate((360 + end) / 2, level, words)
    sheet.number(360, 240, "3")
    sheet.number(360, 270, "4")
    sheet.label(
        WIDTH / 2, 324, "1 and 2: build at the operator end and the drive end, nominal ± 10 %, the ends alike", "d-soft"
    )
    sheet.label(WIDTH / 2, 350, "within 0.02 mm or 10 %. 3 and 4: positions from the roller centre, ± 2 mm.", "d-soft")
    return 368


@drawing(
    "one-end-steers",
    "Tape at one end steers the web towards it",
    "Seen from above, the web runs up the sheet to a roller with tape at the operator end only. The whole web "
    "bends and moves towards the taped end. The shift is drawn many times too large.",
)
def one_end_steers(sheet: Sheet) -> float:
    x1, x2, top, foot = 130.0, 590.0, 92.0, 356.0
    sheet.add(*shapes.face(x1, x2, foot, 40), *shapes.face(x1, x2, top, 46))
    sheet.add(*shapes.band(x1 + 6, x1 + 92, top, 46, 9, 2))
    shift = -34.0
    for share in range(7):
        x = 210 + 300 * share / 6
        d = shapes.bent(x, shift, top, foot)
        sheet.add(canvas.path(d, "d-webline", stroke_width=3 if share in (0, 6) else 1.2))
    sheet.add(canvas.line(210, foot, 210, top, "d-webedge"), canvas.line(510, foot, 510, top, "d-webedge"))
    sheet.add(*shapes.pointer(176, 206, 132, 206))
    sheet.label(94, 244, "the web|moves to the|taped end", "d-firm")
    sheet.travel(644, 340, 220)
    sheet.label(130, 34, "operator end", "d-soft", anchor="start")
    sheet.label(590, 34, "drive end", "d-soft", anchor="end")
    sheet.label(360, 412, "Dashed: where the edges would run without tape. Shift drawn many times too large.", "d-soft")
    return 430
