"""What the tape does to the web in its entering span, from a case to numbers, words and drawings. Pure."""

import json
import math
from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from typing import Any

from calcs import units
from calcs.case import Case, CaseError, parse_case
from calcs.span import SpanLoad, SpanRefused, SpanResult, field_map, solve
from calcs.span_buckling import SpanBuckling, span_buckling
from calcs.span_entry import EntryIndicator, entry_indicator, stress_limits
from calcs.span_profile import RollerProfile
from calcs.span_report import (
    SpanReport,
    as_answer,
    span_numbers,
    span_of,
    span_report,
    trough_sentences,
)
from calcs.window import strain_across
from plant.errors import Refused
from plant.web.svg import Curve, CurvePlot, MarginPlot, SpanMap, Taped

NAMES = {"edge_ratio": "Edge ratio", "centre_loss": "Centre loss"}
ALONG, ACROSS = 37, 57
_SLOPES = 9
_KPA = 1e3


def _refused(trouble: CaseError) -> Refused:
    return Refused("span-not-worked-out", trouble.sentence, field=trouble.field)


def report_of(case: dict[str, Any]) -> SpanReport:
    """The span of a case, without the trough limit of the span, which takes longer.

    Raises
    ------
    Refused
        Where the span cannot be worked out; the sentence says why and what to do.
    """
    try:
        return span_report(parse_case(case), troughs=False)
    except CaseError as trouble:
        raise _refused(trouble) from None


def numbers_of(case: dict[str, Any]) -> dict[str, Any]:
    """The two-dimensional numbers to be stored beside a verdict; where there are none, the sentence why."""
    try:
        return as_answer(report_of(case))
    except Refused as refusal:
        return {"not_worked_out": refusal.sentence}


@lru_cache(maxsize=256)
def _troughs(case: str) -> tuple[SpanBuckling, SpanBuckling, bool]:
    taped, bare = span_numbers(parse_case(json.loads(case)))
    has_tape = bool(taped.solved.pieces.edges.size)
    plain = span_buckling(bare)
    return (span_buckling(taped) if has_tape else plain), plain, has_tape


@dataclass(frozen=True)
class Troughs:
    """Least misalignment at which the span itself troughs, mm/m (None: at none), with tape and without."""

    taped: float | None
    bare: float | None
    profile_alone: bool
    sentences: tuple[str, ...]


def troughs_of(case: dict[str, Any]) -> Troughs:
    """The span's own trough limit. It takes seconds the first time; the same case again costs nothing."""
    try:
        with_tape, bare, has_tape = _troughs(json.dumps(case, sort_keys=True))
    except CaseError as trouble:
        raise _refused(trouble) from None
    return Troughs(
        _per_m(with_tape.critical),
        _per_m(bare.critical),
        has_tape and with_tape.profile_margin <= 1.0,
        tuple(trough_sentences(with_tape, bare, has_tape)),
    )


def _per_m(slope: float) -> float | None:
    return slope / units.MM_PER_M if math.isfinite(slope) else None


def taped_places(case: Case) -> tuple[Taped, ...]:
    """Where tape lies under the web, mm from its centre."""
    edge, found = float(case.web.width) / 2, []
    for band in case.bands:
        low, high = band.inner, min(band.outer, edge)
        if band.wraps and low < high:
            sign = 1 if band.end == "drive" else -1
            found.append(Taped(sign * low / units.MM, sign * high / units.MM))
    return tuple(found)


def map_picture(code: str, case: Case, result: SpanResult, key: str, audience: str = "tablet") -> SpanMap:
    """CD stress and sideways movement over the span."""
    found = field_map(result, ALONG, ACROSS)
    has_tape = bool(result.solved.pieces.edges.size)
    return SpanMap(
        title=f"Span of {code}, {'with tape' if has_tape else 'bare'}",
        along_mm=_scaled(found.x, units.MM),
        across_mm=_scaled(found.y, units.MM),
        cd_kpa=tuple(_scaled(row, _KPA) for row in found.cd_stress),
        shift_mm=tuple(_scaled(row, units.MM) for row in found.v),
        taped=taped_places(case) if has_tape else (),
        audience=audience,  # type: ignore[arg-type]
        key=key,
    )


def _scaled(values: Any, unit: float) -> tuple[float, ...]:
    return tuple(float(value) / unit for value in values)


def stress_picture(code: str, case: Case, report: SpanReport, key: str, audience: str = "tablet") -> CurvePlot:
    """MD stress where the web meets the roller: first order beside two-dimensional."""
    stiff = float(case.web.modulus_md)
    first = tuple((place / units.MM, share * stiff / units.MPA) for place, share in strain_across(case))
    line = report.taped.line
    second = tuple(zip(_scaled(line.y, units.MM), _scaled(line.md_stress, units.MPA), strict=True))
    return CurvePlot(
        title=f"MD stress of {code} at the roller",
        curves=(Curve("in two dimensions", second), Curve("first order", first, "broken")),
        x_name="from the web centre, mm",
        y_name="MD stress, MPa",
        taped=taped_places(case),
        foot="operator end at left",
        audience=audience,  # type: ignore[arg-type]
        key=key,
    )


def _least_open(indicator: EntryIndicator) -> tuple[float, float]:
    """Least minor principal stress in the bare lanes, with tape and bare, kPa."""
    lanes = [lane for lane in indicator.lanes if not lane.raised] or list(indicator.lanes)
    if not lanes:
        return math.nan, math.nan
    return (
        min(lane.minor_least for lane in lanes) / _KPA,
        min(lane.minor_least_bare for lane in lanes) / _KPA,
    )


def margin_picture(code: str, case: Case, troughs: Troughs | None, key: str, audience: str = "desk") -> MarginPlot:
    """How flat the web arrives, over misalignments to twice what is measured or critical."""
    span, profile = span_of(case)
    measured = abs(float(case.roller.misalignment)) / units.MM_PER_M
    marks = [measured, *(value for value in (troughs.taped, troughs.bare) if value)] if troughs else [measured]
    most = min(max(0.2, 1.3 * max(marks), 2 * measured), 10.0)
    slopes = [most * number / (_SLOPES - 1) for number in range(_SLOPES)]
    plain = RollerProfile(profile.radius)
    loads = [SpanLoad(shape, slope * units.MM_PER_M) for slope in slopes for shape in (profile, plain)]
    try:
        found = solve(span, loads)
    except SpanRefused as refusal:
        raise Refused("span-not-worked-out", str(refusal)) from None
    pairs = [_least_open(entry_indicator(found[2 * at], found[2 * at + 1])) for at in range(_SLOPES)]
    has_tape = bool(found[0].solved.pieces.edges.size)
    _, limit = stress_limits(span, profile.radius)
    return MarginPlot(
        title=f"Bare lane of {code} against misalignment",
        taped=tuple((slope, pair[0]) for slope, pair in zip(slopes, pairs, strict=True)) if has_tape else (),
        bare=tuple((slope, pair[1]) for slope, pair in zip(slopes, pairs, strict=True)),
        measured_mm_per_m=measured,
        roller_limit_kpa=-limit / _KPA,
        troughs_taped=troughs.taped if troughs and has_tape else None,
        troughs_bare=troughs.bare if troughs else None,
        audience=audience,  # type: ignore[arg-type]
        key=key,
    )


def compared(answer: dict[str, Any]) -> list[dict[str, Any]]:
    """First order beside two dimensions by MD stress, as rows of a table; a difference past 10 % is pointed at."""
    rows = []
    for row in answer.get("beside_first_order", ()):
        percent = row["name"] == "centre_loss"
        rows.append(
            {
                "title": NAMES[row["name"]],
                "first": _shown(row["first_order"], percent),
                "second": _shown(row["two_dimensional"], percent),
                "difference": ""
                if row["difference"] is None
                else f"{100 * row['difference']:+.1f} %".replace("-", "−"),
                "is_far": row["shown"],
            }
        )
    return rows


def _shown(value: float | None, percent: bool) -> str:
    if value is None:
        return "slack"
    return f"{100 * value:.1f} %" if percent else f"{value:.3f}"


def _in_kpa(mpa: float | None) -> float | None:
    return None if mpa is None else mpa * units.MPA / _KPA


def figures_of(answer: dict[str, Any]) -> list[tuple[str, float | None, float | None, str, int]]:
    """Title, value with tape, value bare, unit and digits of what is reported beside the comparison."""

    def kpa(name: str) -> float | None:
        return _in_kpa(answer.get(name))

    return [
        ("Stress across, middle of the entry", kpa("cd_stress_centre_mpa"), kpa("cd_stress_centre_mpa_bare"), "kPa", 1),
        ("Least stress across, over all lanes", kpa("cd_stress_min_mpa"), kpa("cd_stress_min_mpa_bare"), "kPa", 1),
        (
            "Least principal stress, over all lanes",
            kpa("minor_principal_mpa"),
            kpa("minor_principal_mpa_bare"),
            "kPa",
            1,
        ),
        ("Operator edge moves outward", answer.get("edge_shift_operator_mm"), None, "mm", 3),
        ("Drive edge moves outward", answer.get("edge_shift_drive_mm"), None, "mm", 3),
        ("Steering to the drive end (mean over the web)", answer.get("mean_shift_mm"), None, "mm", 3),
        ("Shear force into the roller, operator half", answer.get("entry_shear_operator_n"), None, "N", 2),
        ("Shear force into the roller, drive half", answer.get("entry_shear_drive_n"), None, "N", 2),
    ]


def shear_rows(answer: dict[str, Any]) -> Sequence[dict[str, Any]]:
    """Shear in the web at the band edges: a marking risk, kept apart."""
    rows: Sequence[dict[str, Any]] = answer.get("band_edges", [])
    return rows


def parts_of(code: str, answer: dict[str, Any]) -> dict[str, Any]:
    """The answer, fresh or stored, as a page shows it."""
    error = answer.get("error_estimate")
    return {
        "code": code,
        "answer": answer,
        "sentences": answer.get("sentences", []),
        "compared": compared(answer),
        "figures": figures_of(answer),
        "shears": shear_rows(answer),
        "wrinkle_kpa": _in_kpa(answer.get("wrinkle_limit_mpa")),
        "trough_kpa": _in_kpa(answer.get("trough_limit_mpa")),
        "is_taped": bool(answer.get("beside_first_order")),
        "error": "not worked out" if error is None else f"{100 * error:.2g} % of the largest value of its kind",
    }


def stored_parts(code: str, result: dict[str, Any] | None) -> dict[str, Any] | None:
    """The numbers stored beside a verdict; None for verdicts from before they were kept."""
    found = (result or {}).get("span")
    return parts_of(code, found) if found else None
