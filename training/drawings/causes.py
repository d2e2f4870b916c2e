"""Causes: walking upstream, a crooked roller, a baggy lane, a bowed roller, rollers that are never taped."""

import math

from plant.web.svg import canvas, kinds
from training.drawings import shapes
from training.drawings.sheet import Sheet, drawing, polyline


@drawing(
    "walk-upstream",
    "Walk upstream until the wrinkle is gone",
    "Six rollers from the side, 6 to 11, the web runs from left to right. Rollers 6 and 7 are flat. Roller 8 is "
    "the first with grade 2, then grades 3, 3 and 4. Roller 8 and the span from 7 to 8 are the suspects.",
)
def walk_upstream(sheet: Sheet) -> float:
    seats = [(70 + 116 * n, 150 if n % 2 == 0 else 210) for n in range(6)]
    grades = (0, 0, 2, 3, 3, 4)
    r = 26.0
    sheet.add(canvas.rect(seats[1][0] + 12, 92, seats[2][0] - seats[1][0] + 28, 176, "d-web"))
    web = []
    for number, (x, y) in enumerate(seats):
        over = number % 2 == 0
        web.append((x, y - r + 8 if over else y + r - 8))
    sheet.add(canvas.path(polyline([(8, 190), *web, (712, 180)]), "d-webline", stroke_width=3.5))
    for number, (x, y) in enumerate(seats):
        sheet.add(*shapes.disc(x, y, r, axis=False))
        sheet.add(canvas.text(x, y + 7, str(6 + number), "d-loud", 20, anchor="middle"))
        sheet.label(x, 302, f"grade {grades[number]}", "d-firm")
    x, y = seats[2]
    sheet.add(canvas.circle(x, y, r + 7, "d-here", stroke_width=4))
    sheet.label((seats[1][0] + x) / 2 + 14, 76, "suspects: roller 8 and the span into it", "d-loud")
    sheet.add(canvas.line(650, 344, 130, 344, "d-turn"), canvas.arrow_head(116, 344, math.pi, "d-turnhead", 18))
    sheet.plate(400, 344, "you walk this way", "d-firm")
    sheet.add(canvas.line(40, 30, 150, 30, "d-webline"), canvas.arrow_head(164, 30, 0, "d-webhead", 16))
    sheet.label(176, 36, "the web runs this way", anchor="start")
    return 370


@drawing(
    "crooked-roller",
    "A crooked roller makes diagonal wrinkles",
    "Seen from above, the web runs up the sheet to a roller that is not square to the line. Diagonal wrinkles "
    "cross the web, all leaning the same way.",
)
def crooked_roller(sheet: Sheet) -> float:
    x1, x2, top, foot = 120.0, 600.0, 104.0, 356.0
    sheet.add(*shapes.face(x1, x2, foot, 40))
    for x in (170.0, 550.0):
        sheet.add(canvas.path(shapes.bent(x, 12, top, foot), "d-webline", stroke_width=3.5))
    turned = shapes.face(x1, x2, top, 44)
    sheet.add(canvas.group(turned, "", transform=f"rotate(5 360 {canvas.px(top)})"))
    sheet.add(canvas.line(120, top, 600, top, "d-centre"))
    for x in range(190, 480, 48):
        d = f"M{x} 330Q{x + 8} 240 {x + 66} 160"
        sheet.add(canvas.path(d, "d-outline", stroke_width=2))
    sheet.label(64, 76, "out of|line", "d-firm")
    sheet.label(660, 84, "square|to the line", "d-soft")
    sheet.travel(640, 340, 230)
    sheet.label(360, 408, "All lean the same way, with every product. Align the roller first.", "d-firm")
    sheet.label(360, 434, "Caution above 0.10, fails above 0.17 mm per metre of face. Drawn far too large.", "d-soft")
    return 452


@drawing(
    "baggy-lane",
    "A baggy lane stays in its lane",
    "Seen from above, a web runs over three rollers. Ridges lie in one lane and stay in that lane at every "
    "roller. They come with the parent roll.",
)
def baggy_lane(sheet: Sheet) -> float:
    x1, x2 = 150.0, 560.0
    for y in (80, 210, 340):
        sheet.add(*shapes.face(110, 600, y, 34))
    sheet.add(*shapes.web(x1, x2, 30, 390))
    sheet.add(canvas.rect(390, 30, 76, 360, "d-wander"))
    for x in (404, 420, 436, 452):
        points = [(x + 3 * math.sin(n * 0.8 + x), 34 + 352 * n / 40) for n in range(41)]
        sheet.add(canvas.path(polyline(points), "d-outline", stroke_width=1.8))
    sheet.add(*shapes.pointer(612, 144, 474, 144))
    sheet.label(618, 136, "same lane|at every|roller", "d-firm", anchor="start")
    sheet.travel(36, 316, 236)
    sheet.label(
        360,
        426,
        "The lane is longer than its neighbours. The fault is in the web: change the parent roll and look.",
        "d-soft",
        size=17,
    )
    return 444


@drawing(
    "bowed-roller",
    "A roller that bends under tension",
    "A roller from the front that sags in the middle under the pull of the web. Ridges run along the web in its "
    "centre and get worse when the tension goes up.",
)
def bowed_roller(sheet: Sheet) -> float:
    d = "M130 110Q360 176 590 110V154Q360 220 130 154Z"
    sheet.add(*shapes.web(190, 530, 40, 300))
    sheet.add(canvas.rect(110, 124, 20, 16, "d-metal"), canvas.rect(590, 124, 20, 16, "d-metal"))
    sheet.add(canvas.path(d, "d-metal"), canvas.line(130, 132, 590, 132, "d-centre"))
    for x in (316, 334, 352, 370, 388, 406):
        sheet.add(canvas.line(x, 206, x, 296, "d-outline", stroke_width=1.8))
    sheet.add(*shapes.pointer(640, 200, 560, 164))
    sheet.label(628, 222, "sag, drawn|far too large", size=17)
    sheet.travel(74, 296, 206)
    sheet.label(360, 336, "Ridges in the centre that get worse with more tension.", "d-firm")
    sheet.label(360, 362, "Caution above 0.10, fails above 0.17 mm of sag per metre of face.", "d-soft")
    return 380


@drawing(
    "never-taped",
    "Rollers that are not taped by default",
    "Nine signs of rollers that stay without tape: nip, coating, printing, chill, steering, driven, load cell, "
    "winder drum, and bowed.",
)
def never_taped(sheet: Sheet) -> float:
    shown = (
        ("nip", "nip"),
        ("coating", "coating"),
        ("printing", "printing"),
        ("chill", "chill"),
        ("steering", "steering"),
        ("driven", "driven"),
        ("load cell", "load cell"),
        ("winder drum", "winder drum"),
        ("bowed", "bowed"),
    )
    for number, (kind, words) in enumerate(shown):
        row, column = divmod(number, 5)
        x, y = 80 + column * 140 + row * 70, 104 + row * 150
        sheet.add(*shapes.disc(x, y, 26, axis=False), *kinds.sign(kind, x, y, 26, 1))
        sheet.label(x, y + 68, words)
    sheet.verdict(96, 30, "refused", "Not these. Also not: oven, vacuum, speed reference, embossing.")
    return 340
