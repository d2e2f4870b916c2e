"""The five grades of wrinkle, in our own pictures: a span seen from above that runs up onto a roller."""

import math

from plant.web.svg import canvas
from training.drawings.sheet import LETTER, Sheet, drawing, polyline

WORDS = {
    0: ("Grade 0: flat", "No trough, no crease.|This is worth recording too."),
    1: ("Grade 1: troughs in the span", "Soft waves in the span only.|Flat where it reaches the roller."),
    2: ("Grade 2: troughs reach the roller", "The waves run onto the roller,|but nothing folds."),
    3: ("Grade 3: a crease comes and goes", "Now and then a wave closes|to a sharp crease on the roller."),
    4: ("Grade 4: steady crease or fold", "The crease stays, the web folds|over, or it breaks."),
}


def _trough(x: float, y1: float, y2: float) -> canvas.SafeString:
    """A soft wave of the span: a long thin lens."""
    swing, middle = 7.0, (y1 + y2) / 2
    d = f"M{canvas.px(x)} {canvas.px(y1)}Q{canvas.px(x - swing)} {canvas.px(middle)} {canvas.px(x)} {canvas.px(y2)}"
    d += f"Q{canvas.px(x + swing)} {canvas.px(middle)} {canvas.px(x)} {canvas.px(y1)}Z"
    return canvas.path(d, "d-webedge", fill="none", stroke_dasharray="none")


def _crease(x: float, y1: float, y2: float, broken: bool) -> canvas.SafeString:
    """A sharp line across the roller; with gaps when it comes and goes."""
    points = [(x + 10 * math.sin(n / 3.2), y1 + (y2 - y1) * n / 20) for n in range(21)]
    return canvas.path(
        polyline(points),
        "d-outline",
        stroke_width=4,
        stroke_dasharray="16 12" if broken else None,
        stroke_linecap="round",
    )


def span_of_grade(sheet: Sheet, grade: int, x1: float, y1: float, wide: float, tall: float) -> None:
    """The picture of one grade in a box: the web runs up, the roller lies across its upper third."""
    x2, y2 = x1 + wide, y1 + tall
    roller, deep = y1 + tall * 0.3, tall * 0.24
    inset = wide * 0.1
    sheet.add(canvas.rect(x1, roller - deep / 2, wide, deep, "d-metal"))
    sheet.add(canvas.rect(x1 + inset, y1, wide - 2 * inset, tall, "d-web"))
    for x in (x1 + inset, x2 - inset):
        sheet.add(canvas.line(x, y1, x, y2, "d-webline"))
    reach = roller + deep / 2 + 8 if grade < 2 else roller - deep / 2 + 4
    if grade > 0:
        for share in (0.28, 0.4, 0.52, 0.64, 0.76):
            sheet.add(_trough(x1 + wide * share, reach, y2 - 6))
    if grade >= 3:
        sheet.add(_crease(x1 + wide * 0.52, roller - deep / 2 - 10, roller + deep / 2 + 24, broken=grade == 3))
    if grade == 4:
        x, top = x1 + wide * 0.52, roller - deep / 2 - 10
        d = f"M{canvas.px(x)} {canvas.px(top)}L{canvas.px(x - 15)} {canvas.px(y1 + 2)}H{canvas.px(x + 15)}Z"
        sheet.add(canvas.path(d, "d-wander"), canvas.path(d, "d-outline"))


def _one(grade: int) -> None:
    title, note = WORDS[grade]
    desc = {
        0: "A span of web seen from above that runs up onto a roller. It is flat everywhere.",
        1: "A span of web with soft waves in the span. They end before the roller.",
        2: "A span of web with soft waves that run onto the roller. There is no crease.",
        3: "A span of web with waves, and on the roller a sharp crease drawn with gaps: it comes and goes.",
        4: "A span of web with waves, a steady crease on the roller, and the web folded over behind it.",
    }[grade]

    @drawing(f"grade-{grade}", title, desc)
    def drawn(sheet: Sheet) -> float:
        span_of_grade(sheet, grade, 40, 24, 300, 230)
        sheet.label(380, 90, title.replace(": ", ":|"), "d-loud", anchor="start", size=22)
        sheet.label(380, 160, note, anchor="start")
        sheet.travel(380, 250, 210)
        return 276


for _grade in WORDS:
    _one(_grade)


@drawing(
    "grades",
    "Five grades of wrinkle",
    "Five spans side by side. Grade 0 flat. Grade 1 troughs in the span only. Grade 2 troughs reach the roller. "
    "Grade 3 a crease comes and goes on the roller. Grade 4 a steady crease, a fold or a break.",
)
def grades(sheet: Sheet) -> float:
    short = (
        "flat",
        "troughs|in the span",
        "troughs reach|the roller",
        "crease comes|and goes",
        "steady crease,|fold, break",
    )
    for grade, words in enumerate(short):
        x = 14 + grade * 140
        span_of_grade(sheet, grade, x, 44, 124, 200)
        sheet.number(x + 62, 24, str(grade))
        sheet.label(x + 62, 270, words, size=LETTER - 0.5)
    sheet.label(360, 330, "The web runs up the sheet. The grey bar is the roller.", "d-soft")
    return 348
