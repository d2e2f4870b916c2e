"""The tape step: worked figures of a PET web, derived from the transport of mass (no plant or paper behind them)."""

from __future__ import annotations

import math

import numpy as np
import pytest

from calcs import strain, traction, wrinkle
from calcs.case import parse_case
from calcs.verdict import check
from tests.calcs.cases import changed

TENSION = 5.171e6 * 25e-6


def pet_case(**changes):
    """25 um PET, 1 m wide, one layer of 130 um over 100 mm at each end of a 100 mm roller."""
    case = {
        "web": {"width_mm": 1000, "thickness_um": 25, "modulus_md_mpa": 4500},
        "state": {"tension_n_per_m": TENSION, "speed_m_per_min": 1},
        "roller": {
            "diameter_mm": 100,
            "face_mm": 1200,
            "wrap_deg": 90,
            "entry_span_mm": 1000,
            "roughness_um": 20,
            "friction": 0.3,
        },
        "tape": {"thickness_mm": 0.13, "roughness_um": 20},
        "bands": [{"end": end, "inner_mm": 400, "outer_mm": 550, "wraps": 1} for end in ("operator", "drive")],
    }
    return changed(case, **changes)


def test_strains_on_tape_and_centre():
    numbers = check(parse_case(pet_case())).numbers
    assert numbers["step_pct"] == pytest.approx(0.260, rel=1e-3)
    assert numbers["centre_strain_pct"] == pytest.approx(0.0629, rel=1e-3)
    assert numbers["edge_strain_pct"] == pytest.approx(0.3229, rel=1e-3)
    assert numbers["strain_pct"] == pytest.approx(0.115, rel=1e-2)


@pytest.mark.parametrize("share", [0.01, 0.2, 0.5, 0.93])
def test_the_mean_strain_over_the_width_stays_the_line_strain(share):
    centre, edge = strain.taut_strains(0.00115, 0.0006, share)
    assert (1 - share) * centre + share * edge == pytest.approx(0.00115, rel=1e-12)


@pytest.mark.parametrize(("wraps", "shares"), [([3, 1, 0], [0.1, 0.2, 0.7]), ([5, 0], [0.3, 0.7]), ([1], [1.0])])
@pytest.mark.parametrize("x", [0.01, 0.3, 2.0, 40.0])
def test_carried_strains_average_to_the_line_strain_even_when_slack(wraps, shares, x):
    heights, widths = np.array(wraps, float), np.array(shares)
    level = strain.slack_level(x, widths.cumsum(), (widths * heights).cumsum())
    carried = np.maximum(0, heights * x - level)
    assert (widths * carried).sum() == pytest.approx(1, rel=1e-12)


def test_a_slack_centre_leaves_the_load_to_the_bands():
    numbers = check(parse_case(pet_case(state__tension_n_per_m=20))).numbers
    assert numbers["slack"]
    assert numbers["edge_ratio"] == pytest.approx(1000 / 200)
    assert numbers["hold_used"] == math.inf


def test_the_lane_needs_more_than_a_quarter_turn_can_hold():
    """ln ratio 1.033 against 0.3 x 90 degrees = 0.471: slips, and the strain is capped near 0.001841."""
    numbers = check(parse_case(pet_case())).numbers
    assert numbers["hold_need"] == pytest.approx(1.033, rel=1e-3)
    assert numbers["hold_tape"] == pytest.approx(0.471, rel=1e-3)
    assert traction.capped_strain(TENSION / (4.5e9 * 25e-6), 0.3, math.pi / 2) == pytest.approx(0.001841, rel=1e-3)


def test_half_web_displacement_of_a_slit_web():
    """w 1 m, b 0.1 m at each end, step 0.0026, L 1 m: 0.832 mm (slender, slit web, upper bound)."""
    curvature = strain.half_web_curvature(0.0026, 0.1, 0.5)
    assert strain.entry_shift(curvature, 1.0) == pytest.approx(0.832e-3, rel=1e-3)


def test_curvature_is_largest_with_half_of_the_half_covered():
    values = [strain.half_web_curvature(0.001, band, 0.5) for band in (0.2, 0.25, 0.3)]
    assert max(values) == values[1] == pytest.approx(1.5 * 0.001 / 0.5)


def test_one_end_shift_agrees_with_its_closed_form():
    case = pet_case()
    case["bands"] = case["bands"][1:]
    expected = strain.entry_shift(strain.one_end_curvature(0.0026, 0.1, 1.0), 1.0)
    assert check(parse_case(case)).numbers["steer_mm"] == pytest.approx(1000 * float(expected), rel=1e-9)


def test_bridging_beside_the_step():
    """nu 0.3: stiffness 6.44e-6 N m, 2.20 mm beside 0.13 mm of tape."""
    stiffness = wrinkle.plate_stiffness(4.5e9, 25e-6, 0.3)
    assert stiffness == pytest.approx(6.44e-6, rel=1e-2)
    assert strain.bridging_length(stiffness, 130e-6, 0.05, 129.3) == pytest.approx(2.20e-3, rel=1e-2)
    assert check(parse_case(pet_case())).numbers["bridging_mm"] == pytest.approx(2.20, rel=1e-2)


@pytest.mark.parametrize(
    ("modulus", "tension", "thickness", "slack", "double"),
    [
        (0.25e9, 43, 25e-6, 1724, 431),
        (4.5e9, 129, 25e-6, 287, 72),
        (2.5e9, 43, 25e-6, 172, 43),
        (5e9, 219, 100e-6, 109, 27),
        (69e9, 172, 25e-6, 25, 6),
    ],
)
def test_tape_height_for_a_slack_centre_and_for_twice_the_strain(modulus, tension, thickness, slack, double):
    """R 50 mm, a fifth of the web on tape: heights in um for five webs, by the same closed forms."""
    mean = tension / (modulus * thickness)
    assert mean / 0.2 * 0.05 * 1e6 == pytest.approx(slack, rel=0.02)
    assert float(strain.wraps_for_ratio(2.0, mean, 0.05, 0.2, 1e-6)) == pytest.approx(double, rel=0.05)


def test_smooth_profiles_go_slack_at_twice_and_three_times_the_line_strain():
    assert strain.concave_slack("parabola") == (pytest.approx(1 / 3), pytest.approx(3))
    assert strain.concave_slack("bow-tie") == (pytest.approx(1 / 2), pytest.approx(2))
