"""The commands uncertainty, common and metal: JSON and an exit status, or a sentence and 64."""

from __future__ import annotations

import json

import pytest

from tests.calcs.cases import demo_case
from tests.calcs.test_command_line import run, written


def files(tmp_path, roller, tape, wraps, *names):
    return [written(tmp_path, demo_case(name, roller, tape, wraps), f"{name}.json") for name in names]


def test_uncertainty_prints_chances_and_gives_no_verdict(tmp_path, capsys):
    case = demo_case("BO-20", "B09", "T5", 2, state__tension_n_per_m=[90, 140])
    status, out, err = run(capsys, "uncertainty", written(tmp_path, case), "--seed", "3", "--draws", "400")
    answer = json.loads(out, parse_constant=pytest.fail)
    assert (status, err) == (0, "")
    assert (answer["seed"], answer["draws"], answer["best_wraps"]) == (3, 400, 1)
    assert 0 < answer["probability_none_refused"]["share"] < 1
    assert answer["tornado"][0]["name"] == "state.tension_n_per_m"
    assert run(capsys, "uncertainty", written(tmp_path, case), "--draws", "400", "--seed", "3")[1] == out


def test_common_prints_the_rooms_by_file_name(tmp_path, capsys):
    status, out, _ = run(capsys, "common", *files(tmp_path, "A05", "T1", 0, "SF-17", "SF-23"))
    answer = json.loads(out)
    assert (status, answer["best_wraps"], answer["wraps_on_target"]) == (0, 4, [3, 4])
    assert [room["name"] for room in answer["products"]] == ["SF-17", "SF-23"]


def test_metal_prints_the_shapes_and_writes_the_table(tmp_path, capsys):
    table = tmp_path / "lathe.csv"
    named = files(tmp_path, "B09", "T5", 1, "BO-20", "BO-35")
    status, out, _ = run(capsys, "metal", *named, "--shape", "arc", "--csv", str(table))
    answer = json.loads(out)
    assert (status, answer["best_shape"], answer["lathe_shape"]) == (0, "dog-bone", "arc")
    assert table.read_text(encoding="utf-8").startswith("# arc, fits")
    status, out, _ = run(capsys, "metal", *files(tmp_path, "B09", "T5", 1, "BO-20", "CP-70"))
    assert status == 2
    assert json.loads(out)["against"][0].startswith("Do not cut: BO-20 runs at")


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (("uncertainty",), "Usage"),
        (("uncertainty", "A", "B"), "Usage"),
        (("uncertainty", "A", "--seed"), "--seed is no option"),
        (("uncertainty", "A", "--csv", "x"), "--csv is no option"),
        (("uncertainty", "A", "--draws", "many"), "give a whole number"),
        (("uncertainty", "A", "--draws", "0"), "from 1 to 1000000"),
        (("uncertainty", "A", "--seed", "-4"), "zero or a positive"),
        (("common", "A"), "Usage"),
        (("common", "A", "NONE"), "cannot be read"),
        (("metal",), "Usage"),
        (("metal", "A", "--shape", "barrel"), "use arc, bow-tie, dog-bone"),
        (("metal", "A", "--csv", "none/such/lathe.csv"), "cannot be written"),
    ],
)
def test_a_wrong_command_gets_a_sentence_and_64(tmp_path, capsys, arguments, words):
    path = written(tmp_path, demo_case("BO-20", "B09", "T5", 1))
    status, out, err = run(capsys, *(path if part in ("A", "B") else part for part in arguments))
    assert (status, out) == (64, "")
    assert words in err
    assert err.count("\n") == 1
