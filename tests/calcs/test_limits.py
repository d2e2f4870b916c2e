"""Limits are settings with a source and a version; a plant keeps its own."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from calcs.case import parse_case
from calcs.limits import DEFAULT, LimitError, Limits
from calcs.verdict import check
from tests.calcs.cases import demo_case


def test_every_limit_has_a_title_a_unit_and_a_source():
    for name, limit in DEFAULT.values.items():
        assert limit.title and limit.unit and limit.source, name
        assert limit.sense in ("max", "min")
        assert limit.caution is not None or limit.refuse is not None


def test_a_stored_set_comes_back_equal_through_json():
    assert Limits.from_dict(json.loads(json.dumps(DEFAULT.as_dict()))) == DEFAULT


def test_a_plant_changes_one_number_and_keeps_the_rest():
    own = Limits.from_dict({"version": "Tarn Hollow 2", "limits": {"edge_ratio": {"caution": 1.2, "source": "trial"}}})
    assert own["edge_ratio"].refuse == 2.0
    verdict = check(parse_case(demo_case("BO-20", "B09", "T5", 1)), own)
    assert verdict.overall == "caution"
    assert verdict.limits_version == "Tarn Hollow 2"
    assert next(c for c in verdict.checks if c.id == "edge_ratio").limit_source == "trial"
    assert check(parse_case(demo_case("BO-20", "B09", "T5", 1))).overall == "fits"


def test_a_plant_names_its_own_never_kinds():
    case = parse_case(demo_case("BO-20", "B09", "T5", 1, roller__kind="driven"))
    assert check(case).overall == "refused"
    assert check(case, Limits.from_dict({"version": "2", "never_kinds": ["nip"]})).overall == "fits"


@pytest.mark.parametrize(
    ("stored", "word"),
    [
        ({}, "version"),
        ({"version": ""}, "version"),
        ({"version": "1", "colour": 1}, "version"),
        ({"version": "1", "limits": {"beauty": {}}}, "beauty"),
        ({"version": "1", "limits": {"edge_ratio": {"colour": 1}}}, "edge_ratio.colour"),
        ({"version": "1", "limits": {"edge_ratio": {"caution": "high"}}}, "edge_ratio.caution"),
        ({"version": "1", "limits": {"edge_ratio": {"caution": float("nan")}}}, "edge_ratio.caution"),
        ({"version": "1", "limits": {"edge_ratio": {"refuse": True}}}, "edge_ratio.refuse"),
        ({"version": "1", "limits": {"edge_ratio": {"refuse": None}}}, "edge_ratio.refuse"),
        ({"version": "1", "limits": {"edge_ratio": {"caution": 3}}}, "edge_ratio"),
        ({"version": "1", "limits": {"wrap_angle": {"caution": 30}}}, "wrap_angle"),
        ({"version": "1", "limits": {"edge_ratio": {"source": " "}}}, "edge_ratio.source"),
        ({"version": "1", "limits": {"edge_ratio": {"unit": "mm"}}}, "edge_ratio.unit"),
    ],
)
def test_a_set_that_makes_no_sense_is_refused_by_name(stored, word):
    with pytest.raises(LimitError, match=word):
        Limits.from_dict(stored)


def test_the_readme_shows_every_default_limit_as_it_is():
    readme = (Path(__file__).parents[2] / "calcs" / "README.md").read_text(encoding="utf-8")
    for name, limit in DEFAULT.values.items():
        row = next(line for line in readme.splitlines() if line.startswith(f"| `{name}` |"))
        cells = [cell.strip() for cell in row.split("|")]
        shown = ["-" if value is None else f"{value:g}" for value in (limit.caution, limit.refuse, limit.target)]
        assert cells[3] == limit.unit
        assert cells[5:8] == shown
        assert cells[8] == limit.source
