"""Running direction and the tail: which way it turns, how tape lies on it, what turning a body round does."""

import math

from plant.web.svg import canvas
from training.drawings import shapes
from training.drawings.sheet import RIGHT, WRONG, Sheet, drawing


def _taped_end(sheet: Sheet, cx: float, cy: float, r: float, trails: bool) -> None:
    """A roller that turns clockwise under a web, with a tail at its lower right that trails or leads."""
    sheet.add(*shapes.disc(cx, cy, r))
    at = math.radians(52)
    way = -1.0 if trails else 1.0
    # The outermost layer ends at `at`: wound on behind the travel it trails, in front of it it leads.
    sheet.add(*shapes.spiral(cx, cy, r, at - way * math.pi * 2 * 0.96, 0.96 * way, 0, 9))
    sheet.add(*_free_tail(cx, cy, r + 4.5, at, way))
    sheet.add(shapes.web_over(cx, cy, r + 12, 120, 95))
    sheet.add(*shapes.turn_arrow(cx, cy, r * 0.62))


def _free_tail(cx: float, cy: float, r: float, at: float, way: float) -> shapes.Parts:
    """The last bit of tape, drawn lifted off the roller so that one sees which way it points."""
    x, y = cx + r * math.cos(at), cy + r * math.sin(at)
    tx, ty = -math.sin(at) * way, math.cos(at) * way
    out = 0.42
    x2, y2 = x + 40 * (tx + out * math.cos(at)), y + 40 * (ty + out * math.sin(at))
    return shapes.strip(f"M{canvas.px(x)} {canvas.px(y)}L{canvas.px(x2)} {canvas.px(y2)}", 9)


@drawing(
    "running-direction",
    "Running direction, seen from the operator side",
    "The end of a roller seen from the operator side. The web comes from the left, runs over the top and leaves "
    "to the right. So the roller turns clockwise. An arrow inside the roller shows it.",
)
def running_direction(sheet: Sheet) -> float:
    cx, cy, r = 360.0, 200.0, 92.0
    sheet.add(*shapes.disc(cx, cy, r), shapes.web_over(cx, cy, r + 3, 120, 150))
    sheet.add(*shapes.turn_arrow(cx, cy, r * 0.62))
    sheet.add(*shapes.pointer(120, 120, 176, 92), *shapes.pointer(546, 92, 600, 120))
    sheet.label(110, 90, "web comes in")
    sheet.label(622, 90, "web goes out")
    sheet.label(cx, 328, "The top of the roller moves with the web: it turns clockwise.", "d-firm")
    sheet.label(cx, 354, "You stand on the operator side and look at the end of the roller.", "d-soft")
    return 374


@drawing(
    "tail-trailing",
    "The tail trails: right",
    "The end of a taped roller that turns clockwise. The free end of the tape points back, against the direction "
    "in which the surface moves. The web presses it down with every turn.",
)
def tail_trailing(sheet: Sheet) -> float:
    _taped_end(sheet, 240, 190, 92, trails=True)
    sheet.add(*shapes.pointer(440, 262, 352, 258))
    sheet.verdict(448, 90, RIGHT, "The tail trails.")
    sheet.label(448, 122, "It points back, against the way|the surface moves. The web|presses it down.", anchor="start")
    sheet.label(448, 268, "free end of the tape", anchor="start")
    sheet.label(240, 334, "turns clockwise, seen from the operator side", "d-soft")
    return 354


@drawing(
    "tail-leading",
    "The tail leads: wrong",
    "The end of a taped roller that turns clockwise. The free end of the tape points forward, the way the surface"
    " moves. The web catches it, lifts it and peels the tape.",
)
def tail_leading(sheet: Sheet) -> float:
    _taped_end(sheet, 240, 190, 92, trails=False)
    sheet.add(*shapes.pointer(440, 300, 300, 297))
    sheet.verdict(448, 90, WRONG, "The tail leads.")
    sheet.label(448, 122, "It points forward, the way the|surface moves. The web|catches and lifts it.", anchor="start")
    sheet.label(448, 306, "free end of the tape", anchor="start")
    sheet.label(240, 334, "turns clockwise, seen from the operator side", "d-soft")
    return 354


@drawing(
    "winding-on",
    "Winding tape on so that the tail trails",
    "Under lockout the roller is turned by hand in its running direction, here clockwise. The tape comes from a "
    "reel at the left and runs onto the top of the roller. Its last end comes to lie behind, so it trails.",
)
def winding_on(sheet: Sheet) -> float:
    cx, cy, r = 400.0, 210.0, 92.0
    sheet.add(*shapes.disc(cx, cy, r))
    sheet.add(*shapes.spiral(cx, cy, r, math.radians(-90), 0.66, 0, 9))
    reel_x, reel_y = 150.0, 148.0
    sheet.add(
        *shapes.strip(f"M{canvas.px(reel_x)} {canvas.px(cy - r - 4.5)}L{canvas.px(cx)} {canvas.px(cy - r - 4.5)}", 9)
    )
    sheet.add(canvas.circle(reel_x, reel_y, 39, "d-tape"), canvas.circle(reel_x, reel_y, 20, "d-metal"))
    sheet.add(*shapes.turn_arrow(cx, cy, r * 0.62))
    sheet.add(*shapes.padlock(610, 110, 56))
    sheet.label(610, 172, "locked out,|turned by hand", "d-firm")
    sheet.label(reel_x, 214, "reel")
    sheet.label(268, 96, "pay the tape on")
    sheet.label(
        cx, 340, "Turn the roller in its running direction. The last end then lies behind: it trails.", "d-firm"
    )
    return 362


def _body(sheet: Sheet, y: float, tape_left: bool, mark_left: bool) -> None:
    x1, x2, tall = 150.0, 470.0, 62.0
    sheet.add(*shapes.face(x1, x2, y, tall))
    a, b = (x1 + 8, x1 + 78) if tape_left else (x2 - 78, x2 - 8)
    sheet.add(*shapes.band(a, b, y, tall, 9, 3))
    x = x1 - 10 if mark_left else x2 + 10
    sheet.add(canvas.circle(x, y, 7, "d-turnhead"))


@drawing(
    "flipped-body",
    "A roller turned end for end",
    "Above, a roller with tape at the operator end only, its drive-end mark at the right. Below, the same roller "
    "put back turned end for end: the tape is now at the drive end, the mark at the operator end, and the tail "
    "leads.",
)
def flipped_body(sheet: Sheet) -> float:
    sheet.label(150, 26, "operator end", "d-soft", anchor="start")
    sheet.label(470, 26, "drive end", "d-soft", anchor="end")
    _body(sheet, 90, tape_left=True, mark_left=False)
    sheet.verdict(520, 84, RIGHT, "As taped")
    sheet.label(520, 112, "tail trails", anchor="start")
    sheet.add(*shapes.turn_arrow(310, 190, 30, degrees=200))
    sheet.label(356, 190, "turned end for end", anchor="start")
    _body(sheet, 280, tape_left=False, mark_left=True)
    sheet.verdict(520, 268, WRONG, "Do not run")
    sheet.label(520, 296, "tail leads,|tape at the wrong end", anchor="start")
    sheet.add(canvas.circle(160, 352, 7, "d-turnhead"))
    sheet.label(176, 358, "mark of the drive end, punched into the body", "d-soft", anchor="start")
    return 378
