"""The curves of the plots agree with the checks they are drawn for."""

import itertools
import math
from typing import Any

import pytest

from calcs.case import parse_case
from calcs.limits import DEFAULT
from calcs.verdict import check
from calcs.window import strain_across, window

FILM: dict[str, Any] = {
    "web": {"width_mm": 1600, "thickness_um": 20, "modulus_md_mpa": 2000},
    "state": {"tension_n_per_m": 120, "speed_m_per_min": 250},
    "roller": {
        "diameter_mm": 200,
        "face_mm": 1750,
        "wrap_deg": 95,
        "entry_span_mm": 1600,
        "roughness_um": 25,
        "friction": 0.3,
    },
    "tape": {"thickness_mm": 0.09, "roughness_um": 20},
    "bands": [
        {"end": "operator", "inner_mm": 640, "outer_mm": 840, "wraps": 1},
        {"end": "drive", "inner_mm": 640, "outer_mm": 840, "wraps": 1},
    ],
}


def at(wraps: int, tape_mm: float, tension: float) -> dict[str, Any]:
    bands = [band | {"wraps": wraps} for band in FILM["bands"]]
    tape = FILM["tape"] | {"thickness_mm": tape_mm}
    return FILM | {"bands": bands, "tape": tape, "state": FILM["state"] | {"tension_n_per_m": tension}}


@pytest.mark.parametrize("tension", [84, 100, 120])
@pytest.mark.parametrize("level", ["caution", "refuse"])
def test_a_step_on_the_curve_is_exactly_on_a_limit_of_ratio_loss_or_hold(tension: float, level: str) -> None:
    [found] = window(parse_case(FILM), DEFAULT, [tension])
    # n wraps of t are one wrap of n t: so the curve, which is not whole, can be asked of the checks.
    numbers = check(parse_case(at(1, getattr(found, level) * 0.09, tension))).numbers
    shares = [
        float(numbers["edge_ratio"] or 0) / getattr(DEFAULT["edge_ratio"], level),
        float(numbers["centre_loss"] or 0) / getattr(DEFAULT["centre_loss"], level),
        float(numbers["hold_used"] or 0) / getattr(DEFAULT["hold"], level),
    ]
    assert max(shares) == pytest.approx(1, rel=1e-9)


def test_the_target_field_lies_where_the_edge_ratio_is_between_1_2_and_1_4() -> None:
    [found] = window(parse_case(FILM), DEFAULT, [120])
    for wraps, ratio in ((found.target_low, 1.2), (found.target_high, 1.4)):
        numbers = check(parse_case(at(1, wraps * 0.09, 120))).numbers
        assert numbers["edge_ratio"] == pytest.approx(ratio)


def test_there_is_no_window_without_tape_or_beside_the_web() -> None:
    bare = {key: value for key, value in FILM.items() if key not in ("tape", "bands")}
    assert window(parse_case(bare), DEFAULT, [120]) == []
    beside = FILM | {"bands": [{"end": "drive", "inner_mm": 850, "outer_mm": 870, "wraps": 1}]}
    assert window(parse_case(beside), DEFAULT, [120]) == []


def test_the_profile_carries_the_mean_strain_and_the_edge_ratio_of_the_check() -> None:
    case = parse_case(FILM)
    points, numbers = strain_across(case), check(case).numbers
    force = sum((b[0] - a[0]) * (a[1] + b[1]) / 2 for a, b in itertools.pairwise(points))
    assert force / 1.6 == pytest.approx(float(numbers["strain_pct"] or 0) / 100)
    assert max(strain for _, strain in points) * 100 == pytest.approx(numbers["edge_strain_pct"])
    assert min(strain for _, strain in points) * 100 == pytest.approx(numbers["centre_strain_pct"])


def test_a_slack_centre_carries_nothing_and_the_bands_carry_all() -> None:
    points = strain_across(parse_case(at(8, 0.3, 120)))
    strains = [strain for _, strain in points]
    assert min(strains) == 0
    assert max(strains) == pytest.approx(0.003 * 1600 / 320)
    assert all(math.isfinite(strain) for strain in strains)


def test_the_profile_of_one_end_is_mirrored_with_the_end() -> None:
    one = FILM | {"bands": [FILM["bands"][0]]}
    other = FILM | {"bands": [FILM["bands"][1]]}
    left, right = strain_across(parse_case(one)), strain_across(parse_case(other))
    assert [-y for y, _ in reversed(left)] == pytest.approx([y for y, _ in right])
    assert [e for _, e in reversed(left)] == pytest.approx([e for _, e in right])
