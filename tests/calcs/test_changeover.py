"""The order of the coming runs, and the change sheets for it."""

from __future__ import annotations

import math

import pytest

from calcs.case import CaseError
from calcs.changeover import APPLY, BARE, KEEP, REMOVE, RESIZE, Minutes, Run, TapeState, best_order, given_order
from tests.calcs.orders import by_trying, invented

BLUE = TapeState("T5", lanes=8, wraps=1, place="640-840")
TWICE = TapeState("T5", lanes=8, wraps=2, place="640-840")
SETTINGS = Minutes({"T1": 4.0, "T5": 3.0}, {"T1": 2.0, "T5": 1.5}, lockout=15.0)
CASES = [
    {},
    {"calendar": False},
    {"parallel": True},
    {"lockout": 0.0},
    {"rollers": 2, "states": 4},
    {"parallel": True, "calendar": False},
    {"rollers": 4, "states": 2},
]


@pytest.mark.parametrize("case", CASES, ids=str)
@pytest.mark.parametrize("weight", [0.0, 1.0, 3.0])
def test_the_best_order_of_five_runs_is_that_of_trying_everything(case, weight):
    for seed in range(2):
        asked = invented(seed, 5, **case)
        plan = best_order(*asked, late_weight=weight)
        assert plan.proven and plan.objective == pytest.approx(by_trying(*asked, weight, known=plan.objective))


@pytest.mark.soak
def test_the_best_order_of_seven_runs_is_that_of_trying_everything(soak_factor):
    for seed in range(2 * soak_factor):
        # two rollers with three states: more would take trying everything minutes a plan
        case = CASES[seed % len(CASES)] | {"rollers": 2, "states": 3}
        asked = invented(100 + seed, 7, **case)
        plan = best_order(*asked, late_weight=seed % 3)
        assert plan.proven and plan.objective == pytest.approx(by_trying(*asked, seed % 3, known=plan.objective))


@pytest.mark.parametrize("case", CASES, ids=str)
def test_the_tape_choices_for_a_given_order_are_those_of_trying_everything(case):
    for seed in range(6):
        asked = invented(50 + seed, 6, **case)
        plan = given_order(*asked, late_weight=1.0)
        assert plan.proven and plan.order == tuple(run.name for run in asked[0])
        assert plan.objective == pytest.approx(by_trying(*asked, 1.0, fixed=True))


@pytest.mark.parametrize("width", [1, 2, 5, 40])
def test_no_plan_is_below_the_bound_however_narrow_the_search(width):
    gaps = []
    for seed in range(12):
        asked = invented(200 + seed, 6, **CASES[seed % len(CASES)])
        plan = best_order(*asked, late_weight=2.0, width=width)
        exact = best_order(*asked, late_weight=2.0).objective
        assert plan.bound <= exact + 1e-6 <= plan.objective + 2e-6
        assert not plan.proven or plan.objective == pytest.approx(exact)
        gaps.append(plan.gap)
    if width == 1:
        assert max(gaps) > 0  # so that the test has something to test


def test_rollers_with_too_many_ways_to_be_taped_leave_a_bound_that_holds(monkeypatch):
    monkeypatch.setattr("calcs.changeover_search.MOST_TARGETS", 4)
    for seed in range(8):
        asked = invented(300 + seed, 5, rollers=3, states=3)
        plan = best_order(*asked, late_weight=1.0)
        truth = by_trying(*asked, 1.0)
        assert plan.bound <= truth + 1e-6 and plan.objective >= truth - 1e-6


def test_rollers_with_many_states_leave_a_bound_that_holds(monkeypatch):
    monkeypatch.setattr("calcs.changeover_search._MOST_STATES", 2)
    for seed in range(4):
        asked = invented(400 + seed, 5, rollers=2, states=4)
        plan = best_order(*asked, late_weight=1.0)
        assert plan.proven and plan.objective == pytest.approx(by_trying(*asked, 1.0))


def test_twelve_runs_with_tolerant_products_are_planned_for_certain():
    for seed in range(3):
        plan = best_order(*invented(seed, 12), late_weight=1.0)
        assert plan.proven and plan.bound == plan.objective and "no plan does better" in plan.sentence


def test_thirty_runs_get_a_good_order_with_its_bound_printed():
    asked = invented(3, 30)
    plan = best_order(*asked, late_weight=1.0, width=60)
    assert plan.bound <= plan.objective < given_order(*asked, late_weight=1.0).objective
    assert plan.proven or f"{plan.bound:.0f} min" in plan.sentence


def test_the_same_runs_give_the_same_plan():
    asked = invented(9, 9)
    assert best_order(*asked) == best_order(*asked)


def test_the_order_as_planned_stays_unless_another_is_better():
    for seed in range(8):
        runs, now, minutes = invented(seed, 6)
        best = best_order(runs, now, minutes)
        again = [next(run for run in runs if run.name == name) for name in best.order]
        assert best_order(again, now, minutes).order == best.order


def test_runs_in_another_order_of_entry_cost_the_same():
    runs, now, minutes = invented(11, 8)
    assert best_order(runs[::-1], now, minutes).objective == pytest.approx(best_order(runs, now, minutes).objective)


def test_a_product_that_tolerates_more_never_costs_more():
    for seed in range(6):
        runs, now, minutes = invented(seed, 6)
        freer = [
            Run(r.name, r.minutes, {p: [*s, BARE] for p, s in r.tolerates.items()}, r.release, r.due) for r in runs
        ]
        assert best_order(freer, now, minutes).objective <= best_order(runs, now, minutes).objective + 1e-6


@pytest.mark.parametrize("parallel", [False, True])
def test_every_plan_tapes_each_run_as_it_tolerates_and_its_minutes_add_up(parallel):
    for seed in range(6):
        runs, now, minutes = invented(seed, 7, parallel=parallel)
        plan = best_order(runs, now, minutes, late_weight=1.0)
        assert sorted(plan.order) == sorted(run.name for run in runs)
        tape, clock = dict(now), 0.0
        for step in plan.steps:
            for action in step.actions:
                assert action.now == tape.get(action.position, BARE)
                tape[action.position] = action.then
            assert all(tape[position] in states for position, states in step.run.tolerates.items())
            assert step.start == pytest.approx(clock + step.retape + step.idle) and step.start >= step.run.release
            clock = step.end
        assert plan.objective == pytest.approx(plan.retape + plan.idle + plan.late)
        assert clock == pytest.approx(sum(run.minutes for run in runs) + plan.retape + plan.idle)


def test_film_runs_are_put_together_and_the_paper_last():
    runs = [Run("film", 60, {"B09": [BLUE]}), Run("paper", 60, {"B09": [BARE]}), Run("matt film", 60, {"B09": [BLUE]})]
    planned, best = given_order(runs, {"B09": BLUE}, SETTINGS), best_order(runs, {"B09": BLUE}, SETTINGS)
    assert planned.retape == 15 + 12 + 15 + 24 and best.retape == 15 + 12
    assert best.order == ("film", "matt film", "paper")
    assert [step.actions[0].what for step in best.steps] == [KEEP, KEEP, REMOVE]
    assert [step.actions[0].what for step in planned.steps] == [KEEP, REMOVE, APPLY]


def test_a_due_time_breaks_up_a_group_of_like_runs():
    runs = [
        Run("film", 60, {"B09": [BLUE]}),
        Run("paper", 60, {"B09": [BARE]}, due=150),
        Run("more film", 60, {"B09": [BLUE]}),
    ]
    assert best_order(runs, {"B09": BLUE}, SETTINGS, late_weight=0).order[-1] == "paper"
    assert best_order(runs, {"B09": BLUE}, SETTINGS, late_weight=10).order == ("film", "paper", "more film")


def test_common_wraps_are_chosen_where_the_order_is_fixed():
    """The second run would do with one wrap as it is; two wraps at the first stop serve the third run too."""
    runs = [Run("a", 60, {"B09": [BLUE, TWICE]}), Run("b", 60, {"B09": [BLUE, TWICE]}), Run("c", 60, {"B09": [TWICE]})]
    plan = given_order(runs, {}, SETTINGS)
    assert [step.actions[0].then for step in plan.steps] == [TWICE] * 3
    assert plan.retape == 15 + 24


def test_work_for_a_later_run_is_done_while_the_line_waits_anyway():
    runs = [Run("a", 60, {}, release=100), Run("b", 60, {"B09": [BLUE]})]
    plan = given_order(runs, {}, SETTINGS)
    assert plan.steps[0].actions[0].what == APPLY and plan.steps[1].retape == 0
    assert (plan.retape, plan.idle) == (39.0, 61.0)


def test_all_rollers_at_once_take_as_long_as_the_longest():
    runs = [Run("a", 60, {"B04": [TapeState("T1", 3, 1)], "B09": [BLUE]})]
    assert best_order(runs, {}, SETTINGS).retape == 15 + 12 + 24
    assert best_order(runs, {}, Minutes({"T1": 4.0, "T5": 3.0}, {"T1": 2.0, "T5": 1.5}, 15.0, True)).retape == 15 + 24


def test_tape_to_other_tape_is_resized_off_and_on():
    plan = best_order([Run("a", 60, {"B09": [TWICE]})], {"B09": BLUE}, SETTINGS)
    assert (plan.steps[0].actions[0].what, plan.retape) == (RESIZE, 15 + 12 + 24)


def test_a_line_that_nobody_minds_is_left_alone():
    plan = best_order([Run("a", 60), Run("b", 30, release=100)], {"B09": BLUE}, SETTINGS)
    assert plan.retape == 0 and all(action.what == KEEP for step in plan.steps for action in step.actions)
    assert plan.order == ("a", "b") and plan.idle == 40


@pytest.mark.parametrize(
    ("runs", "now", "field"),
    [
        ([], {}, "runs"),
        ([Run("a", 1), Run("a", 2)], {}, "runs"),
        ([Run("a", math.nan)], {}, "runs"),
        ([Run("a", 1, {"B09": []})], {}, "runs"),
        ([Run("a", 1)], {"B09": TapeState("T9", 2, 1)}, "apply_per_lane"),
        ([Run(str(number), 1) for number in range(61)], {}, "runs"),
    ],
)
def test_plans_that_cannot_be_are_refused_by_name(runs, now, field):
    with pytest.raises(CaseError) as caught:
        best_order(runs, now, SETTINGS)
    assert caught.value.field == field and field in caught.value.sentence
