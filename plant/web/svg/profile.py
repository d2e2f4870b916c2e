"""MD strain across the web at one roller: the bare middle, the taped lanes, and how far the limits are."""

from dataclasses import dataclass
from typing import Literal

from django.utils.safestring import SafeString

from plant.web.svg import canvas
from plant.web.svg.axes import Axis, span, x_axis, y_axis
from plant.web.svg.canvas import figure
from plant.web.svg.sizes import size_for


@dataclass(frozen=True)
class Taped:
    """Where tape lies under the web, mm from the roller centre, operator side negative."""

    from_mm: float
    to_mm: float


@dataclass(frozen=True)
class StrainProfile:
    """Strain in percent at places across the web; `points` are (y mm, strain %) from operator to drive side."""

    title: str
    points: tuple[tuple[float, float], ...]
    mean_pct: float | None = None
    taped: tuple[Taped, ...] = ()
    caution_pct: float | None = None
    refuse_pct: float | None = None
    slack: bool = False
    audience: Literal["desk", "tablet", "paper"] = "desk"
    key: str = ""


def _finite_points(profile: StrainProfile) -> list[tuple[float, float]]:
    pairs = ((canvas.finite(y), canvas.finite(e)) for y, e in profile.points)
    return [(y, e) for y, e in pairs if y is not None and e is not None]


def _axes(profile: StrainProfile, points: list[tuple[float, float]], width: float, letter: float) -> tuple[Axis, Axis]:
    across = [y for y, _ in points] + [edge for band in profile.taped for edge in (band.from_mm, band.to_mm)]
    low, high = span([value for value in across if canvas.finite(value) is not None], room=0.02)
    strains = [e for _, e in points]
    biggest = max(strains, default=1.0)
    limits = (profile.mean_pct, profile.caution_pct, profile.refuse_pct)
    shown = [limit for limit in map(canvas.finite, limits) if limit is not None and limit <= 2.5 * max(biggest, 1e-12)]
    bottom, top = span([*strains, *shown], with_zero=True, room=0.12)
    return Axis(low, high, 4.2 * letter, width - 20), Axis(bottom, top, 250.0 + letter, 2.4 * letter)


def _limit(
    value: float | None, words: str, tone: str, x: Axis, y: Axis, letter: float, in_middle: bool = False
) -> list[SafeString]:
    """A limit as a line with its word; nothing where it lies beyond the sheet."""
    number = canvas.finite(value)
    if number is None or number > y.high:
        return []
    place = y.at(number)
    label = f"{words} {figure(number)} %"
    at = (x.start_px + x.end_px) / 2 if in_middle else x.end_px - 6
    return [
        canvas.line(x.start_px, place, x.end_px, place, f"d-limit tone-{tone}"),
        canvas.text(
            at, place - 4, label, f"d-word d-firm tone-{tone}", letter, anchor="middle" if in_middle else "end"
        ),
    ]


def _far_limits(profile: StrainProfile, y: Axis) -> str:
    far = [
        f"{words} {figure(value)} %"
        for words, value in (("caution", profile.caution_pct), ("refused", profile.refuse_pct))
        if (number := canvas.finite(value)) is not None and number > y.high
    ]
    return f"beyond the sheet: {', '.join(far)}" if far else ""


def describe(profile: StrainProfile) -> str:
    """The profile in words."""
    points = _finite_points(profile)
    if not points:
        return f"{profile.title}: no strain is recorded."
    strains = [e for _, e in points]
    said = f"{profile.title}: MD strain across the web, least {figure(min(strains))} %, most {figure(max(strains))} %"
    said += f", mean {figure(profile.mean_pct)} %." if canvas.finite(profile.mean_pct) is not None else "."
    return said + (" The centre is slack." if profile.slack else "")


def strain_profile(profile: StrainProfile) -> SafeString:
    """The SVG of the strain across the web, operator side on the left."""
    size = size_for(profile.audience)
    letter, width = size.letter_px, min(size.width_px, 760.0)
    points = _finite_points(profile)
    x, y = _axes(profile, points, width, letter)
    zero = y.at(0.0)
    body: list[SafeString] = []
    body += x_axis(x, y.start_px, y.end_px, "across the web, mm from the roller centre", letter)
    body += y_axis(y, x.start_px, x.end_px, "MD strain, %", letter, about=5)
    if points:
        track = "L".join(f"{canvas.px(x.at(a))} {canvas.px(y.at(e))}" for a, e in points)
        first, last = canvas.px(x.at(points[0][0])), canvas.px(x.at(points[-1][0]))
        body.append(canvas.path(f"M{first} {canvas.px(zero)}L{track}L{last} {canvas.px(zero)}Z", "d-web"))
        body.append(canvas.path(f"M{track}", "d-curve"))
    for band in profile.taped:
        a, b = x.at(canvas.finite(band.from_mm) or 0), x.at(canvas.finite(band.to_mm) or 0)
        body.append(canvas.rect(min(a, b), zero - 9, abs(b - a), 9, "d-tape", data_part="tape"))
    body += _limit(profile.mean_pct, "mean", "plain", x, y, letter, in_middle=True)
    body += _limit(profile.caution_pct, "caution", "caution", x, y, letter)
    body += _limit(profile.refuse_pct, "refused", "refused", x, y, letter)
    words = "; ".join(said for said in ("centre slack" if profile.slack else "", _far_limits(profile, y)) if said)
    if words:
        body.append(canvas.text(x.end_px, y.end_px - letter * 0.8, words, "d-soft", letter, anchor="end"))
    foot = y.start_px + 2 * letter + 12
    body.append(canvas.text(x.start_px, foot, "operator end at left", "d-firm", letter))
    return canvas.svg(
        body,
        width=width,
        height=foot + 12,
        title=profile.title,
        desc=describe(profile),
        css=f"drawing--plot drawing--{profile.audience}",
        key=profile.key or canvas.key_of("profile", profile.title),
    )
