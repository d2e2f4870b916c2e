"""The commands evidence and sampling: an auditor's way to compute a printed figure again."""

from __future__ import annotations

import json

import pytest

from tests.calcs.test_command_line import run


def test_evidence_prints_ratio_interval_and_verdict(capsys):
    status, out, err = run(capsys, "evidence", "46", "120000", "9", "130000", "--least", "20000")
    answer = json.loads(out, parse_constant=pytest.fail)
    assert (status, err, answer["verdict"]) == (0, "", "better")
    assert [round(answer[name], 2) for name in ("ratio", "low", "high")] == [0.18, 0.08, 0.37]
    assert "120,000 m before" in answer["sentences"][0]


def test_evidence_without_an_upper_limit_prints_null(capsys):
    status, out, _ = run(capsys, "evidence", "0", "210", "3", "230", "--unit", "h")
    answer = json.loads(out, parse_constant=pytest.fail)
    assert (status, answer["ratio"], answer["high"], answer["verdict"]) == (0, None, None, "not enough evidence")


def test_sampling_prints_the_plan_after_its_arrows(capsys):
    status, out, _ = run(capsys, "sampling", "40", "2.5")
    answer = json.loads(out)
    assert (status, answer["first_letter"], answer["letter"], answer["sample"]) == (0, "D", "C", 5)
    assert json.loads(run(capsys, "sampling", "2000", "0.65", "--severity", "reduced")[1])["reject"] == 3


@pytest.mark.parametrize(
    ("arguments", "field"),
    [
        (("evidence", "46", "120000", "9"), "Usage"),
        (("evidence", "4.5", "120000", "9", "130000"), "before.events"),
        (("evidence", "1e300", "120000", "9", "130000"), "before.events"),
        (("evidence", "46", "many", "9", "130000"), "before.exposure"),
        (("evidence", "46", "1", "nan", "1"), "after.events"),
        (("evidence", "46", "1", "9", "inf"), "after.exposure"),
        (("evidence", "46", "1", "9", "1", "--least", "x"), "--least"),
        (("sampling", "40"), "Usage"),
        (("sampling", "x", "2.5"), "lot_size"),
        (("sampling", "40", "2.6"), "aql"),
        (("sampling", "40", "2.5", "--level", "IX"), "level"),
    ],
)
def test_bad_input_gets_a_sentence_and_64(capsys, arguments, field):
    status, out, err = run(capsys, *arguments)
    assert (status, out) == (64, "") and field in err
