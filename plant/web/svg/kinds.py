"""Signs of our own for the kinds of rollers: what stands inside the circle, and what stands beside it."""

from django.utils.safestring import SafeString

from plant.web.svg import canvas

Parts = list[SafeString]

# Paths in a box from -7 to 7 around the axis; lines unless marked solid.
INSIDE: dict[str, tuple[str, str]] = {
    "idler": ("", ""),
    "driven": ("", "M-3.4-3.4h6.8v6.8h-6.8z"),
    "chill": ("M-6-2.6c2-2.6 4 2.6 6 0s4 2.6 6 0M-6 2.6c2-2.6 4 2.6 6 0s4 2.6 6 0", ""),
    "steering": ("M-6.5 0h13M-3.5-3-6.5 0l3 3M3.5-3l3 3-3 3", ""),
    "winder drum": ("M0 0c1-2 3.5-1 3.3 1.2C3 4-.5 5-2.8 3.3-6 1-5-4.5-1-5.8 3-7 7-3.5 6.5 1", ""),
    "unwind": ("M0 0c-1-2-3.5-1-3.3 1.2C-3 4 .5 5 2.8 3.3 6 1 5-4.5 1-5.8-3-7-7-3.5-6.5 1", ""),
    "embossing": ("M-6.5 2l2.2-4 2.2 4L.1-2l2.2 4 2.2-4 2.2 4", ""),
    "printing": ("", "M-5-5h4v4h-4zM1-5h4v4H1zM-5 1h4v4h-4zM1 1h4v4H1z"),
    "vacuum": ("M-5-5l3.4 3.4M5-5 1.6-1.6M-5 5l3.4-3.4M5 5 1.6 1.6", ""),
    "speed reference": ("M-4-4l4 4-4 4M1-4l4 4-4 4", ""),
    "bowed": ("M-6.5 3.5q6.5-9 13 0", ""),
}
SAME_AS = {"laminating nip": "idler", "nip": "idler", "coating": "idler", "load cell": "idler", "oven": "idler"}


def plain_kind(kind: str) -> str:
    """The kind as words: `load_cell` and `LOAD-CELL` are *load cell*."""
    return kind.replace("_", " ").replace("-", " ").strip().lower()


def beside_px(kind: str, r: float, sense: int) -> tuple[float, float]:
    """Room needed above and below the roller for what stands beside it."""
    web_side = {"nip": 1.2 * r + 5, "laminating nip": 1.2 * r + 5, "coating": 20.0, "oven": 13.0}
    far_side = {"load cell": 18.0, "oven": 13.0}
    near, far = web_side.get(plain_kind(kind), 0.0), far_side.get(plain_kind(kind), 0.0)
    return (near, far) if sense > 0 else (far, near)


def sign(kind: str, x: float, y: float, r: float, sense: int) -> Parts:
    """The sign of a kind on a roller of radius `r` at (x, y); `sense` +1 when the web runs over the top."""
    word = plain_kind(kind)
    beside = {"nip": _nip, "laminating nip": _nip, "coating": _blade, "load cell": _cell, "oven": _oven}.get(word)
    parts = beside(x, y, r, sense) if beside else []
    lines, solid = INSIDE.get(SAME_AS.get(word, word), ("", ""))
    scale = canvas.px(canvas.clip(r / 11, 0.9, 1.7))
    inner: Parts = []
    if lines:
        inner.append(canvas.path(lines, "d-sign"))
    if solid:
        inner.append(canvas.path(solid, "d-solid"))
    if not inner:
        inner.append(canvas.circle(0, 0, 1.8, "d-solid"))
    parts.append(canvas.group(inner, "", transform=f"translate({canvas.px(x)} {canvas.px(y)}) scale({scale})"))
    return parts


def _nip(x: float, y: float, r: float, sense: int) -> Parts:
    small = r * 0.6
    cy = y - sense * (r + small + 4)
    return [canvas.circle(x, cy, small, "d-metal"), canvas.circle(x, cy, 1.6, "d-solid")]


def _blade(x: float, y: float, r: float, sense: int) -> Parts:
    tip, back = y - sense * (r + 4), y - sense * (r + 20)
    points = f"M{canvas.px(x)} {canvas.px(tip)}L{canvas.px(x - 7)} {canvas.px(back)}h14z"
    return [canvas.path(points, "d-metal")]


def _cell(x: float, y: float, r: float, sense: int) -> Parts:
    tip, foot = y + sense * (r + 3), y + sense * (r + 15)
    shape = f"M{canvas.px(x)} {canvas.px(tip)}L{canvas.px(x - 10)} {canvas.px(foot)}h20z"
    return [
        canvas.path(shape, "d-metal"),
        canvas.line(x - 13, foot + sense * 3, x + 13, foot + sense * 3, "d-axis"),
    ]


def _oven(x: float, y: float, r: float, sense: int) -> Parts:
    half = r + 13
    return [canvas.rect(x - half, y - half, 2 * half, 2 * half, "d-oven")]
