"""From readiness and verdicts to what the drawings are made of. Pure: rows in, drawing dataclasses out."""

from collections.abc import Callable, Iterable, Sequence
from typing import Any, Literal

from calcs.case import Case, parse_case
from calcs.limits import Limits
from calcs.window import strain_across, window
from plant.floor.models import PathStep, ProductVersion
from plant.web.svg import (
    Band,
    Bar,
    Bars,
    LineDrawing,
    ProductPoint,
    RollerDrawing,
    Step,
    StrainProfile,
    Taped,
    TriedWorse,
    WindowPlot,
    Zone,
)
from rollers.cases import BandShape
from rollers.failed_tries import FailedTry
from rollers.models import Body, TapeStock
from rollers.readiness import PositionReadiness, Readiness
from rollers.trial import OneProduct, Tried

# What to do at a roller, in the one or two words that fit below it.
ACTS = {"apply": "put on tape", "remove": "take off", "change": "change tape"}
BLOCKED = {
    "not-measured": "measure",
    "not-checked": "second check",
    "not-compliant": "wound wrong",
    "unknown": "look at it",
    "residue": "clean",
    "partial": "partial",
    "undecided": "undecided",
    "no-body": "no roller",
    "sheet-outdated": "new sheet",
    "needs-re-check": "size again",
    "edge-on-step": "edge on step",
    "refused": "hard limit",
}


def short_label(label: str) -> str:
    """`T5 × 1` of `T5 × 1, both ends, v2 (...)`."""
    return label.split(",")[0]


def board_step(row: PositionReadiness, href: str = "", is_here: bool = False) -> Step:
    """One roller of the board: what is on it, its verdict, and what is asked for."""
    attention, words = _attention(row)
    caution = "caution" if row.cautions else ""
    return Step(
        code=row.position.code,
        kind=row.position.kind,
        diameter_mm=row.body.diameter_mm if row.body else None,
        wrap_deg=row.step.wrap_deg if row.step else None,
        rotation=row.step.rotation if row.step else None,  # type: ignore[arg-type]
        state=row.on.state,
        state_text=short_label(row.on.label) if row.on.state == "taped" else "",
        verdict=(row.result["verdict"] if row.result and row.required.kind != "bare" else caution),
        attention=attention,
        attention_text=words,
        href=href,
        is_here=is_here,
    )


def _attention(row: PositionReadiness) -> tuple[Literal["", "do", "blocked"], str]:
    if not row.blocks:
        return "", ""
    if row.action in ACTS:
        return "do", ACTS[row.action]
    return "blocked", BLOCKED.get(row.blocks[0].code, "blocked")


def board_picture(found: Readiness, page_of: Callable[[str], str]) -> LineDrawing:
    """The line in path order."""
    return LineDrawing(
        name=f"Line {found.path.line.code}, path {found.path.name}",
        product=found.product_version.product.code,
        steps=tuple(board_step(row, page_of(row.position.code)) for row in found.positions),
    )


def bands_of(shapes: Iterable[BandShape], stock: TapeStock | None) -> tuple[Band, ...]:
    """Bands to scale."""
    thick = stock.thickness_mm if stock else None
    return tuple(Band(b.end, b.inner_mm, b.outer_mm, b.wraps, thick) for b in shapes)  # type: ignore[arg-type]


def roller_picture(
    step: PathStep,
    body: Body,
    *,
    stock: TapeStock | None,
    shapes: Sequence[BandShape],
    versions: Sequence[ProductVersion] = (),
    key: str = "",
) -> RollerDrawing:
    """A roller with the bands of a recipe, as it runs on this path, with the widest of the products on it."""
    widest = max(versions, key=lambda version: version.width_max_mm, default=None)
    return RollerDrawing(
        code=step.position.code,
        face_mm=body.face_mm,
        diameter_mm=body.diameter_mm,
        web_width_mm=widest.width_max_mm if widest else None,
        wander_mm=widest.wander_mm if widest else 0.0,
        bands=bands_of(shapes, stock),
        state="taped" if shapes else "bare",
        rotation=step.rotation,  # type: ignore[arg-type]
        wrap_deg=step.wrap_deg,
        tail="trails" if shapes else None,
        product=widest.product.code if widest else "",
        key=key,
    )


def case_picture(
    step: PathStep,
    case: dict[str, Any],
    *,
    stock: TapeStock | None,
    shapes: Sequence[BandShape],
    product: str = "",
    key: str = "",
) -> RollerDrawing:
    """The roller a recipe was computed on, as the stored case has it."""
    roller, web = case["roller"], case["web"]
    width = web["width_mm"]
    return RollerDrawing(
        code=step.position.code,
        face_mm=roller["face_mm"],
        diameter_mm=roller["diameter_mm"],
        web_width_mm=max(width) if isinstance(width, list) else width,
        wander_mm=web.get("wander_mm", 0.0),
        bands=bands_of(shapes, stock),
        state="taped" if shapes else "bare",
        rotation=step.rotation,  # type: ignore[arg-type]
        wrap_deg=roller["wrap_deg"],
        tail="trails" if shapes else None,
        product=product,
        key=key,
    )


# Checks whose bar says something: where more is worse, or both limits are set.
BARS = (
    "edge_ratio",
    "centre_loss",
    "hold",
    "lateral_hold",
    "hold_and_drag",
    "peak_strain",
    "engaged_share",
    "wraps",
    "build",
    "wrap_angle",
)
BAR_UNITS = {"1": "", "deg": "°", "mm": "mm"}


def check_bars(code: str, result: dict[str, Any], key: str = "") -> Bars:
    """The checks at their worst point, each against its limits."""
    rows = [row for row in result["checks"] if row["id"] in BARS and row["verdict"] != "not evaluated"]
    bars = tuple(
        Bar(
            name=row["title"],
            value=row["worst"],
            verdict=row["verdict"],
            unit=BAR_UNITS.get(row["unit"], row["unit"]),
            caution=row["caution"],
            refuse=row["limit"] if row["limit"] != row["caution"] else None,
            digits=0 if row["id"] in ("wraps", "wrap_angle") else 2,
        )
        for row in rows
    )
    return Bars(f"Checks for {code}, each at its worst point", bars, key=key)


def profile_picture(code: str, case: Case, result: dict[str, Any], limits: Limits, key: str = "") -> StrainProfile:
    """MD strain across the web, with the edge-ratio limits as strains."""
    mean, ratio = result["strain_pct"], limits["edge_ratio"]
    edge = case.web.width.nominal / 2 * 1000
    taped = []
    for band in case.bands:
        low, high = band.inner * 1000, min(band.outer * 1000, edge)
        if band.wraps and low < high:
            taped.append(Taped(low, high) if band.end == "drive" else Taped(-high, -low))
    return StrainProfile(
        title=f"Strain across {code}",
        points=tuple((place * 1000, share * 100) for place, share in strain_across(case)),
        mean_pct=mean,
        taped=tuple(taped),
        caution_pct=mean * ratio.caution if ratio.caution else None,
        refuse_pct=mean * ratio.refuse if ratio.refuse else None,
        slack=result["slack"],
        audience="tablet",
        key=key,
    )


def window_picture(row: OneProduct, tried: Tried, key: str = "", failed: Iterable[FailedTry] = ()) -> WindowPlot | None:
    """Wraps against tension for one product: target, caution and refused fields, and where it runs.

    `failed` are tries of this tape that made it worse; those of this product are marked.
    """
    worse = tuple(TriedWorse(one.tension_n_per_m, one.wraps, one.words) for one in failed if one.product == row.code)
    version, most = row.version, float(tried.limits.refuse("wraps"))
    low, high = version.tension_min_n_per_m, version.tension_max_n_per_m
    marks = [low, high] + ([_middle(row.changed_case)] if row.changed_case else [])
    first, last = 0.5 * min(marks), 1.6 * max(marks)
    case = parse_case(row.changed_case or row.case) if tried.wraps else row.parsed
    curve = window(case, tried.limits, [first + (last - first) * i / 40 for i in range(41)])
    if not curve:
        return None
    top = min(most + 1, max(4.0, tried.wraps + 1.5, 1.3 * max(point.refuse for point in curve)))
    lines: dict[str, tuple[tuple[float, float], ...]] = {
        "low": tuple((p.tension, min(p.target_low, p.caution)) for p in curve),
        "high": tuple((p.tension, min(p.target_high, p.caution)) for p in curve),
        "caution": tuple((p.tension, p.caution) for p in curve),
        "refuse": tuple((p.tension, p.refuse) for p in curve),
        "top": tuple((p.tension, max(p.refuse, top)) for p in curve),
    }
    zones = (
        Zone("target", lines["low"], lines["high"], "target"),
        Zone("caution", lines["caution"], lines["refuse"], "caution"),
        Zone("refused", lines["refuse"], lines["top"], "refused"),
    )
    points = [
        ProductPoint(
            row.code,
            version.tension_set_n_per_m,
            tried.wraps,
            row.result["verdict"],
            low_n_per_m=low,
            high_n_per_m=high,
        )
    ]
    if row.changed is not None and row.changed_case is not None:
        points.append(ProductPoint("what if", _middle(row.changed_case), tried.wraps, row.changed["verdict"]))
    title = f"Wraps against tension, {row.code}"
    return WindowPlot(title, zones, tuple(points), worse, most_wraps=top, audience="tablet", key=key)


def _middle(case: dict[str, Any]) -> float:
    tension = case["state"]["tension_n_per_m"]
    return sum(tension) / 2 if isinstance(tension, list) else float(tension)
