"""Plans, switching and drawing for audits."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from calcs.case import CaseError
from calcs.sampling import (
    ACCEPTED,
    ACCEPTED_BACK,
    AQLS,
    LETTERS,
    LEVELS,
    NORMAL,
    REDUCED,
    REJECTED,
    TIGHTENED,
    SamplingPlan,
    Switching,
    acceptance_probability,
    after_lot,
    code_letter,
    drawn,
    sampling_plan,
)

lots = st.integers(2, 2_000_000)
aqls = st.sampled_from(AQLS)
levels = st.sampled_from(LEVELS)
severities = st.sampled_from((NORMAL, TIGHTENED, REDUCED))


def series(state: Switching, *found: int, aql: float = 2.5, lot: int = 120, **said: bool) -> Switching:
    for count in found:
        state = after_lot(state, sampling_plan(lot, aql, severity=state.severity), count, **said)
    return state


@given(lots, lots, levels)
def test_a_larger_lot_never_has_an_earlier_letter(one, other, level):
    small, large = sorted((one, other))
    assert LETTERS.index(code_letter(small, level)) <= LETTERS.index(code_letter(large, level))


@given(lots)
def test_letters_grow_with_the_level(lot):
    special = [LETTERS.index(code_letter(lot, level)) for level in LEVELS[:4]]
    general = [LETTERS.index(code_letter(lot, level)) for level in LEVELS[4:]]
    assert special == sorted(special) and general == sorted(general) and special[-1] <= general[1]


@given(lots, aqls, levels, severities)
def test_every_arrow_ends_at_a_plan(lot, aql, level, severity):
    plan = sampling_plan(lot, aql, level, severity)
    assert 1 <= plan.sample <= lot and 0 <= plan.accept < plan.reject
    assert plan.whole_lot == (plan.sample == lot) or plan.sample < lot
    if severity != REDUCED:
        assert plan.reject == plan.accept + 1


@given(lots, st.integers(0, len(AQLS) - 2), levels)
def test_a_looser_aql_never_accepts_less_for_what_it_looks_at(lot, at, level):
    tight, loose = (sampling_plan(lot, AQLS[at + step], level) for step in (0, 1))
    share = AQLS[at] / 100
    chances = [acceptance_probability(plan.sample, plan.accept, share) for plan in (tight, loose)]
    assert chances[0] <= chances[1] + 0.02


@given(st.integers(1_201, 400_000), aqls)
def test_tightened_accepts_less_often_and_reduced_looks_at_less(lot, aql):
    normal, tight, less = (sampling_plan(lot, aql, severity=severity) for severity in (NORMAL, TIGHTENED, REDUCED))
    share = 2 * aql / 100
    chance = [acceptance_probability(plan.sample, plan.accept, share) for plan in (normal, tight)]
    assert chance[1] <= chance[0] + 1e-12 and less.sample <= normal.sample


def test_a_small_lot_is_looked_at_whole():
    plan = sampling_plan(8, 1.0)
    assert plan.whole_lot and plan.sample == 8


def test_between_accept_and_reject_a_reduced_lot_passes_and_ends_reduced_inspection():
    plan = sampling_plan(2_000, 0.65, severity=REDUCED)
    assert [plan.decide(found) for found in (1, 2, 3)] == [ACCEPTED, ACCEPTED_BACK, REJECTED]
    assert after_lot(Switching(REDUCED), plan, 2, steady=True).severity == NORMAL
    assert after_lot(Switching(REDUCED), plan, 1, steady=True).severity == REDUCED
    assert after_lot(Switching(REDUCED), plan, 0, steady=False).severity == NORMAL


def test_one_critical_finding_rejects_whatever_the_number_allows():
    plan = sampling_plan(2_000, 0.65)
    assert (plan.decide(1), plan.decide(1, critical=1)) == (ACCEPTED, REJECTED)


def test_two_of_five_rejected_tighten_and_five_accepted_in_a_row_loosen():
    assert series(Switching(), 2, 0, 0, 0, 2).severity == TIGHTENED
    assert series(Switching(), 2, 0, 0, 0, 0, 2).severity == NORMAL
    tightened = series(Switching(), 2, 2)
    assert tightened.severity == TIGHTENED
    assert series(tightened, 0, 0, 0, 0).severity == TIGHTENED
    assert series(tightened, 0, 0, 0, 0, 0).severity == NORMAL


def test_the_fifth_lot_rejected_on_tightened_stops_inspection():
    state = series(Switching(TIGHTENED), 5, 0, 5, 0, 5, 5)
    assert (state.rejected, state.stopped) == (4, False)
    state = series(state, 5)
    assert state.stopped
    with pytest.raises(CaseError, match="stopped"):
        series(state, 0)


def test_reduced_inspection_needs_score_steadiness_and_approval():
    """Acceptance number 1: two points a lot, so the fifteenth accepted lot reaches 30."""
    assert series(Switching(), *[0] * 14, steady=True, approved=True).severity == NORMAL
    assert series(Switching(), *[0] * 15, steady=True, approved=True).severity == REDUCED
    for said in ({"steady": True}, {"approved": True}):
        assert series(Switching(), *[0] * 20, **said).severity == NORMAL
    assert series(Switching(), *[0] * 14, 2, *[0] * 14, steady=True, approved=True).severity == NORMAL


def test_a_lot_that_the_next_tighter_aql_would_reject_sets_the_score_back():
    """Lot 2,000 at 0.65: acceptance number 2, one step tighter 1, so 3 points with one found, none with two."""
    assert series(Switching(), *[1] * 9, aql=0.65, lot=2_000).score == 27
    assert series(Switching(), *[1] * 9, 2, aql=0.65, lot=2_000).score == 0
    assert series(Switching(), *[1] * 10, aql=0.65, lot=2_000, steady=True, approved=True).severity == REDUCED


def test_a_lot_presented_again_does_not_count():
    plan = sampling_plan(120, 2.5)
    once = after_lot(Switching(), plan, 2)
    assert after_lot(once, plan, 2, original=False) == once


@given(st.lists(st.integers(0, 20), max_size=60))
def test_inspection_is_never_reduced_right_after_a_rejected_lot(found):
    state = Switching()
    for count in found:
        if state.stopped:
            break
        plan: SamplingPlan = sampling_plan(400, 4.0, severity=state.severity)
        count = min(count, plan.sample)
        state = after_lot(state, plan, count, steady=True, approved=True)
        if plan.decide(count) == REJECTED:
            assert state.severity != REDUCED


@pytest.mark.parametrize("lot", [30, 300])
def test_laws_agree_where_they_should(lot):
    exact = acceptance_probability(5, 0, 0.1, lot_size=lot)
    assert exact == pytest.approx(acceptance_probability(5, 0, 0.1), abs=0.06 if lot == 30 else 0.006)
    assert acceptance_probability(200, 3, 0.005, law="poisson") == pytest.approx(
        acceptance_probability(200, 3, 0.005), abs=1e-3
    )


def test_a_draw_can_be_repeated_from_its_seed_in_any_order_of_listing():
    rollers = [f"C{number:02}" for number in range(1, 11)]
    once = drawn(rollers, 6, "audit 2026-03-27")
    assert once == drawn(rollers[::-1], 6, "audit 2026-03-27") and len(set(once)) == 6
    assert once != drawn(rollers, 6, "audit 2026-03-28")
    assert drawn(rollers, 99, "x") == drawn(rollers, 10, "x")


def test_draws_favour_nobody():
    rollers = [f"C{number:02}" for number in range(1, 11)]
    counts = dict.fromkeys(rollers, 0)
    for number in range(3_000):
        for name in drawn(rollers, 3, str(number)):
            counts[name] += 1
    assert all(abs(count - 900) < 110 for count in counts.values())


@pytest.mark.parametrize(
    ("call", "field"),
    [
        (lambda: sampling_plan(1, 1.0), "lot_size"),
        (lambda: sampling_plan(100, 1.1), "aql"),
        (lambda: sampling_plan(100, 1.0, "IV"), "level"),
        (lambda: sampling_plan(100, 1.0, severity="strict"), "severity"),
        (lambda: sampling_plan(100, 1.0).decide(99), "found"),
        (lambda: acceptance_probability(5, 0, 1.5), "share"),
        (lambda: acceptance_probability(5, 0, 0.5, lot_size=4), "sample"),
        (lambda: acceptance_probability(5, 0, 0.5, law="normal"), "law"),
        (lambda: after_lot(Switching(TIGHTENED), sampling_plan(100, 1.0), 0), "plan"),
        (lambda: drawn(["a", "a"], 1, "x"), "items"),
    ],
)
def test_what_cannot_be_is_refused_by_name(call, field):
    with pytest.raises(CaseError) as caught:
        call()
    assert caught.value.field == field and field in caught.value.sentence
