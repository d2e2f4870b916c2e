"""The command line: JSON and an exit status, or a sentence and 64."""

from __future__ import annotations

import json
import subprocess
import sys
from pathlib import Path

import pytest

from calcs import __main__ as command
from tests.calcs.cases import demo_case

ROOT = Path(__file__).parents[2]
ANSWER = {
    "strain_pct",
    "step_pct",
    "engaged_share",
    "edge_ratio",
    "centre_loss",
    "slack",
    "edge_strain_pct",
    "peak_strain_pct",
    "air_film_um",
    "traction_tape",
    "traction_bare",
    "hold_used",
    "lateral_hold_used",
    "steer_mm",
    "suggested_wraps",
    "verdict",
    "checks",
}


def written(tmp_path, case, name="CASE.json"):
    path = tmp_path / name
    path.write_text(json.dumps(case) if not isinstance(case, str) else case, encoding="utf-8")
    return str(path)


def run(capsys, *arguments):
    status = command.main(arguments)
    captured = capsys.readouterr()
    return status, captured.out, captured.err


@pytest.mark.parametrize(
    ("case", "status", "word"),
    [
        (demo_case("BO-20", "B09", "T5", 1), 0, "fits"),
        (demo_case("MN-160", "C06", "T5", 1), 1, "caution"),
        (demo_case("CP-70", "B09", "T5", 1), 2, "refused"),
        (demo_case("BO-20", "B09", "T5", 2, roller__friction=[0.2, 0.4]), 3, "cannot tell"),
    ],
)
def test_check_prints_the_answer_and_exits_by_its_word(tmp_path, capsys, case, status, word):
    got, out, err = run(capsys, "check", written(tmp_path, case))
    answer = json.loads(out)
    assert (got, answer["verdict"], err) == (status, word, "")
    assert set(answer) >= ANSWER


def test_a_slack_centre_prints_plain_json(tmp_path, capsys):
    case = demo_case("CP-70", "B09", "T5", 8)
    status, out, _ = run(capsys, "check", written(tmp_path, case))
    answer = json.loads(out, parse_constant=pytest.fail)
    assert status == 2
    assert answer["slack"] is True
    assert answer["hold_used"] is None
    assert answer["edge_ratio"] == pytest.approx(1500 / 220)


def test_size_prints_the_suggestion_for_one_and_for_several_products(tmp_path, capsys):
    files = [written(tmp_path, demo_case(name, "A05", "T1", 0), name) for name in ("SF-17", "SF-23")]
    status, out, _ = run(capsys, "size", files[0])
    assert (status, json.loads(out)["suggested_wraps"]) == (0, 4)
    status, out, _ = run(capsys, "size", *files)
    assert (status, json.loads(out)["formula_wraps"]) == (
        0,
        [pytest.approx(3.94, abs=0.01), pytest.approx(3.49, abs=0.01)],
    )


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("", "not valid JSON"),
        ("{", "not valid JSON at line 1"),
        ("[1, 2]", "must be a group"),
        ('{"web": {"width_mm": NaN}}', "NaN"),
        ('{"web": {"width_mm": -Infinity}}', "Infinity"),
        ('{"web": {"width_mm": 1, "width_mm": 2}}', "width_mm is given twice"),
        ("[" * 100_000, "nested too deeply"),
        ("1" * 5000, "absurd number"),
        (json.dumps(demo_case("BO-20", "B09", "T5", 1, web__thickness_um=-3)), "web.thickness_um is negative"),
        (json.dumps({**demo_case("BO-20", "B09", "T5", 1), "grade": 4}), "grade is not a known"),
    ],
)
def test_bad_input_gets_a_sentence_and_64(tmp_path, capsys, text, words):
    status, out, err = run(capsys, "check", written(tmp_path, text))
    assert (status, out) == (64, "")
    assert words in err
    assert "Traceback" not in err
    assert err.count("\n") == 1


def test_a_binary_a_huge_and_a_missing_file_get_a_sentence(tmp_path, capsys):
    binary, huge = tmp_path / "binary", tmp_path / "huge"
    binary.write_bytes(bytes(range(256)))
    huge.write_bytes(b" " * 10_000_000)
    for path, words in ((binary, "UTF-8"), (huge, "larger than 1000 kB"), (tmp_path / "none", "cannot be read")):
        status, out, err = run(capsys, "check", str(path))
        assert (status, out) == (64, "")
        assert words in err


@pytest.mark.parametrize("arguments", [(), ("check",), ("check", "a", "b"), ("guess", "a"), ("size",)])
def test_a_wrong_call_shows_the_usage(capsys, arguments):
    status, out, err = run(capsys, *arguments)
    assert (status, out) == (64, "")
    assert "python -m calcs check CASE.json" in err


def test_an_error_of_our_own_is_70_and_prints_no_verdict(tmp_path, capsys, monkeypatch):
    def broken(case):
        raise ZeroDivisionError("float division by zero")

    monkeypatch.setattr(command, "check", broken)
    status, out, err = run(capsys, "check", written(tmp_path, demo_case("BO-20", "B09", "T5", 1)))
    assert (status, out) == (70, "")
    assert "No verdict was made" in err


def test_it_runs_as_a_program_from_standard_input():
    case = json.dumps(demo_case("CP-70", "B09", "T5", 1))
    done = subprocess.run(
        [sys.executable, "-m", "calcs", "check", "-"], input=case, capture_output=True, text=True, cwd=ROOT, check=False
    )
    assert done.returncode == 2
    assert json.loads(done.stdout)["verdict"] == "refused"
