"""Verdicts and roller states: word, own shape, colour class. The one place for all three.

Verdict shapes differ in outline, so that they can be told apart small, worn, grey or by a colour-blind eye. State
shapes are what the roller itself looks like from its end: a bare circle, a circle with a ring of tape, half a ring,
dots of residue, a broken circle, a roller waiting for a hand, a roller held by two chocks.
"""

from dataclasses import dataclass

from django.utils.safestring import SafeString

from plant.web.svg import canvas


@dataclass(frozen=True)
class Mark:
    """One word with its shape (drawn in a box of 24) and the colour family it wears."""

    key: str
    word: str
    tone: str
    shapes: tuple[SafeString, ...]


def _solid(d: str) -> SafeString:
    return canvas.path(d, "mk-solid")


def _line(d: str, **more: object) -> SafeString:
    return canvas.path(d, "mk-line", **more)


def _cut(d: str) -> SafeString:
    return canvas.path(d, "mk-cut")


def _ring(r: float, **more: object) -> SafeString:
    return canvas.circle(12, 12, r, "mk-line", **more)


_QUESTION = "M9 9.6a3 3 0 1 1 4.3 2.7c-.9.5-1.3 1-1.3 2"

VERDICTS: dict[str, Mark] = {
    mark.key: mark
    for mark in (
        Mark("fits", "fits", "fits", (_solid("M2.5 2.5h19v19h-19z"), _cut("M7 12.6l3.6 3.9L17.2 8"))),
        Mark("caution", "caution", "caution", (_solid("M12 1.5 23.5 22h-23z"), _cut("M12 9v6M12 18.6v.1"))),
        Mark(
            "refused",
            "refused",
            "refused",
            (_solid("M7.4 1h9.2L23 7.4v9.2L16.6 23H7.4L1 16.6V7.4z"), _cut("M6.5 12h11")),
        ),
        Mark(
            "cannot-tell",
            "cannot tell",
            "cannot",
            (_solid("M12 .5 23.5 12 12 23.5.5 12z"), _cut(_QUESTION), _cut("M12 17.3v.1")),
        ),
        Mark(
            "not-evaluated",
            "not evaluated",
            "unevaluated",
            (_line("M3.5 3.5h17v17h-17z", stroke_dasharray="3.4 2.27"), _line("M8.5 12h7")),
        ),
        Mark("notice", "notice", "notice", (_line("M4.5 1.5v21"), _solid("M4.5 2.5h17l-4.5 5.5 4.5 5.5h-17z"))),
    )
}

STATES: dict[str, Mark] = {
    mark.key: mark
    for mark in (
        Mark("bare", "bare", "plain", (_ring(8), _solid("M10.7 12a1.3 1.3 0 1 0 2.6 0 1.3 1.3 0 1 0-2.6 0z"))),
        Mark("taped", "taped", "plain", (_ring(9.4, stroke_width="4"), _ring(5.2, stroke_width="1.4"))),
        Mark(
            "partial",
            "partial",
            "caution",
            (_line("M12 2.6a9.4 9.4 0 0 1 0 18.8", stroke_width="4"), _ring(5.2, stroke_width="1.4")),
        ),
        Mark(
            "residue",
            "residue",
            "caution",
            (_ring(6), _ring(10.2, stroke_width="3", stroke_linecap="round", stroke_dasharray="0.1 5.24")),
        ),
        Mark(
            "unknown",
            "unknown",
            "cannot",
            (
                _ring(9.6, stroke_dasharray="4 3.54"),
                _line(_QUESTION, stroke_linecap="round"),
                _line("M12 16.4v.1", stroke_linecap="round"),
            ),
        ),
        Mark("do", "do", "accent", (_solid("M4.5 1h15l-7.5 8z"), canvas.circle(12, 16.5, 5.8, "mk-line"))),
        Mark(
            "blocked",
            "blocked",
            "refused",
            (
                canvas.circle(12, 9.4, 7, "mk-line"),
                _solid("M.5 21V10.5L9 21zM23.5 21V10.5L15 21z"),
                _line("M.5 22.3h23"),
            ),
        ),
    )
}


def _wanted(value: object) -> str:
    word = getattr(value, "value", value)
    return str(word).strip().lower().replace("_", "-").replace(" ", "-")


def verdict_mark(value: object) -> Mark:
    """The mark of a verdict, given as word, enum member or key. A word nobody agreed on is an error."""
    key = _wanted(value)
    if key not in VERDICTS:
        raise ValueError(f"{value!r} is no verdict; use one of {', '.join(m.word for m in VERDICTS.values())}")
    return VERDICTS[key]


def state_mark(value: object) -> Mark:
    """The mark of a roller state, given as word, enum member or key. A word nobody agreed on is an error."""
    key = _wanted(value)
    if key not in STATES:
        raise ValueError(f"{value!r} is no roller state; use one of {', '.join(STATES)}")
    return STATES[key]


def mark_svg(mark: Mark, size_px: int = 20) -> SafeString:
    """The shape alone for use in running HTML; the word stands beside it, so it is hidden from readers."""
    return canvas.el(
        "svg",
        f"mark tone-{mark.tone}",
        *mark.shapes,
        xmlns="http://www.w3.org/2000/svg",
        viewBox="0 0 24 24",
        width=size_px,
        height=size_px,
        aria_hidden="true",
        focusable="false",
    )


def mark_at(mark: Mark, x: float, y: float, size: float) -> SafeString:
    """The shape inside a drawing, centred on (x, y)."""
    scale = size / 24
    return canvas.group(
        mark.shapes,
        f"tone-{mark.tone}",
        transform=f"translate({canvas.px(x - size / 2)} {canvas.px(y - size / 2)}) scale({canvas.px(scale)})",
    )
