"""The corners that are tried are the worst: inner points of every range are never worse."""

from __future__ import annotations

import random

import pytest

from calcs.case import parse_case
from calcs.limits import DEFAULT
from calcs.verdict import check, check_many
from tests.calcs.cases import demo_case

RANGED = [
    demo_case(
        "BO-20",
        "B09",
        "T5",
        2,
        web__width_mm=[1560, 1620],
        web__thickness_um=[19, 21],
        web__modulus_md_mpa=[1700, 2300],
        web__yield_strain_pct=[2.5, 4],
        web__roughness_um=[0, 1],
        web__wander_mm=10,
        state__tension_n_per_m=[90, 150],
        state__speed_m_per_min=[100, 320],
        state__air_temp_c=[15, 45],
        roller__diameter_mm=[150, 220],
        roller__wrap_deg=[80, 100],
        roller__entry_span_mm=[1400, 1700],
        roller__roughness_um=[15, 25],
        roller__friction=[0.25, 0.35],
        roller__misalignment_mm_per_m=[-0.1, 0.2],
        roller__surface_temp_c=[20, 60],
        tape__thickness_mm=[0.085, 0.095],
        tape__roughness_um=[17, 22],
        tape__friction=[0.25, 0.4],
        tape__max_temp_c=[70, 90],
    ),
    # the web edge crosses edges of tape inside the ranges, and one end is wider than the other
    {
        **demo_case(
            "ML-62",
            "C06",
            "T5",
            1,
            web__width_mm=[480, 660],
            web__wander_mm=25,
            state__tension_n_per_m=[60, 140],
            roller__diameter_mm=[100, 200],
        ),
        "bands": [
            {"end": "operator", "inner_mm": 230, "outer_mm": 300, "wraps": 1},
            {"end": "operator", "inner_mm": 300, "outer_mm": 360, "wraps": 3},
            {"end": "drive", "inner_mm": 250, "outer_mm": 290, "wraps": 1},
            {"end": "drive", "inner_mm": 295, "outer_mm": 340, "wraps": 2},
        ],
    },
    # half of each half on tape: lateral hold has its crest inside the wander
    {
        **demo_case("ML-62", "C06", "T5", 1, web__width_mm=[600, 640], web__wander_mm=30),
        "bands": [{"end": end, "inner_mm": 155, "outer_mm": 390, "wraps": 1} for end in ("operator", "drive")],
    },
    demo_case("BO-35", "B04", "T5", 1, web__width_mm=[1560, 1620], web__wander_mm=20, state__tension_n_per_m=[80, 260]),
    # loose enough for a slack centre at some points
    demo_case("CP-70", "B09", "T5", 4, state__tension_n_per_m=[150, 400], roller__diameter_mm=[120, 400]),
]


def inner_point(case, draw):
    """One point inside all ranges; the wander shrinks, so that its whole path stays inside too."""
    point = {part: dict(values) if isinstance(values, dict) else values for part, values in case.items()}
    for part in ("web", "state", "roller", "tape"):
        for key, value in case[part].items():
            if isinstance(value, list):
                point[part][key] = draw.uniform(*value)
    point["web"]["wander_mm"] = draw.uniform(0, case["web"]["wander_mm"])
    return point


@pytest.mark.parametrize("number", range(len(RANGED)))
def test_a_thousand_inner_points_are_never_worse_than_the_worst_corner(number):
    draw = random.Random(20 + number)
    case = RANGED[number]
    whole = {c.id: c for c in check(parse_case(case)).checks}
    points = check_many([parse_case(inner_point(case, draw)) for _ in range(1000)])
    compared = set()
    for verdict in points:
        for found in verdict.checks:
            reported = whole[found.id]
            if found.worst is None or reported.worst is None or found.id in ("engaged_share", "rides_step"):
                continue
            sense = next(limit.sense for limit in DEFAULT.values.values() if limit.title == found.title)
            room = 1e-9 * (1 + abs(found.worst)) if abs(found.worst) != float("inf") else 0
            if sense == "max":
                assert found.worst <= reported.worst + room, found.id
            else:
                assert found.worst >= reported.worst - room, found.id
            compared.add(found.id)
    assert compared >= {"edge_ratio", "centre_loss", "hold", "lateral_hold", "hold_and_drag", "traction_bare"}


@pytest.mark.parametrize("number", range(len(RANGED)))
def test_no_inner_point_is_refused_where_the_whole_range_fits(number):
    draw = random.Random(90 + number)
    whole = {c.id: c.verdict for c in check(parse_case(RANGED[number])).checks}
    order = ["not evaluated", "fits", "caution", "cannot tell", "refused"]
    for verdict in check_many([parse_case(inner_point(RANGED[number], draw)) for _ in range(300)]):
        for found in verdict.checks:
            if found.verdict == "refused":
                assert order.index(whole[found.id]) >= order.index("cannot tell"), found.id
            if found.verdict == "caution":
                assert order.index(whole[found.id]) >= order.index("caution"), found.id


def test_a_failure_at_a_visited_point_is_refused_and_by_an_uncertain_property_cannot_be_told():
    visited = check(parse_case(demo_case("BO-20", "B09", "T5", 2, state__tension_n_per_m=[60, 180])))
    uncertain = check(parse_case(demo_case("BO-20", "B09", "T5", 2, roller__friction=[0.2, 0.4])))
    nominal = check(parse_case(demo_case("BO-20", "B09", "T5", 2)))
    assert nominal.overall == "caution"
    assert visited.overall == "refused"
    assert uncertain.overall == "cannot tell"
    hold = next(c for c in uncertain.checks if c.id == "hold")
    assert hold.where == {"roller.friction": pytest.approx(0.2), "web.offset_mm": pytest.approx(0, abs=5)}
    assert hold.uncertainty > 0.3
    assert "person certified to size" in hold.sentence


def test_refused_outranks_cannot_tell():
    case = demo_case("BO-20", "B09", "T5", 4, roller__friction=[0.05, 0.55])
    assert check(parse_case(case)).overall == "refused"


def test_the_worst_point_is_told_with_its_inputs():
    verdict = check(parse_case(demo_case("BO-20", "B09", "T5", 1, state__tension_n_per_m=[100, 140])))
    ratio = next(c for c in verdict.checks if c.id == "edge_ratio")
    assert ratio.where["state.tension_n_per_m"] == 100
    assert "at worst 1.29 (tension 100 N/m" in ratio.sentence
    assert ratio.worst == pytest.approx(1 + 0.8 * 0.0009 / (100 / 40000))
    assert ratio.margin == pytest.approx(2.0 - ratio.worst)


def test_peak_strain_is_worst_at_the_highest_tension():
    case = demo_case("BO-20", "B09", "T5", 1, state__tension_n_per_m=[80, 160], web__yield_strain_pct=3)
    verdict = check(parse_case(case))
    assert verdict.numbers["peak_strain_pct"] == pytest.approx(0.4 + 0.8 * 0.09)
    assert verdict.numbers["edge_strain_pct"] == pytest.approx(0.3 + 0.8 * 0.09)
    peak = next(c for c in verdict.checks if c.id == "peak_strain")
    assert peak.worst == pytest.approx(0.472 / 3)
