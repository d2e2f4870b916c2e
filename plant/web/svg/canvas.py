"""The few SVG words every drawing is written with: elements, texts, numbers that are always finite.

Colours are given twice: a class, which the page styles from the tokens (light, dark), and a fallback attribute in
greys, which holds where no style sheet reaches: in a PDF, in a saved file, on a mono printer. An attribute loses
against any style rule, so the two never fight.
"""

import math
from collections.abc import Iterable
from decimal import Decimal
from functools import lru_cache
from html import escape

from django.utils.safestring import SafeString, mark_safe

FONT = "Sofia Sans Semi Condensed, Roboto Condensed, DejaVu Sans, sans-serif"

INK = "#1a1a1a"
SOFT = "#555555"
RULE = "#9a9a9a"
PALE = "#ececec"
WHITE = "#ffffff"

# class -> fallback attributes; the style sheet drawing.css knows the same names.
FALLBACK: dict[str, dict[str, str]] = {
    "d-outline": {"fill": "none", "stroke": INK, "stroke-width": "1.5"},
    "d-metal": {"fill": PALE, "stroke": INK, "stroke-width": "1.25"},
    "d-tape": {"fill": "#bdbdbd", "stroke": INK, "stroke-width": "1"},
    "d-tapeline": {"fill": "none", "stroke": INK, "stroke-width": "0.6"},
    "d-tail": {"fill": "none", "stroke": INK, "stroke-width": "4", "stroke-linecap": "butt"},
    "d-ext": {"fill": "none", "stroke": RULE, "stroke-width": "0.7"},
    "d-sign": {"fill": "none", "stroke": INK, "stroke-width": "1.4", "stroke-linejoin": "round"},
    "d-solid": {"fill": INK, "stroke": "none"},
    "d-oven": {"fill": "none", "stroke": SOFT, "stroke-width": "1.25", "stroke-dasharray": "2 3"},
    "d-halftape": {"fill": "none", "stroke": "#8a8a8a"},
    "d-residue": {"fill": "none", "stroke": INK, "stroke-width": "3.2", "stroke-linecap": "round"},
    "d-field": {"fill": WHITE, "stroke": INK, "stroke-width": "1.5"},
    "d-here": {"fill": "none", "stroke": INK, "stroke-width": "2.5"},
    "d-bar": {"fill": INK, "stroke": "none"},
    "d-webhead": {"fill": SOFT, "stroke": "none"},
    "d-zone": {"fill": PALE, "fill-opacity": "0.6", "stroke": SOFT, "stroke-width": "1"},
    "d-hatch": {"fill": "none", "stroke": SOFT, "stroke-width": "0.8"},
    "d-wash": {"fill": WHITE, "stroke": "none"},
    "d-zonetext": {"fill": INK, "stroke": "none"},
    "d-range": {"fill": "none", "stroke": INK, "stroke-width": "2"},
    "d-worse": {"fill": "none", "stroke": INK, "stroke-width": "3.5"},
    "d-curve": {"fill": "none", "stroke": INK, "stroke-width": "2", "stroke-linejoin": "round"},
    "d-curve--broken": {"stroke": INK, "stroke-dasharray": "9 5"},
    "d-curve--dotted": {"stroke": SOFT, "stroke-dasharray": "2 4"},
    "d-press": {"fill": "none", "stroke": INK, "stroke-width": "1"},
    "d-level": {"fill": "#3a3a3a", "stroke": "none"},
    "d-limit": {"fill": "none", "stroke": INK, "stroke-width": "1.25", "stroke-dasharray": "6 4"},
    "d-stop": {"fill": "none", "stroke": INK, "stroke-width": "2.5"},
    "d-break": {"fill": "none", "stroke": WHITE, "stroke-width": "2.5"},
    "d-word": {"fill": INK, "stroke": "none"},
    "d-web": {"fill": "#d5d5d5", "fill-opacity": "0.5", "stroke": "none"},
    "d-webline": {"fill": "none", "stroke": SOFT, "stroke-width": "2.5", "stroke-linejoin": "round"},
    "d-webedge": {"fill": "none", "stroke": SOFT, "stroke-width": "1.25", "stroke-dasharray": "7 3"},
    "d-wander": {"fill": SOFT, "fill-opacity": "0.22", "stroke": "none"},
    "d-centre": {"fill": "none", "stroke": SOFT, "stroke-width": "0.9", "stroke-dasharray": "14 3 3 3"},
    "d-dim": {"fill": "none", "stroke": SOFT, "stroke-width": "0.9"},
    "d-arrow": {"fill": SOFT, "stroke": "none"},
    "d-rule": {"fill": "none", "stroke": RULE, "stroke-width": "0.8"},
    "d-axis": {"fill": "none", "stroke": INK, "stroke-width": "1.25"},
    "d-turn": {"fill": "none", "stroke": INK, "stroke-width": "2.25", "stroke-linecap": "round"},
    "d-turnhead": {"fill": INK, "stroke": "none"},
    "d-text": {"fill": INK, "stroke": "none"},
    "d-soft": {"fill": SOFT, "stroke": "none"},
    "d-loud": {"fill": INK, "stroke": "none", "font-weight": "800"},
    "d-firm": {"fill": INK, "stroke": "none", "font-weight": "600"},
    "d-hit": {"fill": WHITE, "fill-opacity": "0", "stroke": "none"},
    "d-plate": {"fill": WHITE, "stroke": "none"},
    "d-flag": {"fill": WHITE, "stroke": INK, "stroke-width": "2"},
    "mk-solid": {"fill": INK, "stroke": "none"},
    "mk-line": {"fill": "none", "stroke": INK, "stroke-width": "2"},
    "mk-cut": {"fill": "none", "stroke": WHITE, "stroke-width": "2.6", "stroke-linecap": "round"},
}

Number = int | float | Decimal


def finite(value: Number | None) -> float | None:
    """The value as a float, or None when it is missing or not a finite number."""
    if value is None:
        return None
    try:
        number = float(value)
    except (TypeError, ValueError, OverflowError):
        return None
    return number if math.isfinite(number) else None


def positive(value: Number | None) -> float | None:
    """The value when it is a finite number above zero, else None."""
    number = finite(value)
    return number if number is not None and number > 0 else None


def clip(value: float, low: float, high: float) -> float:
    return max(low, min(high, value))


def px(value: float) -> str:
    """A coordinate: two decimals at most, no exponent, no minus zero, never anything but a number."""
    if not math.isfinite(value):
        value = 0.0
    text = f"{clip(value, -1e5, 1e5):.2f}".rstrip("0").rstrip(".")
    return "0" if text in ("-0", "") else text


def figure(value: Number | None, digits: int | None = None) -> str:
    """A number as people read it: true minus, thin space from 10 000 up; *not recorded* when there is none."""
    number = finite(value)
    if number is None:
        return "not recorded"
    if digits is None:
        digits = _decimals_for_four_figures(number)
        text = f"{number:,.{digits}f}"
        text = text.rstrip("0").rstrip(".") if "." in text else text
    else:
        text = f"{number:,.{digits}f}"
    if text.strip("-0.,") == "":
        text = text.lstrip("-")
    grouped = text.replace(",", "\u202f" if abs(number) >= 10_000 else "")
    return grouped.replace("-", "\u2212")


def _decimals_for_four_figures(number: float) -> int:
    if number == 0:
        return 0
    return int(clip(3 - math.floor(math.log10(abs(number))), 0, 6))


@lru_cache(maxsize=512)
def _fallback(css: str) -> tuple[tuple[str, str], ...]:
    """The fallback attributes of all classes of one element; the later class wins."""
    merged: dict[str, str] = {}
    for one in css.split():
        merged.update(FALLBACK.get(one, {}))
    return tuple(merged.items())


def _written(value: object) -> str:
    return px(value) if isinstance(value, float) else escape(str(value))


def el(name: str, css: str = "", *children: object, **attributes: object) -> SafeString:
    """One element. `css` is the class (with its fallback attributes); underscores in names become hyphens."""
    own = {key.rstrip("_").replace("_", "-"): value for key, value in attributes.items() if value is not None}
    written = f' class="{escape(css)}"' if css else ""
    written += "".join(f' {key}="{value}"' for key, value in _fallback(css) if key not in own)
    written += "".join(f' {key}="{_written(value)}"' for key, value in own.items())
    inside = "".join(child if isinstance(child, SafeString) else escape(str(child)) for child in children)
    return mark_safe(f"<{name}{written}>{inside}</{name}>" if inside else f"<{name}{written}/>")  # noqa: S308


def group(children: Iterable[object], css: str = "", **attributes: object) -> SafeString:
    return el("g", css, *children, **attributes)


def text(x: float, y: float, words: object, css: str = "d-text", size: float = 13, **attributes: object) -> SafeString:
    """A line of text; `anchor` is start, middle or end."""
    anchor = attributes.pop("anchor", "start")
    extra = {} if anchor == "start" else {"text_anchor": anchor}
    return el("text", css, words, x=float(x), y=float(y), font_size=px(float(size)), **extra, **attributes)


def path(d: str, css: str, **attributes: object) -> SafeString:
    return el("path", css, d=d, **attributes)


def line(x1: float, y1: float, x2: float, y2: float, css: str, **attributes: object) -> SafeString:
    return path(f"M{px(x1)} {px(y1)}L{px(x2)} {px(y2)}", css, **attributes)


def rect(x: float, y: float, width: float, height: float, css: str, **attributes: object) -> SafeString:
    box = {"x": float(x), "y": float(y), "width": float(max(width, 0)), "height": float(max(height, 0))}
    return el("rect", css, **box, **attributes)


def circle(x: float, y: float, r: float, css: str, **attributes: object) -> SafeString:
    return el("circle", css, cx=float(x), cy=float(y), r=float(max(r, 0)), **attributes)


def arrow_head(x: float, y: float, towards_rad: float, css: str = "d-arrow", size: float = 7) -> SafeString:
    """A slim filled arrow head whose tip lies on (x, y)."""
    points = [(x, y)]
    for turn in (math.pi - 0.32, math.pi + 0.32):
        points.append((x + size * math.cos(towards_rad + turn), y + size * math.sin(towards_rad + turn)))
    return path("M" + "L".join(f"{px(a)} {px(b)}" for a, b in points) + "Z", css)


def svg(
    body: Iterable[object],
    *,
    width: float,
    height: float,
    title: str,
    desc: str,
    css: str,
    key: str,
    has_links: bool = False,
) -> SafeString:
    """The outer element with its text alternative. A drawing with links in it is a group, not one image."""
    title_id, desc_id = f"{key}-title", f"{key}-desc"
    return el(
        "svg",
        f"drawing {css}",
        el("title", "", title, id=title_id),
        el("desc", "", desc, id=desc_id),
        *body,
        xmlns="http://www.w3.org/2000/svg",
        viewBox=f"0 0 {px(width)} {px(height)}",
        width=px(width),
        height=px(height),
        role="group" if has_links else "img",
        aria_labelledby=title_id,
        aria_describedby=desc_id,
        font_family=FONT,
    )


def key_of(*parts: object) -> str:
    """An id for the page made of the words given: letters, digits and hyphens only."""
    joined = "-".join(str(part) for part in parts)
    return "d-" + "".join(sign if sign.isascii() and sign.isalnum() else "-" for sign in joined).strip("-")
