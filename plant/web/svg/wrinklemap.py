"""Where and when wrinkles were seen: rollers along the path, three lanes across each, days downwards.

A look that found nothing is a small open ring: without it an empty place could also mean that nobody looked.
"""

from dataclasses import dataclass

from django.utils.safestring import SafeString

from plant.web.svg import canvas
from plant.web.svg.sizes import Audience, size_for

LANES = ("operator", "centre", "drive")
TONES = {0: "fits", 1: "notice", 2: "caution", 3: "refused", 4: "refused"}


@dataclass(frozen=True)
class Seen:
    """One look. `day` counts from 0, the first day shown, and may have a fraction; `lane` empty: whole width."""

    code: str
    grade: int
    day: float
    lane: str = ""
    words: str = ""


@dataclass(frozen=True)
class WrinkleMap:
    """All looks at a line. `days` are the words of the days from the first to the last."""

    title: str
    codes: tuple[str, ...]
    seen: tuple[Seen, ...]
    days: tuple[str, ...]
    audience: Audience = "desk"
    key: str = ""


def _mark(row: Seen, x: float, y: float, letter: float) -> list[SafeString]:
    tone = f"tone-{TONES[row.grade]}"
    if row.grade == 0:
        return [canvas.circle(x, y, letter * 0.34, f"mk-line {tone}", data_grade=0)]
    r = letter * (0.62 + 0.09 * row.grade)
    words = f"{row.code}, {row.words}" if row.words else row.code
    return [
        canvas.group(
            [
                canvas.el("title", "", words),
                canvas.circle(x, y, r, f"d-zone {tone}", stroke_width=2 if row.grade < 3 else 3.5),
                canvas.text(x, y + letter * 0.36, row.grade, f"d-zonetext d-firm {tone}", letter, anchor="middle"),
            ],
            data_grade=row.grade,
        )
    ]


def describe(drawing: WrinkleMap) -> str:
    """The map in words: per roller how often looked, how often seen, and the worst."""
    if not drawing.seen:
        return f"{drawing.title}: nobody looked in these days."
    said = [f"{drawing.title}, rollers in path order, operator end at the left of each column."]
    for code in drawing.codes:
        here = [row for row in drawing.seen if row.code == code]
        found = [row for row in here if row.grade]
        if here:
            worst = f", worst grade {max(row.grade for row in found)}" if found else ""
            said.append(f"{code}: {len(here)} looks, {len(found)} with a wrinkle{worst}.")
    return " ".join(said)


def wrinkle_map(drawing: WrinkleMap) -> SafeString:
    """The SVG of the map."""
    size = size_for(drawing.audience)
    letter, width = size.letter_px, size.width_px
    left, top = letter * 5.6, letter * 3.2
    cell = (width - left - 8) / max(len(drawing.codes), 1)
    pitch = letter * 2.5
    foot = top + pitch * max(len(drawing.days), 1)
    body: list[SafeString] = []
    for number, day in enumerate(drawing.days):
        y = top + number * pitch
        body.append(canvas.line(left, y, width - 8, y, "d-rule"))
        body.append(canvas.text(left - 8, y + pitch / 2 + letter * 0.35, day, "d-soft", letter, anchor="end"))
    for number, code in enumerate(drawing.codes):
        x = left + number * cell
        body.append(canvas.line(x, top - letter * 0.4, x, foot, "d-axis"))
        body.append(canvas.text(x + cell / 2, letter * 1.2, code, "d-firm", letter, anchor="middle"))
        for lane, word in enumerate(("op", "", "dr")):
            place = x + cell * (lane + 0.5) / 3
            body.append(canvas.line(place, top, place, foot, "d-centre"))
            body.append(canvas.text(place, top - letter * 0.7, word, "d-soft", letter - 2, anchor="middle"))
    body.append(canvas.line(width - 8, top - letter * 0.4, width - 8, foot, "d-axis"))
    body.append(canvas.line(left, foot, width - 8, foot, "d-axis"))
    places = {code: left + number * cell for number, code in enumerate(drawing.codes)}
    for row in sorted(drawing.seen, key=lambda seen: seen.grade):
        if row.code in places:
            lane = LANES.index(row.lane) if row.lane in LANES else 1
            body += _mark(row, places[row.code] + cell * (lane + 0.5) / 3, top + row.day * pitch, letter)
    words = "Number: grade 1 to 4. Small ring: looked, none. op: operator end, dr: drive end."
    body.append(canvas.text(left, foot + letter * 1.7, words, "d-soft", letter))
    return canvas.svg(
        body,
        width=width,
        height=foot + letter * 2.6,
        title=drawing.title,
        desc=describe(drawing),
        css=f"drawing--plot drawing--{drawing.audience}",
        key=drawing.key or canvas.key_of("map", drawing.title),
    )
