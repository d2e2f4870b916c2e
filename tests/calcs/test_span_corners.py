"""The span over the ranges of a case: nominal as the single calculation gives it, corners not beaten from inside."""

import numpy as np
import pytest

from calcs.case import CaseError, parse_case
from calcs.span_corners import Spread, span_ranges, span_ranges_many
from calcs.span_report import span_numbers
from tests.calcs.cases import changed, demo_case

RANGES = {
    "web__width_mm": [636, 644],
    "web__modulus_md_mpa": [927, 1133],
    "web__thickness_um": [60, 64],
    "state__tension_n_per_m": [95, 125],
    "tape__thickness_mm": [0.081, 0.099],
    "roller__diameter_mm": [149.5, 150.5],
    "roller__misalignment_mm_per_m": [-0.2, 0.3],
}
CASE = demo_case("ML-62", "C06", "T5", 1, **RANGES)


def numbers_of(content) -> dict[str, float]:
    taped = span_numbers(parse_case(content))[0]
    names = ("edge_ratio", "centre_loss", "cd_stress_centre", "centre_shift", "edge_shift_operator", "edge_shift_drive")
    return {name: getattr(taped, name) for name in names}


def test_the_nominal_number_is_that_of_the_single_calculation() -> None:
    ranges = span_ranges(parse_case(CASE))
    for name, value in numbers_of(CASE).items():
        spread: Spread = getattr(ranges, name)
        assert spread.nominal == pytest.approx(value, rel=1e-6)
        assert spread.low <= spread.nominal <= spread.high
    assert ranges.corners > 100 and 0.0 < ranges.error_estimate < 0.01


def test_no_inner_point_beats_the_corners() -> None:
    ranges = span_ranges(parse_case(CASE))
    rng = np.random.default_rng(5)
    for _ in range(60):
        inner = {name: float(rng.uniform(low, high)) for name, (low, high) in RANGES.items()}
        for name, value in numbers_of(changed(CASE, **inner)).items():
            spread: Spread = getattr(ranges, name)
            room = 1e-3 * max(abs(spread.low), abs(spread.high))
            assert spread.low - room <= value <= spread.high + room, name


def test_moduli_that_vary_apart_widen_the_range() -> None:
    tied = span_ranges(parse_case(CASE))
    apart = span_ranges(parse_case(changed(CASE, web__modulus_cd_mpa=[700, 1300])))
    assert apart.cd_stress_centre.high > tied.cd_stress_centre.high
    assert apart.cd_stress_centre.low < tied.cd_stress_centre.low


def test_a_bare_roller_keeps_its_tension_and_follows_the_tilt() -> None:
    content = changed(demo_case("CP-70", "B09", "T5", 0), roller__misalignment_mm_per_m=[-0.1, 0.2])
    ranges = span_ranges(parse_case(content))
    assert (ranges.edge_ratio.low, ranges.edge_ratio.high) == pytest.approx((1.0, 1.0))
    assert ranges.centre_shift.low < 0.0 < ranges.centre_shift.high
    assert ranges.centre_shift.high == pytest.approx(-2.0 * ranges.centre_shift.low, rel=1e-6)


def test_a_geometry_without_numbers_is_refused_with_the_reason() -> None:
    content = changed(demo_case("ML-62", "C06", "T5", 1), roller__entry_span_mm=10, web__width_mm=8000)
    with pytest.raises(CaseError, match="span over width"):
        span_ranges(parse_case(content))


def test_many_cases_together_get_the_answers_they_get_alone_and_a_refusal_keeps_its_place() -> None:
    bare = changed(demo_case("CP-70", "B09", "T5", 0), roller__misalignment_mm_per_m=[-0.1, 0.2])
    refused = changed(demo_case("ML-62", "C06", "T5", 1), roller__entry_span_mm=10, web__width_mm=8000)
    one_end = demo_case("BO-35", "B04", "T5", 1)
    apart = changed(CASE, web__modulus_cd_mpa=[700, 1300], roller__entry_span_mm=300)
    cases = [parse_case(content) for content in (CASE, bare, refused, one_end, apart)]
    together = span_ranges_many(cases)
    assert isinstance(together[2], CaseError)
    for case, found in zip(cases, together, strict=True):
        if isinstance(found, CaseError):
            continue
        alone = span_ranges(case)
        for name in ("edge_ratio", "centre_loss", "cd_stress_centre", "centre_shift", "edge_shift_drive"):
            one, two = getattr(found, name), getattr(alone, name)
            scale = max(abs(two.low), abs(two.high), 1e-12)
            assert [one.nominal, one.low, one.high] == pytest.approx([two.nominal, two.low, two.high], abs=1e-9 * scale)
