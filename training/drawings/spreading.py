"""How taped ends work: half-webs bend outward, edges against centre, slip and air, step and radius, slack centre."""

import math

from plant.web.svg import canvas
from training.drawings import shapes
from training.drawings.sheet import Sheet, drawing, polyline


def _span(sheet: Sheet, bands: bool = True) -> tuple[float, float]:
    """A bare roller below, a taped one above; the web runs up. Answers where they are."""
    x1, x2, top, foot = 120.0, 600.0, 92.0, 356.0
    sheet.add(*shapes.face(x1, x2, foot, 40), *shapes.face(x1, x2, top, 46))
    if bands:
        sheet.add(*shapes.band(x1 + 8, x1 + 104, top, 46, 9, 2), *shapes.band(x2 - 104, x2 - 8, top, 46, 9, 2))
    sheet.label(x1, 34, "operator end", "d-soft", anchor="start")
    sheet.label(x2, 34, "drive end", "d-soft", anchor="end")
    return top, foot


@drawing(
    "ends-spread",
    "How taped ends spread the web",
    "Seen from above, the web runs up the sheet to a roller with tape at both ends. It is drawn slit along the "
    "middle to show what happens: the larger ends pull the edges faster, each half bends outward, and a gap opens"
    " between the halves.",
)
def ends_spread(sheet: Sheet) -> float:
    top, foot = _span(sheet)
    for side in (-1, 1):
        outer = 360 + side * 170
        shift = side * 24.0
        inside = shapes.bent(360, shift, top, foot)
        sheet.add(canvas.path(shapes.bent(outer, shift, top, foot), "d-webline", stroke_width=3.5))
        sheet.add(canvas.path(inside, "d-webline", stroke_width=3.5))
        for share in (1, 2, 3):
            sheet.add(
                canvas.path(shapes.bent(360 + side * 170 * share / 4, shift, top, foot), "d-webline", stroke_width=1.1)
            )
        x = 360 + side * 200
        sheet.add(*shapes.pointer(x + side * 4, 190, x + side * 40, 190))
    sheet.plate(360, 190, "gap")
    sheet.label(66, 144, "faster|ends", "d-firm")
    sheet.label(654, 144, "faster|ends", "d-firm")
    sheet.travel(636, 340, 230)
    sheet.label(
        360, 410, "Drawn as if the web were slit along the middle. A whole web is pulled flat instead.", "d-soft"
    )
    sheet.label(360, 434, "Bending drawn many times too large.", "d-soft")
    return 452


@drawing(
    "gathers",
    "A web that slips gathers",
    "Seen from above, the web slides on a roller with tape at both ends. Nothing pulls the edges faster. The "
    "halves drift towards the smaller diameter in the middle, and folds appear there.",
)
def gathers(sheet: Sheet) -> float:
    top, foot = _span(sheet)
    for side in (-1, 1):
        for share in (1, 2, 3, 4):
            thick = 3.5 if share == 4 else 1.1
            sheet.add(
                canvas.path(
                    shapes.bent(360 + side * 170 * share / 4, -side * 18, top, foot), "d-webline", stroke_width=thick
                )
            )
        x = 360 + side * 214
        sheet.add(*shapes.pointer(x, 190, x - side * 36, 190))
    for x in (336, 350, 364, 378):
        sheet.add(_wavy(x, 78, 300))
    sheet.travel(636, 340, 230)
    sheet.label(66, 144, "no grip", "d-firm")
    sheet.label(654, 144, "no grip", "d-firm")
    sheet.label(
        360, 410, "Without grip the web slides towards the small diameter: the effect is turned round.", "d-soft"
    )
    return 428


def _wavy(x: float, y1: float, y2: float, swing: float = 4.0) -> canvas.SafeString:
    count = 24
    points = [(x + swing * math.sin(n * 0.9), y1 + (y2 - y1) * n / count) for n in range(count + 1)]
    return canvas.path(polyline(points), "d-outline", stroke_width=1.4)


@drawing(
    "slack-centre",
    "Too much tape: the centre goes slack",
    "Seen from above, the web runs up the sheet to a roller with too much tape. Only the strips on the tape still"
    " pull. The centre has no tension, lies in puckers and folds.",
)
def slack_centre(sheet: Sheet) -> float:
    top, foot = _span(sheet)
    sheet.add(*shapes.web(190, 530, top, foot))
    for x in (190, 206, 222, 498, 514, 530):
        sheet.add(canvas.line(x, top, x, foot, "d-outline", stroke_width=3))
    for number, x in enumerate(range(262, 470, 26)):
        sheet.add(_wavy(x, top + 14 + 12 * (number % 2), foot - 30, 6))
    sheet.plate(360, 232, "slack centre", "d-loud", 20)
    sheet.label(66, 190, "tight", "d-firm")
    sheet.label(654, 190, "tight", "d-firm")
    sheet.add(*shapes.pointer(94, 184, 186, 184), *shapes.pointer(626, 184, 534, 184))
    sheet.travel(636, 350, 250)
    sheet.label(360, 410, "The strips on the tape carry everything. Take tape off, or ask the engineer.", "d-soft")
    return 428


def _across(fast: float, low: float, high: float) -> float:
    return 300 - (fast - low) / (high - low) * 220


@drawing(
    "stretch-across",
    "How much the web is stretched, across its width",
    "Stretch across the web SF-17 on roller A05 with four wraps. Without tape it is 2.45 percent everywhere. With"
    " tape the centre has 2.26 percent and the strips on the tape 3.20 percent. The mean stays 2.45 percent.",
)
def stretch_across(sheet: Sheet) -> float:
    left, right, low, high = 110.0, 650.0, 1.5, 3.5

    def x(mm: float) -> float:
        return left + (mm + 750) / 1500 * (right - left)

    sheet.add(canvas.line(left, 300, right, 300, "d-axis"), canvas.line(left, 300, left, 70, "d-axis"))
    for value in (2.0, 2.5, 3.0):
        y = _across(value, low, high)
        sheet.add(canvas.line(left - 6, y, left, y, "d-axis"))
        sheet.label(left - 12, y + 6, f"{value:.1f} %", anchor="end")
    bare = _across(2.451, low, high)
    sheet.add(canvas.line(left, bare, right, bare, "d-outline", stroke_dasharray="7 4"))
    edge, centre = _across(3.197, low, high), _across(2.264, low, high)
    for side in (-1, 1):
        a, b = sorted((x(side * 750), x(side * 600)))
        sheet.add(canvas.rect(a, 300, b - a, 12, "d-tape"))
    corners = ((left, edge), (x(-600), edge), (x(-600), centre), (x(600), centre), (x(600), edge), (right, edge))
    d = polyline(corners)
    sheet.add(canvas.path(d, "d-curve", stroke_width=3.5))
    sheet.label(380, bare - 14, "without tape 2.45 % everywhere")
    sheet.label(380, centre + 26, "with tape: centre 2.26 %", "d-firm")
    sheet.label(x(-580), edge + 6, "on the tape 3.20 %", "d-firm", anchor="start")
    sheet.label(left, 52, "stretch", "d-soft")
    sheet.label(left, 340, "operator edge", "d-soft", anchor="start")
    sheet.label(right, 340, "drive edge", "d-soft", anchor="end")
    sheet.label(380, 340, "tape")
    sheet.add(*shapes.pointer(354, 332, x(-600) + 6, 314), *shapes.pointer(406, 332, x(600) - 6, 314))
    sheet.label(360, 372, "SF-17 on roller A05, 4 wraps. Edge ratio 3.20 ÷ 2.45 = 1.3", "d-soft")
    return 390


@drawing(
    "step-and-radius",
    "The same tape on a large and on a small roller",
    "Two ends of rollers with the same layer of tape, 0.09 mm thick. On a radius of 100 mm the step is 0.09 "
    "percent. On a radius of 40 mm it is 0.225 percent, two and a half times as much.",
)
def step_and_radius(sheet: Sheet) -> float:
    foot = 262.0
    for cx, r, radius in ((210.0, 100.0, "radius 100 mm"), (520.0, 40.0, "radius 40 mm")):
        cy = foot - r
        sheet.add(canvas.circle(cx, cy, r + 9, "d-tape"), *shapes.disc(cx, cy, r))
        sheet.add(*shapes.pointer(cx, cy, cx + r * 0.7071, cy - r * 0.7071))
        sheet.label(cx, 300, radius)
    sheet.label(210, 330, "0.09 ÷ 100 = 0.09 %", "d-loud", size=20)
    sheet.label(520, 330, "0.09 ÷ 40 = 0.225 %", "d-loud", size=20)
    sheet.label(365, 36, "one layer of 0.09 mm", "d-firm")
    sheet.add(*shapes.pointer(340, 46, 288, 88), *shapes.pointer(420, 46, 498, 176))
    sheet.label(360, 364, "Step = wraps × tape thickness ÷ radius. The small roller gets 2.5 times the step.", "d-soft")
    return 382


def _film(sheet: Sheet, x1: float, gap: float, verdict: str, words: str, note: str) -> None:
    """A strongly enlarged bit of surface with a web over it, `gap` px above the mean line."""
    wide, base = 200.0, 180.0
    points = [(x1 + wide * n / 40, base - 10 * math.sin(n * 1.7) * math.cos(n * 0.61)) for n in range(41)]
    d = polyline(points) + f"L{canvas.px(x1 + wide)} {canvas.px(base + 34)}L{canvas.px(x1)} {canvas.px(base + 34)}Z"
    web = base - 12 - gap
    if gap:
        sheet.add(canvas.rect(x1, web + 3, wide, base - web - 3, "d-web"))
    sheet.add(canvas.path(d, "d-metal"), canvas.line(x1, web, x1 + wide, web, "d-webline", stroke_width=6))
    sheet.verdict(x1 + 8, 252, verdict, words)
    sheet.label(x1 + wide / 2, 282, note)


@drawing(
    "air-film",
    "Air between web and roller",
    "Three strongly enlarged bits of a roller surface with a web over it. Left: the web lies on the peaks of the "
    "surface and grips. Middle: a film of air lifts it partly. Right: the film is three times the roughness, the "
    "web floats and grips nothing.",
)
def air_film(sheet: Sheet) -> float:
    sheet.label(130, 60, "slow", "d-firm")
    sheet.label(360, 60, "faster", "d-firm")
    sheet.label(590, 60, "too fast", "d-firm")
    _film(sheet, 30, 0, "fits", "full grip", "film up to 1 ×|the roughness")
    _film(sheet, 260, 20, "caution", "part of the grip", "film between|1 × and 3 ×")
    _film(sheet, 490, 56, "refused", "floats: no grip", "film from 3 ×|the roughness on")
    sheet.label(360, 346, "Web above, roller or tape below, enlarged a thousand times and more.", "d-soft")
    return 364
