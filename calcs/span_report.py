"""The two-dimensional span of a case, in the units and names of the public form, with sentences.

The numbers stand beside the first-order verdict and are none themselves.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np

from calcs import VERSION, units
from calcs.case import Case, CaseError
from calcs.profile import signed_cells
from calcs.span import Span, SpanLoad, SpanRefused, SpanResult, SpanWeb, field_map, solve
from calcs.span_buckling import SpanBuckling, span_buckling
from calcs.span_entry import EntryIndicator, entry_indicator, stress_limits
from calcs.span_profile import RollerProfile, TapedStrip
from calcs.verdict import check

DIFFERENCE_SHOWN = 0.10
"""A first-order number that the two-dimensional one leaves by more than this share is pointed at."""
_WORDS = {"edge_ratio": "Edge ratio", "centre_loss": "Centre loss"}
STANDING = (
    "Indicators, not verdicts. Steady, in full traction, small strain, elastic, flat web of uniform width: a start "
    "value; the trial on the line decides. Not a safety or product-release decision: plant lockout procedure, "
    "machine maker and licensed practice come first."
)


@dataclass(frozen=True, slots=True)
class SpanReport:
    """Everything worked out for one case: with its profile, and with the misalignment alone (`bare`).

    The buckling of the span is None where it was not asked for.
    """

    taped: SpanResult
    bare: SpanResult
    entry: EntryIndicator
    buckling: SpanBuckling | None
    buckling_bare: SpanBuckling | None
    first_order: dict[str, float | None]


def span_of(case: Case) -> tuple[Span, RollerProfile]:
    """Span and profile of a case at its nominal values, SI."""
    web, roller = case.web, case.roller
    span = Span(
        SpanWeb(
            float(web.width),
            float(web.thickness),
            float(web.modulus_md),
            float(web.modulus_cd),
            float(web.poisson_md),
            None if web.shear is None else float(web.shear),
        ),
        float(roller.entry_span),
        float(case.state.tension),
    )
    layer = 0.0 if case.tape is None else float(case.tape.thickness)
    strips = [TapedStrip(cell.low, cell.high, cell.wraps * layer) for cell in signed_cells(case.bands)]
    return span, RollerProfile.banded(float(roller.diameter) / 2.0, strips)


def span_numbers(case: Case) -> tuple[SpanResult, SpanResult]:
    """The span of a case with its tape and with the misalignment alone, nominal values.

    Raises
    ------
    CaseError
        Where no number can be given; the sentence says why.
    """
    span, profile = span_of(case)
    tilt = float(case.roller.misalignment)
    try:
        taped, bare = solve(span, [SpanLoad(profile, tilt), SpanLoad(RollerProfile(profile.radius), tilt)])
    except SpanRefused as refusal:
        raise CaseError("roller.entry_span_mm", str(refusal)) from None
    return taped, bare


def span_report(case: Case, *, troughs: bool = True) -> SpanReport:
    """Work out the span of a case with both indicators, with tape and without.

    Parameters
    ----------
    case : Case
        Nominal values are used.
    troughs : bool
        Whether to work out the trough limit of the span as well. It takes by far the longest; everything else is
        there in the time of a click.

    Returns
    -------
    SpanReport

    Raises
    ------
    CaseError
        Where no number can be given; the sentence says why.
    """
    taped, bare = span_numbers(case)
    plain = span_buckling(bare) if troughs else None
    has_tape = bool(taped.solved.pieces.edges.size)
    numbers = check(case).numbers
    first: dict[str, float | None] = {}
    for name in ("edge_ratio", "centre_loss"):
        value = numbers.get(name)
        first[name] = None if value is None or not math.isfinite(value) else float(value)
    return SpanReport(
        taped,
        bare,
        entry_indicator(taped, bare),
        span_buckling(taped) if troughs and has_tape else plain,
        plain,
        first,
    )


def differences(report: SpanReport) -> list[dict[str, Any]]:
    """First-order and two-dimensional numbers side by side, by MD stress; empty without tape under the web."""
    if not report.taped.solved.pieces.edges.size:
        return []
    rows = []
    for name, second in (("edge_ratio", report.taped.edge_ratio), ("centre_loss", report.taped.centre_loss)):
        first = report.first_order[name]
        share = None if not first else second / first - 1.0
        rows.append(
            {
                "name": name,
                "first_order": first,
                "two_dimensional": second,
                "difference": share,
                "shown": share is not None and abs(share) > DIFFERENCE_SHOWN,
            }
        )
    return rows


def _per_m(slope: float) -> str:
    return f"{slope / units.MM_PER_M:.2g} mm/m"


def _trough_sentence(with_tape: SpanBuckling, bare: SpanBuckling, has_tape: bool) -> str:
    alone = "at no misalignment" if math.isinf(bare.critical) else f"from {_per_m(bare.critical)}"
    if not has_tape:
        return f"The span itself troughs {alone}."
    if with_tape.profile_margin <= 1.0:
        return (
            "In the linear field the profile alone, with a perfectly aligned roller, already makes troughs, strongest "
            f"{1e3 * with_tape.before_roller:.0f} mm before the roller and {1e3 * abs(with_tape.across):.0f} mm "
            f"from the web centre; without tape the span troughs {alone}."
        )
    if math.isinf(with_tape.critical):
        return f"With this profile no misalignment troughs the span; without it the span troughs {alone}."
    return (
        f"The span's own trough limit is {_per_m(with_tape.critical)} with the profile and "
        f"{'without limit' if math.isinf(bare.critical) else _per_m(bare.critical)} without it."
    )


def trough_sentences(with_tape: SpanBuckling, bare: SpanBuckling, has_tape: bool) -> list[str]:
    """What the trough limits of the span say, with tape and without."""
    said = [_trough_sentence(with_tape, bare, has_tape)]
    if not with_tape.change <= 0.01 or not bare.change <= 0.01:
        said.append("The trough limit of the span did not settle to 1 %; take it as an upper bound.")
    return said


def sentences(report: SpanReport) -> list[str]:
    """What the numbers say, in the order: entry, span, cost, differences, remarks."""
    taped = report.taped
    has_tape = bool(taped.solved.pieces.edges.size)
    said = [report.entry.sentence]
    troughs: list[str] = []
    if report.buckling is not None and report.buckling_bare is not None:
        troughs = trough_sentences(report.buckling, report.buckling_bare, has_tape)
    said += troughs[:1]
    if has_tape:
        said.append(
            f"The cost is {taped.edge_ratio:.2g} times the tension at the more loaded edge "
            f"and {100.0 * taped.centre_loss:.0f} % less of it at the centre."
        )
    for row in differences(report):
        if row["shown"]:
            said.append(
                f"{_WORDS[row['name']]} is {row['two_dimensional']:.3g} in two dimensions and "
                f"{row['first_order']:.3g} to first order, {100.0 * row['difference']:+.0f} %: trust the "
                "two-dimensional number inside its range."
            )
    return [*said, *troughs[1:], *taped.remarks, *report.entry.remarks]


def _plain(value: Any) -> Any:
    if isinstance(value, dict):
        return {key: _plain(entry) for key, entry in value.items()}
    if isinstance(value, list):
        return [_plain(entry) for entry in value]
    if isinstance(value, float):
        return value if math.isfinite(value) else None
    return value


def _stress_numbers(report: SpanReport) -> dict[str, float]:
    taped, bare, entry = report.taped, report.bare, report.entry
    trough, wrinkle = stress_limits(taped.span, taped.load.profile.radius)
    in_pa = {
        "cd_stress_centre_mpa": taped.cd_stress_centre,
        "cd_stress_centre_mpa_bare": bare.cd_stress_centre,
        "cd_stress_min_mpa": entry.cd_least,
        "cd_stress_min_mpa_bare": entry.cd_least_bare,
        "minor_principal_mpa": entry.minor_least,
        "minor_principal_mpa_bare": entry.minor_least_bare,
        "cd_stress_centre_window_mpa": entry.cd_centre,
        "cd_stress_centre_window_mpa_bare": entry.cd_centre_bare,
        "cd_stress_edge_operator_window_mpa": entry.cd_edge_operator,
        "cd_stress_edge_drive_window_mpa": entry.cd_edge_drive,
        "cd_stress_point_min_mpa": taped.cd_stress_least,
        "md_stress_centre_mpa": taped.md_stress_centre,
        "md_stress_edge_operator_mpa": taped.md_stress_edge_operator,
        "md_stress_edge_drive_mpa": taped.md_stress_edge_drive,
        "md_stress_point_min_mpa": taped.md_stress_least,
        "trough_limit_mpa": trough,
        "wrinkle_limit_mpa": wrinkle,
    }
    return {name: value / units.MPA for name, value in in_pa.items()}


def _trough_numbers(buckling: SpanBuckling | None, bare: SpanBuckling | None) -> dict[str, Any]:
    if buckling is None or bare is None:
        return {}
    return {
        "critical_misalignment_mm_per_m": buckling.critical / units.MM_PER_M,
        "critical_misalignment_mm_per_m_bare": bare.critical / units.MM_PER_M,
        "trough_series": {
            "terms": buckling.terms,
            "splines": buckling.splines,
            "change": buckling.change,
            "profile_margin": buckling.profile_margin,
        },
    }


def as_answer(report: SpanReport) -> dict[str, Any]:
    """The report in its public form (units in the names; null where nothing is finite).

    Without the buckling of the span its names are left out.
    """
    taped, entry = report.taped, report.entry
    lengths = {
        "edge_shift_operator_mm": taped.edge_shift_operator,
        "edge_shift_drive_mm": taped.edge_shift_drive,
        "centre_shift_mm": taped.centre_shift,
        "mean_shift_mm": taped.mean_shift,
    }
    strains = {
        "md_strain_centre_pct": taped.md_strain_centre,
        "md_strain_edge_operator_pct": taped.md_strain_edge_operator,
        "md_strain_edge_drive_pct": taped.md_strain_edge_drive,
    }
    answer: dict[str, Any] = {
        **{name: value / units.MM for name, value in lengths.items()},
        **_stress_numbers(report),
        **{name: value / units.PCT for name, value in strains.items()},
        **_trough_numbers(report.buckling, report.buckling_bare),
        "entry_shear_operator_n": taped.entry_shear_operator,
        "entry_shear_drive_n": taped.entry_shear_drive,
        "edge_ratio": taped.edge_ratio,
        "centre_loss": taped.centre_loss,
        "centre_slack": taped.centre_slack,
        "half_wavelength_mm": taped.half_wave / units.MM,
        "lanes": [
            {
                "from_mm": lane.lower / units.MM,
                "to_mm": lane.upper / units.MM,
                "on_tape": lane.raised,
                "cd_stress_mean_mpa": lane.cd_mean / units.MPA,
                "cd_stress_min_mpa": lane.cd_least / units.MPA,
                "cd_stress_min_mpa_bare": lane.cd_least_bare / units.MPA,
                "minor_principal_mpa": lane.minor_least / units.MPA,
                "minor_principal_mpa_bare": lane.minor_least_bare / units.MPA,
            }
            for lane in entry.lanes
        ],
        "band_edges": [
            {
                "at_mm": edge.at / units.MM,
                "shear_mpa": edge.shear / units.MPA,
                "bridging_mm": edge.bridging / units.MM,
            }
            for edge in taped.band_edges
        ],
        "beside_first_order": differences(report),
        "error_estimate": max(taped.error_estimate, report.bare.error_estimate),
        "residual": max(taped.residual, report.bare.residual),
        "method": taped.method,
        "sizes": {
            "degree": taped.sizes.degree,
            "companion_degree": taped.sizes.companion_degree,
            "unknowns": taped.sizes.unknowns,
            "modes": taped.sizes.modes,
        },
        "sentences": sentences(report),
        "standing": STANDING,
        "version": VERSION,
    }
    plain: dict[str, Any] = _plain(answer)
    return plain


def save_fields(report: SpanReport, name: str) -> None:
    """Save the maps with and without tape and the entry lines as a NumPy archive (SI).

    Raises
    ------
    CaseError
        The file cannot be written.
    """
    parts: dict[str, np.ndarray] = {}
    for suffix, result in (("", report.taped), ("_bare", report.bare)):
        found, line = field_map(result), result.line
        parts |= {
            "x_m": found.x,
            "y_m": found.y,
            f"u_m{suffix}": found.u,
            f"v_m{suffix}": found.v,
            f"md_stress_pa{suffix}": found.md_stress,
            f"cd_stress_pa{suffix}": found.cd_stress,
            f"shear_stress_pa{suffix}": found.shear_stress,
            "entry_y_m": line.y,
            f"entry_shift_m{suffix}": line.shift,
            f"entry_md_strain{suffix}": line.md_strain,
            f"entry_md_stress_pa{suffix}": line.md_stress,
            f"entry_cd_stress_pa{suffix}": line.cd_stress,
            f"entry_shear_stress_pa{suffix}": line.shear_stress,
        }
    try:
        with Path(name).open("wb") as stream:
            np.savez_compressed(stream, **parts)  # type: ignore[arg-type]
    except OSError as error:
        raise CaseError("--field", f"{name} cannot be written ({error.strerror}); name a file you may write.") from None
