"""Difficulty and discrimination of a question, against figures worked out apart from this code."""

import math

import pytest

from training.item_statistics import ALL_ALIKE, POOR, item_figures


def test_nothing_is_shown_below_thirty_answers():
    found = item_figures([True, False] * 14 + [True], [0.5] * 29)
    assert (found.answers, found.enough, found.discrimination) == (29, False, None)


def test_the_point_biserial_correlation_is_the_one_of_the_textbook_formula():
    """(M1 - M0) / s * sqrt(p q) with s over n, the usual form of the coefficient; computed here by hand."""
    right = [True] * 18 + [False] * 12
    rest = [0.5 + 0.02 * n for n in range(18)] + [0.2 + 0.03 * n for n in range(12)]
    ones, zeros = rest[:18], rest[18:]
    mean = sum(rest) / 30
    spread = math.sqrt(sum((each - mean) ** 2 for each in rest) / 30)
    expected = (sum(ones) / 18 - sum(zeros) / 12) / spread * math.sqrt(0.6 * 0.4)
    found = item_figures(right, rest)
    assert found.difficulty == pytest.approx(0.6)
    assert found.discrimination == pytest.approx(expected, abs=1e-12)
    assert found.word == "tells very well"


def test_turning_the_answers_round_turns_the_sign_and_reads_as_poor():
    right, rest = [n % 3 == 0 for n in range(36)], [0.3 + 0.4 * (n % 3 == 0) + 0.001 * n for n in range(36)]
    one, other = item_figures(right, rest), item_figures([not each for each in right], rest)
    assert one.discrimination == pytest.approx(-other.discrimination)
    assert other.word == POOR


def test_a_question_that_everybody_answers_alike_has_no_discrimination():
    found = item_figures([True] * 30, [0.01 * n for n in range(30)])
    assert (found.difficulty, found.discrimination, found.word) == (1.0, None, ALL_ALIKE)
