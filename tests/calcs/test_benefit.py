"""Money: what was spared, what it cost, and no figure per year from a few days without saying so."""

from __future__ import annotations

import pytest

from calcs.benefit import CANNOT_TELL, COSTS_MORE, PAYS, Cost, Priced, Saved, amount_saved, benefit, events_avoided
from calcs.case import CaseError
from calcs.evidence import Window

WASTE = Priced("Waste", "kg", Saved(400.0, 250.0, 550.0), 2.0)
BREAKS = Priced("Breaks", "breaks", Saved(2.0, -1.0, 5.0), 100.0)
TAPE = Cost("Tape and stops", 150.0)


def test_what_was_spared_is_what_the_rate_before_would_have_cost():
    found = events_avoided(Window(46, 120_000), Window(9, 130_000))
    assert found.amount == pytest.approx(46 * 130 / 120 - 9)
    assert 20 < found.low < found.amount < found.high < 65


def test_rolls_that_scatter_stretch_the_limits():
    even = events_avoided(Window(30, 30.0), Window(10, 10.0))
    wild = events_avoided(Window(30, 30.0, ((30, 15.0), (0, 15.0))), Window(10, 10.0))
    assert wild.amount == even.amount and wild.low < even.low - 5 and wild.high > even.high + 5


def test_the_sum_is_the_sum_of_its_lines():
    found = benefit([WASTE, BREAKS], [TAPE], weeks=6)
    assert (found.net, found.low, found.high) == (850.0, 250.0, 1450.0)
    assert found.verdict == PAYS


@pytest.mark.parametrize(("spent", "verdict"), [(500.0, CANNOT_TELL), (2_000.0, COSTS_MORE)])
def test_the_verdict_follows_the_limits(spent, verdict):
    assert benefit([WASTE, BREAKS], [Cost("Stops", spent)], weeks=6).verdict == verdict


@pytest.mark.parametrize(("weeks", "projection"), [(1.0, True), (3.99, True), (4.0, False), (52.0, False)])
def test_a_figure_per_year_from_under_four_weeks_carries_the_word_projection(weeks, projection):
    found = benefit([WASTE], [TAPE], weeks)
    assert found.projection is projection
    assert ("projection" in found.per_year_words.lower()) is projection
    assert found.per_year == pytest.approx(found.net * 365.25 / 7 / weeks)


def test_one_roll_cannot_tell_how_much_rolls_differ():
    with pytest.raises(CaseError, match="two or more"):
        amount_saved([(3.0, 100.0)], [(2.0, 100.0), (1.0, 100.0)])


def test_money_that_cannot_be_is_refused():
    for arguments in (([WASTE], [TAPE], 0.0), ([WASTE], [Cost("Tape", -1.0)], 4.0)):
        with pytest.raises(CaseError):
            benefit(*arguments)
