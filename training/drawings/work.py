"""The work itself: lockout in order, restart in steps, pieces counted, residue, who holds what since which count."""

from plant.web.svg import canvas
from training.drawings import shapes
from training.drawings.sheet import Sheet, drawing


@drawing(
    "lockout-order",
    "Lockout in its order",
    "Seven steps in order: tell those concerned, stop the machine by its controls, switch off and isolate, put on"
    " your own lock and tag, release stored energy, try to start it, and only then work. The plant's own "
    "procedure says how.",
)
def lockout_order(sheet: Sheet) -> float:
    steps = (
        ("Tell everybody whom it concerns.", ""),
        ("Stop the machine by its own controls.", ""),
        ("Switch off and isolate every source of energy.", ""),
        ("Put on your own lock and tag.", "lock"),
        ("Release what is stored: tension, dancer, air, raised parts.", ""),
        ("Try to start it. Nothing may move.", "try"),
        ("Only now work with your hands.", ""),
    )
    for number, (words, sign) in enumerate(steps):
        y = 40 + number * 52
        if number:
            sheet.add(*shapes.pointer(50, y - 37, 50, y - 17))
        sheet.number(50, y, str(number + 1), 16)
        sheet.label(84, y + 6, words, "d-firm" if sign else "d-text", anchor="start", size=20)
        if sign == "lock":
            sheet.add(*shapes.padlock(668, y + 2, 38))
        if sign == "try":
            sheet.add(canvas.circle(668, y, 15, "d-outline"), canvas.circle(668, y, 9, "d-turnhead"))
    sheet.label(360, 410, "Your plant's lockout procedure and local law decide how each step is done.", "d-soft")
    return 428


@drawing(
    "restart-steps",
    "Restart in three steps, with a look at each",
    "Line speed against time in three steps: crawl at most 30 metres a minute for at least 2 minutes, half speed "
    "for at least 5 minutes, full speed for at least 30 minutes or one roll. At each step somebody looks and "
    "gives a grade. Worse by one grade: back off.",
)
def restart_steps(sheet: Sheet) -> float:
    left, foot = 64.0, 270.0
    sheet.add(canvas.line(left, foot, 690, foot, "d-axis"), canvas.line(left, foot, left, 50, "d-axis"))
    sheet.label(left, 40, "speed", "d-soft")
    sheet.label(676, 294, "time", "d-soft")
    levels = ((left, 190.0, 251.0), (190.0, 370.0, 182.0), (370.0, 690.0, 94.0))
    d = f"M{canvas.px(left)} {canvas.px(foot)}"
    for _, x2, y in levels:
        d += f"V{canvas.px(y)}H{canvas.px(x2)}"
    sheet.add(canvas.path(d, "d-curve", stroke_width=4))
    words = ("crawl|at least 2 min", "half speed|at least 5 min", "full speed|at least 30 min or one roll")
    for (x1, x2, y), what in zip(levels, words, strict=True):
        middle = (x1 + x2) / 2
        sheet.label(middle, y - 58, what, "d-firm")
        sheet.add(*shapes.eye(middle, y - 16, 30))
    sheet.add(canvas.line(190, 240, 190, 292, "d-ext"), canvas.line(370, 176, 370, 292, "d-ext"))
    sheet.label(127, 294, "30 m/min")
    sheet.label(280, 294, "140 m/min")
    sheet.label(520, 294, "280 m/min")
    sheet.label(
        360, 334, "Look and give a grade at each step. Worse by one grade: back off and tell the engineer.", "d-firm"
    )
    sheet.label(360, 360, "Speeds of product SF-17. Times are our defaults.", "d-soft")
    return 378


def _piece(sheet: Sheet, x: float, y: float, number: int, torn: bool = False) -> None:
    wide, tall = 136.0, 26.0
    if not torn:
        sheet.add(canvas.rect(x, y, wide, tall, "d-tape"))
    else:
        cut = x + wide * 0.55
        zig = f"l-6 {tall / 4:.1f}l8 {tall / 4:.1f}l-8 {tall / 4:.1f}l6 {tall / 4:.1f}"
        sheet.add(canvas.path(f"M{canvas.px(x)} {canvas.px(y)}H{canvas.px(cut)}{zig}H{canvas.px(x)}Z", "d-tape"))
        sheet.add(
            canvas.path(
                f"M{canvas.px(x + wide)} {canvas.px(y)}H{canvas.px(cut + 7)}{zig}H{canvas.px(x + wide)}Z", "d-tape"
            )
        )
    sheet.number(x + 20, y + tall / 2, str(number), 11)


@drawing(
    "pieces-counted",
    "Pieces laid out and counted",
    "Eight pieces of tape laid out in two rows, one row for each end of the roller, and numbered. Number 6 is "
    "torn: its two parts are laid together and count as one. Eight were on the roller, eight lie here.",
)
def pieces_counted(sheet: Sheet) -> float:
    sheet.label(20, 46, "operator end", "d-firm", anchor="start")
    sheet.label(20, 126, "drive end", "d-firm", anchor="start")
    for number in range(8):
        row, column = divmod(number, 4)
        _piece(sheet, 20 + column * 174, 58 + row * 80, number + 1, torn=number == 5)
    sheet.add(*shapes.pointer(330, 200, 274, 170))
    sheet.label(338, 206, "torn, laid together and complete: one piece", anchor="start")
    sheet.label(360, 250, "on the roller 8  =  removed 8", "d-loud", size=24)
    sheet.label(360, 284, "Count pieces, not metres. Two persons see them.", "d-soft")
    sheet.label(360, 310, "Then into the counted bag, with its label.", "d-soft")
    return 328


@drawing(
    "residue",
    "Residue where the tape was",
    "A roller from the front. Where the band lay at the left, dots and streaks of glue remain: not finished. At "
    "the right end the face is clean and dry: finished.",
)
def residue(sheet: Sheet) -> float:
    x1, x2, y, tall = 110.0, 610.0, 104.0, 92.0
    sheet.add(*shapes.face(x1, x2, y, tall))
    for a in (x1 + 14, x2 - 114):
        sheet.add(canvas.rect(a, y - tall / 2, 100, tall, "d-outline", stroke_dasharray="5 5"))
    for number in range(22):
        x, dy = x1 + 22 + (number * 37) % 84, -38 + (number * 53) % 76
        sheet.add(canvas.line(x, y + dy, x + 6 + number % 3 * 4, y + dy, "d-residue"))
    sheet.verdict(60, 200, "refused", "residue: not finished")
    sheet.label(60, 228, "marks the web, gathers dirt,|the next tape will not hold", anchor="start")
    sheet.verdict(440, 200, "fits", "clean and dry: finished")
    sheet.label(440, 228, "looked at with a lamp,|recorded as bare", anchor="start")
    return 268


@drawing(
    "hold-since-count",
    "What is held when a piece is missing",
    "A line of time on line C. At 22:10 the last count was right. At 00:00 the line stopped, at 00:30 a piece was"
    " missing. All seven full rolls and one part roll made after 22:10 are held.",
)
def hold_since_count(sheet: Sheet) -> float:
    left, right, y = 90.0, 600.0, 150.0
    sheet.add(canvas.line(40, y, 690, y, "d-axis"), canvas.arrow_head(700, y, 0, "d-solid", 14))
    for x, clock, words in (
        (left, "22:10", "last count|that was right"),
        (right - 66, "00:00", "line stops"),
        (660, "00:30", "3 of 4|pieces"),
    ):
        sheet.add(canvas.line(x, y - 12, x, y + 12, "d-axis"))
        sheet.label(x, y - 24, clock, "d-firm")
        sheet.label(x, y - 74 if "|" in words else y - 50, words)
    wide = (right - 66 - left) / 7.33
    for number in range(8):
        x = left + number * wide
        w = wide if number < 7 else wide * 0.33
        sheet.add(canvas.rect(x + 2, y + 26, w - 4, 54, "d-web"), canvas.rect(x + 2, y + 26, w - 4, 54, "d-outline"))
        if number < 7:
            sheet.add(canvas.text(x + wide / 2, y + 60, str(number + 1), "d-firm", 18, anchor="middle"))
    sheet.add(*shapes.level_dim(left, right - 66, y + 100))
    sheet.plate((left + right - 66) / 2, y + 100, "all of this is held: 11 000 m", "d-loud", 20)
    sheet.label(
        360, y + 146, "110 min × 100 m/min = 11 000 m. At 1500 m a roll: 7 full rolls and one part roll.", "d-soft"
    )
    sheet.label(360, y + 172, "Held from the last right count, not from the moment when somebody noticed.", "d-soft")
    return y + 190


@drawing(
    "count-adds-up",
    "A count that adds up",
    "Five boxes with pieces: issued is equal to on the roller plus removed plus scrap plus returned. Example: "
    "issued 10, on the roller 8, removed 0, scrap 1, returned 1.",
)
def count_adds_up(sheet: Sheet) -> float:
    boxes = (("issued", "10"), ("on the roller", "8"), ("removed", "0"), ("scrap", "1"), ("returned", "1"))
    signs = ("=", "+", "+", "+")
    for number, (words, count) in enumerate(boxes):
        x = 74 + number * 143
        sheet.add(canvas.rect(x - 50, 40, 100, 76, "d-plate"), canvas.rect(x - 50, 40, 100, 76, "d-outline"))
        sheet.add(canvas.text(x, 92, count, "d-loud", 36, anchor="middle"))
        sheet.label(x, 142, words)
        if number < 4:
            sheet.add(canvas.text(x + 71, 90, signs[number], "d-loud", 30, anchor="middle"))
    sheet.label(360, 184, "Pieces, exactly. When both sides differ, stop and call the supervisor or QA.", "d-soft")
    return 202
