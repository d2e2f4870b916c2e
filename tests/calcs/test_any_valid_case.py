"""Any case inside the accepted ranges gets a verdict: no crash, no NaN, plain JSON, words that agree."""

from __future__ import annotations

import json
import math

from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from calcs.case import BOUNDS, ROLLER_KINDS, parse_case
from calcs.readings import NOT_EVALUATED, ORDER
from calcs.sizing import suggest
from calcs.verdict import check
from tests.calcs.cases import demo_case

OPTIONAL = {
    "modulus_cd_mpa",
    "poisson_md",
    "shear_mpa",
    "yield_strain_pct",
    "wander_mm",
    "air_temp_c",
    "misalignment_mm_per_m",
    "surface_temp_c",
    "max_temp_c",
}


def numbers(low, high):
    inside = st.floats(low, high, allow_nan=False)
    return inside | st.tuples(inside, inside).map(sorted)


def part(name, left_out=()):
    bounds = {key: value for key, value in BOUNDS[name].items() if key not in left_out}
    needed = {key: numbers(*value) for key, value in bounds.items() if key not in OPTIONAL}
    optional = {key: numbers(*value) for key, value in bounds.items() if key in OPTIONAL}
    return st.fixed_dictionaries(needed, optional=optional)


BAND = st.tuples(
    st.sampled_from(["operator", "drive"]), st.floats(0, 4000), st.floats(0.5, 800), st.integers(0, 12)
).map(lambda row: {"end": row[0], "inner_mm": row[1], "outer_mm": row[1] + row[2], "wraps": row[3]})
CASES = st.fixed_dictionaries(
    {
        "web": part("web", left_out=("modulus_cd_mpa", "poisson_md")),
        "state": part("state"),
        "roller": part("roller"),
        "tape": part("tape"),
        "bands": st.lists(BAND, max_size=4),
    }
)


@settings(max_examples=150, deadline=None, suppress_health_check=[HealthCheck.too_slow, HealthCheck.data_too_large])
@given(CASES, st.sampled_from([None, *ROLLER_KINDS]), st.booleans())
def test_any_valid_case_gets_a_verdict_in_plain_numbers(content, kind, porous):
    content["roller"]["kind"] = kind
    content["web"]["porous"] = porous
    case = parse_case(content)
    verdict = check(case)
    answer = json.loads(json.dumps(verdict.as_dict(), allow_nan=False))
    assert answer["verdict"] in ORDER
    counted = [found.verdict for found in verdict.checks if found.verdict != NOT_EVALUATED]
    assert verdict.overall == max(counted, key=ORDER.index)
    for found in verdict.checks:
        for value in (found.value, found.worst, found.margin, found.uncertainty):
            assert value is None or not math.isnan(value), found
        assert found.sentence.endswith(".")
    assert not any(isinstance(value, float) and math.isnan(value) for value in verdict.numbers.values())
    assert verdict.numbers["edge_ratio"] >= 1 - 1e-9
    assert 0 <= verdict.numbers["engaged_share"] <= 1 + 1e-9
    if content["bands"]:
        suggestion = suggest(case)
        assert suggestion.bare or suggestion.verdict != "refused"


@settings(max_examples=60, deadline=None)
@given(st.floats(5, 1500), st.floats(5, 1000), st.floats(1, 250_000), st.integers(1, 8))
def test_carried_strain_never_exceeds_what_the_bands_alone_would_carry(tension, thickness, modulus, wraps):
    case = demo_case(
        "BO-20",
        "B09",
        "T5",
        wraps,
        state__tension_n_per_m=tension,
        web__thickness_um=thickness,
        web__modulus_md_mpa=modulus,
    )
    found = check(parse_case(case)).numbers
    assert 1 <= found["edge_ratio"] <= 1 / found["engaged_share"] * (1 + 1e-12)
    assert found["slack"] == (found["centre_loss"] >= 1)
