"""Evidence: a ratio with its interval, and how wraps follow from what the web can take."""

import math

from plant.web.svg import canvas
from training.drawings import shapes
from training.drawings.sheet import Sheet, drawing


def _at(ratio: float) -> float:
    """Place of a ratio on a scale that gives every doubling the same room."""
    return 120 + (math.log(ratio) - math.log(0.05)) / (math.log(5) - math.log(0.05)) * 560


@drawing(
    "before-and-after",
    "Better, or not enough evidence",
    "Two rate ratios with their 95 percent intervals on a scale with 1 marked as no change. Wrinkles 0.18, from "
    "0.08 to 0.37, wholly below 1: better. Breaks 0.55, from 0.09 to 2.8, on both sides of 1: not enough "
    "evidence.",
)
def before_and_after(sheet: Sheet) -> float:
    foot = 232.0
    sheet.add(canvas.line(120, foot, 680, foot, "d-axis"))
    for ratio in (0.05, 0.1, 0.2, 0.5, 1, 2, 5):
        sheet.add(canvas.line(_at(ratio), foot, _at(ratio), foot + 7, "d-axis"))
        sheet.add(canvas.text(_at(ratio), foot + 28, f"{ratio:g}", "d-text", 18, anchor="middle"))
    sheet.add(canvas.line(_at(1), 44, _at(1), foot, "d-outline", stroke_dasharray="7 4"))
    sheet.label(_at(1), 34, "1 = no change")
    rows = ((90, "wrinkles", 0.08, 0.18, 0.37), (176, "breaks", 0.09, 0.55, 2.8))
    for y, words, low, middle, high in rows:
        sheet.label(108, y + 6, words, "d-firm", anchor="end")
        sheet.add(canvas.line(_at(low), y, _at(high), y, "d-range", stroke_width=5))
        for end in (low, high):
            sheet.add(canvas.line(_at(end), y - 10, _at(end), y + 10, "d-range", stroke_width=3))
        sheet.add(canvas.circle(_at(middle), y, 9, "d-turnhead"))
    sheet.label(_at(0.18), 66, "better", "d-loud", size=20)
    sheet.label(_at(0.3), 152, "not enough evidence", "d-loud", size=20)
    sheet.label(360, 296, "Events per metre or hour after, divided by before, with the 95 % interval.", "d-soft")
    return 316


@drawing(
    "wraps-and-ratio",
    "One wrap on four webs",
    "Bars of the edge ratio that one wrap of tape gives on one roller: unsintered PTFE 1.36, BOPP film 1.24, "
    "pouch laminate 1.56, coated paper 2.40. The target lies from 1.2 to 1.4, caution above 1.6, refused above "
    "2.0.",
)
def wraps_and_ratio(sheet: Sheet) -> float:
    left, scale = 180.0, 282.0

    def x(ratio: float) -> float:
        return left + (ratio - 1) * scale

    sheet.add(canvas.rect(x(1.2), 46, x(1.4) - x(1.2), 222, "d-web"))
    sheet.label(x(1.3), 36, "target")
    for ratio, words in ((1.6, "caution"), (2.0, "refused")):
        sheet.add(canvas.line(x(ratio), 46, x(ratio), 268, "d-outline", stroke_dasharray="7 4"))
        sheet.label(x(ratio), 36, words)
    rows = (
        ("BO-20 film", 1.24, "fits"),
        ("PT-100 PTFE", 1.36, "fits"),
        ("ML-62 pouch", 1.56, "fits"),
        ("CP-70 paper", 2.40, "refused"),
    )
    for number, (words, ratio, verdict) in enumerate(rows):
        y = 62 + number * 52
        sheet.label(left - 10, y + 22, words, "d-firm", anchor="end")
        sheet.add(canvas.rect(left, y, x(ratio) - left, 30, "d-tape"))
        sheet.verdict(616, y + 22, verdict, f"{ratio:.2f}")
    sheet.add(canvas.line(left, 46, left, 268, "d-axis"))
    for ratio in (1.0, 1.2, 1.4, 1.6, 2.0):
        sheet.add(canvas.text(x(ratio), 292, f"{ratio:.1f}", "d-text", 18, anchor="middle"))
    sheet.label(360, 322, "Edge ratio with one wrap of T5 on each product's own roller; CP-70 on B09.", "d-soft")
    return 340


@drawing(
    "joint-marking",
    "Two assessors mark the same work",
    "Two persons judge the same fifteen steps. They agree on fourteen. Agreement is fourteen of fifteen, 93 percent.",
)
def joint_marking(sheet: Sheet) -> float:
    for row, who in enumerate(("assessor 1", "assessor 2")):
        y = 62 + row * 60
        sheet.label(118, y + 24, who, "d-firm", anchor="end")
        for step in range(15):
            x = 132 + step * 38
            differs = step == 9
            sheet.add(canvas.rect(x, y, 32, 34, "d-tape" if not (differs and row) else "d-plate"))
            sheet.add(canvas.rect(x, y, 32, 34, "d-outline"))
            sheet.add(canvas.text(x + 16, y + 24, "✓" if not (differs and row) else "?", "d-loud", 20, anchor="middle"))
    for step in range(15):
        sheet.add(canvas.text(148 + step * 38, 48, str(step + 1), "d-soft", 18, anchor="middle"))
    sheet.add(*shapes.pointer(490, 204, 490, 164))
    sheet.label(490, 226, "not seen", "d-firm")
    sheet.label(360, 262, "They agree on 14 of 15 steps: 93 %. At least 90 % is wanted.", "d-soft")
    return 280
