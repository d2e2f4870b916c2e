"""The five grades of a wrinkle and the ways it lies, as small drawings of our own: the web comes down onto a roller.

Operator end at the left, drive end at the right, as in every drawing; the web runs downwards.
"""

from django.utils.safestring import SafeString

from plant.web.svg import canvas

WIDE, TALL = 132.0, 92.0
_EDGES = (18.0, 114.0)
_NIP = 66.0
_WORDS = (
    "flat web",
    "troughs in the span, gone before the roller",
    "troughs that reach the roller",
    "a crease over the roller that comes and goes",
    "a steady crease over the roller, folded over",
)
_WAYS = {
    "md": "along the web",
    "toward-drive": "diagonal, running toward the drive end",
    "toward-operator": "diagonal, running toward the operator end",
    "random": "no fixed direction",
}


def _web() -> list[SafeString]:
    left, right = _EDGES
    return [
        canvas.rect(left, 4, right - left, _NIP + 8, "d-web"),
        canvas.line(left, 4, left, _NIP + 2, "d-webedge"),
        canvas.line(right, 4, right, _NIP + 2, "d-webedge"),
        canvas.rect(6, _NIP, WIDE - 12, 20, "d-metal", rx=3.0),
    ]


def _troughs(until: float) -> list[SafeString]:
    parts = []
    for number in range(5):
        x = 34.0 + 16 * number
        sway = f"M{canvas.px(x)} 8C{canvas.px(x + 5)} 24 {canvas.px(x - 5)} 40 {canvas.px(x)} {canvas.px(until)}"
        parts.append(canvas.path(sway, "d-webline"))
    return parts


def _crease(steady: bool) -> list[SafeString]:
    dash = None if steady else "9 6"
    parts = [canvas.path(f"M66 20L66 {canvas.px(_NIP + 20)}", "d-tail tone-refused", stroke_dasharray=dash)]
    if steady:
        parts.append(
            canvas.path(f"M66 30L80 {canvas.px(_NIP)}L80 {canvas.px(_NIP + 20)}L66 {canvas.px(_NIP + 20)}Z", "d-tape")
        )
    return parts


def grade_drawing(grade: int, key: str = "") -> SafeString:
    """What a grade looks like."""
    body = _web()
    if grade == 1:
        body += _troughs(46)
    elif grade >= 2:
        body += _troughs(_NIP)
    if grade >= 3:
        body += _crease(grade >= 4)
    return _small(body, f"Grade {grade}", _WORDS[grade], key or f"grade-{grade}")


def direction_drawing(way: str, key: str = "") -> SafeString:
    """How a wrinkle lies, followed in the direction of travel."""
    body = _web()
    tracks = {
        "md": ["M66 10L66 64"],
        "toward-drive": ["M36 10L92 62"],
        "toward-operator": ["M96 10L40 62"],
        "random": ["M34 14L58 38", "M96 16L76 44", "M54 60L60 40", "M84 60L104 40"],
    }[way]
    body += [canvas.path(track, "d-tail") for track in tracks]
    return _small(body, _WAYS[way].capitalize(), _WAYS[way], key or f"way-{way}")


def _small(body: list[SafeString], title: str, words: str, key: str) -> SafeString:
    return canvas.svg(
        body, width=WIDE, height=TALL, title=title, desc=words, css="drawing--small", key=canvas.key_of(key)
    )
