"""The span over everything that may be asked of it: never NaN, never a crash, a reason for every refusal."""

import json
import math
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from calcs.__main__ import main
from calcs.case import CaseError, parse_case
from calcs.materials import shear_modulus
from calcs.span import CALCULABLE, VERIFIED, Span, SpanLoad, SpanRefused, SpanResult, SpanWeb, field_map, solve
from calcs.span_entry import entry_indicator
from calcs.span_modes import KEPT_MODES
from calcs.span_profile import RollerProfile, TapedStrip
from calcs.span_report import as_answer, span_numbers, span_report
from tests.calcs.cases import demo_case

NUMBERS = [
    "edge_shift_operator_mm",
    "edge_shift_drive_mm",
    "centre_shift_mm",
    "cd_stress_centre_mpa",
    "cd_stress_centre_mpa_bare",
    "cd_stress_min_mpa",
    "cd_stress_min_mpa_bare",
    "minor_principal_mpa",
    "minor_principal_mpa_bare",
    "md_strain_centre_pct",
    "md_strain_edge_operator_pct",
    "md_strain_edge_drive_pct",
    "md_stress_centre_mpa",
    "md_stress_edge_operator_mpa",
    "md_stress_edge_drive_mpa",
    "trough_limit_mpa",
    "wrinkle_limit_mpa",
    "critical_misalignment_mm_per_m",
    "critical_misalignment_mm_per_m_bare",
    "error_estimate",
]


def spread(low: float, high: float) -> st.SearchStrategy[float]:
    """Numbers between, evenly over their logarithm."""
    return st.floats(math.log(low), math.log(high)).map(math.exp)


def all_finite(result: SpanResult) -> bool:
    line = result.line
    arrays = (line.shift, line.md_strain, line.md_stress, line.cd_stress, line.shear_stress)
    scalars = (result.mean_shift, result.edge_ratio, result.residual, result.error_estimate, result.entry_shear_drive)
    return all(np.isfinite(array).all() for array in arrays) and all(math.isfinite(value) for value in scalars)


@settings(max_examples=60, deadline=None, derandomize=True)
@given(
    slenderness=spread(*CALCULABLE["span over width"]).filter(lambda value: 0.0101 < value < 199.0),
    ratio=spread(*CALCULABLE["CD over MD modulus"]).filter(lambda value: 0.0101 < value < 99.0),
    share=st.floats(0.0, 0.97),
    softness=spread(0.2, 3.0),
    width=spread(0.03, 8.0),
    thickness=spread(5e-6, 1e-3),
    edges=st.lists(st.floats(-0.7, 0.7), min_size=2, max_size=6, unique=True),
    height=spread(1e-6, 5e-3),
    tilt=st.floats(-0.05, 0.05),
    bridged=st.booleans(),
)
def test_no_valid_span_gives_nan_or_a_crash(
    slenderness, ratio, share, softness, width, thickness, edges, height, tilt, bridged
) -> None:
    poisson = share * min(ratio**-0.5, 5.0)
    modulus = 1.0e9
    shear = softness * shear_modulus(modulus, ratio * modulus, poisson)
    web = SpanWeb(width, thickness, modulus, ratio * modulus, poisson, shear)
    places = sorted(edge * width for edge in edges)
    strips = [TapedStrip(low, high, height) for low, high in zip(places[::2], places[1::2], strict=False) if high > low]
    profile = RollerProfile.banded(0.05, strips)
    span = Span(web, slenderness * width, 100.0)
    taped, bare = solve(span, [SpanLoad(profile, tilt, bridged), SpanLoad(RollerProfile(0.05), tilt)])
    assert all_finite(taped) and all_finite(bare)
    found = field_map(taped, 7, 9)
    assert np.isfinite(found.cd_stress).all() and np.isfinite(found.v).all()
    entry = entry_indicator(taped, bare)
    assert all(math.isfinite(lane.minor_least) for lane in entry.lanes)
    low, high = VERIFIED["span over width"]
    outside = not low <= slenderness <= high or not 0.1 <= ratio <= 10.0
    assert any("Outside the verified range" in remark for remark in taped.remarks) == outside


@pytest.mark.parametrize(
    ("changes", "word"),
    [
        ({"width": 0.0}, "width"),
        ({"width": math.nan}, "width"),
        ({"thickness": -1e-6}, "thickness"),
        ({"modulus_md": math.inf}, "MD modulus"),
        ({"modulus_cd": 0.0}, "CD modulus"),
        ({"shear": 0.0}, "shear modulus"),
        ({"poisson_md": -0.1}, "Poisson"),
        ({"poisson_md": 1.4}, "E_MD / E_CD"),
        ({"width": 500.0}, "span over width"),
        ({"width": 0.001}, "span over width"),
        ({"modulus_cd": 1.0e7}, "CD over MD modulus"),
    ],
)
def test_a_span_that_cannot_be_worked_out_is_refused_with_the_reason(changes: dict[str, float], word: str) -> None:
    sheet = {"width": 1.0, "thickness": 25e-6, "modulus_md": 4.0e9, "modulus_cd": 4.0e9, **changes}
    with pytest.raises(SpanRefused, match=word):
        solve(Span(SpanWeb(**sheet), 1.0, 100.0), [SpanLoad(RollerProfile(0.05))])


@pytest.mark.parametrize("tension", [0.0, -5.0, math.nan])
def test_a_span_without_tension_is_refused(tension: float) -> None:
    with pytest.raises(SpanRefused, match="tension"):
        solve(Span(SpanWeb(1.0, 25e-6, 4.0e9, 4.0e9), 1.0, tension), [SpanLoad(RollerProfile(0.05))])


def test_nonsense_profiles_and_tilts_are_refused() -> None:
    with pytest.raises(ValueError, match="positive radius"):
        RollerProfile(-0.05)
    with pytest.raises(ValueError, match="upper edge"):
        RollerProfile.banded(0.05, [TapedStrip(0.2, 0.1, 1e-4)])
    with pytest.raises(ValueError, match="one diameter for each"):
        RollerProfile.measured([0.0, 0.1], [0.1])
    with pytest.raises(ValueError, match="must rise"):
        RollerProfile.measured([0.0, 0.0], [0.1, 0.1])
    span = Span(SpanWeb(1.0, 25e-6, 4.0e9, 4.0e9), 1.0, 100.0)
    with pytest.raises(SpanRefused, match="misalignment"):
        solve(span, [SpanLoad(RollerProfile(0.05), math.nan)])


def test_measured_diameters_give_the_same_as_the_shape_they_were_taken_from() -> None:
    span = Span(SpanWeb(1.0, 25e-6, 4.0e9, 3.0e9), 0.8, 100.0)
    places = np.linspace(-0.55, 0.55, 221)
    taken = RollerProfile.measured(places, 0.1 + 2.0 * 4.0 * 80e-6 * places**2)
    arc, measured = solve(span, [SpanLoad(RollerProfile.arc(0.05, 1.0, 80e-6)), SpanLoad(taken)])
    assert measured.edge_shift_drive == pytest.approx(arc.edge_shift_drive, rel=2e-3)
    assert measured.cd_stress_centre == pytest.approx(arc.cd_stress_centre, rel=2e-3)
    assert measured.md_strain_centre == pytest.approx(arc.md_strain_centre, rel=2e-3)


def test_a_concave_roller_spreads_and_a_crown_gathers() -> None:
    span = Span(SpanWeb(1.0, 25e-6, 4.0e9, 4.0e9), 1.0, 100.0)
    for shape in (RollerProfile.arc, RollerProfile.bow_tie):
        concave, crown = solve(span, [SpanLoad(shape(0.05, 1.0, rise)) for rise in (40e-6, -40e-6)])
        assert concave.edge_shift_drive > 0.0 > crown.edge_shift_drive
        assert concave.cd_stress_centre > 0.0 > crown.cd_stress_centre


def test_bridging_is_said_and_bounds_the_shear_at_a_band_edge() -> None:
    span = Span(SpanWeb(1.0, 25e-6, 4.0e9, 4.0e9), 1.0, 100.0)
    profile = RollerProfile.banded(0.05, [TapedStrip(0.3, 0.6, 70e-6)])
    bridged, sharp = solve(span, [SpanLoad(profile), SpanLoad(profile, bridged=False)])
    assert any("bridging length" in remark for remark in bridged.remarks)
    assert not any("bridging length" in remark for remark in sharp.remarks)
    assert [edge.at for edge in bridged.band_edges] == [pytest.approx(0.3)]
    assert abs(bridged.band_edges[0].shear) > 0.0 and sharp.band_edges == ()
    assert bridged.centre_shift == pytest.approx(sharp.centre_shift, rel=1e-4)


def test_a_slack_centre_is_said() -> None:
    span = Span(SpanWeb(1.0, 25e-6, 4.0e9, 4.0e9), 1.0, 60.0)
    strips = [TapedStrip(0.3, 0.6, 150e-6), TapedStrip(-0.6, -0.3, 150e-6)]
    result = solve(span, [SpanLoad(RollerProfile.banded(0.05, strips))])[0]
    assert result.centre_slack and result.md_stress_least < 0.0
    assert any("centre slack" in remark for remark in result.remarks)


def test_threads_that_share_the_kept_materials_get_the_answers_of_one_thread() -> None:
    webs = [SpanWeb(1.0, 25e-6, 4.0e9, 4.0e9 * (0.5 + 0.013 * number)) for number in range(60)]

    def shift(web: SpanWeb) -> float:
        return solve(Span(web, 0.9, 100.0), [SpanLoad(RollerProfile(0.05), 1e-3)])[0].mean_shift

    KEPT_MODES.clear()
    alone = [shift(web) for web in webs]
    KEPT_MODES.clear()
    with ThreadPoolExecutor(4) as pool:
        together = list(pool.map(shift, [*webs, *webs]))
    assert together == alone + alone


def test_the_command_prints_every_number_of_the_span_and_saves_the_fields(tmp_path: Path, capsys) -> None:
    content = demo_case("ML-62", "C06", "T5", 1, roller__misalignment_mm_per_m=0.2)
    name, field = tmp_path / "case.json", tmp_path / "field.npz"
    name.write_text(json.dumps(content), encoding="utf-8")
    assert main(["span", str(name), "--field", str(field)]) == 0
    answer = json.loads(capsys.readouterr().out)
    assert all(isinstance(answer[key], float) for key in NUMBERS)
    assert isinstance(answer["method"], str) and answer["sentences"]
    with np.load(field) as saved:
        assert saved["cd_stress_pa"].shape == (saved["x_m"].size, saved["y_m"].size)
        assert np.isfinite(saved["cd_stress_pa"]).all() and np.isfinite(saved["v_m_bare"]).all()


def test_a_taped_laminate_is_held_flat_at_the_entry_while_its_span_limit_hardly_moves() -> None:
    case = parse_case(demo_case("ML-62", "C06", "T5", 1, roller__misalignment_mm_per_m=0.2))
    report = span_report(case)
    answer = as_answer(report)
    bare_lane = next(lane for lane in report.entry.lanes if not lane.raised)
    assert bare_lane.minor_least > 100e3 and bare_lane.minor_least_bare < 0.0
    limit, plain = answer["critical_misalignment_mm_per_m"], answer["critical_misalignment_mm_per_m_bare"]
    assert abs(limit / plain - 1.0) < 0.02
    assert 1.4 < answer["edge_ratio"] < 1.6
    assert all(not row["shown"] for row in answer["beside_first_order"])
    joined = " ".join(answer["sentences"])
    assert "flat" in joined and "cost" in joined and "bridging" in joined


def test_a_bare_roller_has_the_same_numbers_with_and_without_the_word_bare() -> None:
    answer = as_answer(span_report(parse_case(demo_case("CP-70", "B09", "T5", 0, roller__misalignment_mm_per_m=0.1))))
    for key in NUMBERS:
        if key.endswith("_bare"):
            assert answer[key] == answer[key.removesuffix("_bare")]
    assert answer["beside_first_order"] == [] and answer["band_edges"] == []


def test_the_command_refuses_in_one_sentence(tmp_path: Path, capsys) -> None:
    content = demo_case("ML-62", "C06", "T5", 1)
    content["roller"]["entry_span_mm"] = 10
    content["web"]["width_mm"] = 8000
    name = tmp_path / "case.json"
    name.write_text(json.dumps(content), encoding="utf-8")
    assert main(["span", str(name)]) == 64
    assert "span over width" in capsys.readouterr().err
    with pytest.raises(CaseError, match="span over width"):
        span_numbers(parse_case(content))
    name.write_text(json.dumps(demo_case("ML-62", "C06", "T5", 1)), encoding="utf-8")
    assert main(["span", str(name), "--field", str(tmp_path / "no" / "field.npz")]) == 64
    assert "cannot be written" in capsys.readouterr().err
    assert main(["span"]) == 64 and main(["span", str(name), "--map", "x"]) == 64
