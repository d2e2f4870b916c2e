"""The roller a walk names, how sure it says it is, and what it asks to look at again."""

from __future__ import annotations

import itertools
import math
import random

import pytest
from hypothesis import given
from hypothesis import strategies as st

from calcs.case import CaseError
from calcs.walk import (
    CLEAN,
    CREASE,
    NONE,
    NOT_LOOKED,
    PARENT,
    ROLLER,
    TROUGH,
    Look,
    Rates,
    beside_ranking,
    line_walk,
    look_chances,
    weights_from_margins,
)
from tests.calcs.walks import FORMS, Planted, enumerated, planted, tally, weighed

PATH = ["A01", "A02", "A03", "A04", "A05", "A06"]
WALKS = 500
"""Planted walks of the ordinary suite; twenty times as many in the soak."""


def walked(*seen: str, **answers: bool) -> list[Look]:
    looks = [Look(name, what) for name, what in zip(PATH, seen, strict=True)]
    return [Look(looks[0].position, looks[0].seen, **answers), *looks[1:]]


@pytest.mark.soak
def test_planted_walks_are_named_as_well_as_enumeration_can_and_sureness_holds_in_ten_bins(soak_factor):
    found = tally(seed=20260323, count=WALKS * soak_factor)
    print(f"{found.walks} walks: named right {found.named_right}, by enumeration {found.enumerated_right}")
    assert abs(found.named_right - found.enumerated_right) / found.walks <= 0.01
    assert found.farthest < 1e-9
    for each in found.bins:
        # few walks in a bin leave the error of drawing; in the soak the 5 points stand alone
        error = math.sqrt(0.25 / each.count) if each.count and soak_factor == 1 else 0.0
        assert abs(each.share_right - each.mean_stated) <= 0.05 + 2 * error


def test_short_walks_agree_with_every_sequence_of_truths():
    """All 3^n sequences under the chain clean, trough, crease: not even the paths are taken from the module."""
    for walk in itertools.islice((w for w in planted(5, 400) if len(w.positions) <= 7), 12):
        rates, count = walk.rates, len(walk.positions)
        table = look_chances(rates)
        answer = line_walk(walk.positions, [Look(k.position, k.seen) for k in walk.looks], walk.rates)
        weight = dict.fromkeys([*walk.positions, NONE], 0.0)
        for truth in itertools.product(range(3), repeat=count):
            chance, before = 1.0, 0
            for now in truth:
                chance *= {
                    (0, 0): 1.0,
                    (0, 1): 1 - rates.begins_as_crease,
                    (0, 2): rates.begins_as_crease,
                    (1, 1): 1 - rates.turns,
                    (1, 2): rates.turns,
                    (2, 2): 1.0,
                }.get((before, now), 0.0)
                before = now
            for look in walk.looks:
                if look.seen != NOT_LOOKED:
                    chance *= table[truth[walk.positions.index(look.position)], FORMS.index(look.seen)]
            first = next((name for name, now in zip(walk.positions, truth, strict=True) if now), NONE)
            weight[first] += chance
        ratios = [weight[name] / weight[walk.positions[-1]] for name in walk.positions]
        assert ratios == pytest.approx([chance / answer.chances[-1] for chance in answer.chances], rel=1e-9)


def test_a_clean_walk_up_to_one_roller_names_it_with_the_span_entering_it():
    found = line_walk(PATH, walked(CLEAN, CLEAN, TROUGH, CREASE, CREASE, CREASE))
    assert (found.kind, found.named, found.enters_from) == (ROLLER, "A03", "A02")
    assert found.sureness > 0.7 and found.contradictions == ()
    assert found.sentence.startswith("A03 starts it, with the span from A02 to A03")


def test_chances_add_up_to_one():
    for walk in planted(1, 50):
        found = line_walk(walk.positions, walk.looks, walk.rates, walk.prior)
        assert sum(found.chances) + found.parent + found.none == pytest.approx(1)


def test_without_a_look_the_chances_are_those_before_the_walk():
    found = line_walk(PATH, [], Rates(parent=0.2, none=0.1), prior=[1, 1, 4, 2, 1, 1])
    assert found.chances == pytest.approx([0.07, 0.07, 0.28, 0.14, 0.07, 0.07])
    assert (found.parent, found.none) == pytest.approx((0.2, 0.1))


def test_what_is_seen_everywhere_and_moves_with_the_parent_roll_comes_with_it():
    found = line_walk(PATH, walked(*[TROUGH] * 6, moves_with_parent=True))
    assert (found.kind, found.named) == (PARENT, None)
    assert line_walk(PATH, walked(*[TROUGH] * 6, moves_with_parent=False)).named == "A01"


def test_nothing_seen_anywhere_is_named_as_none():
    assert line_walk(PATH, walked(*[CLEAN] * 6)).kind == NONE


def test_clean_after_a_crease_is_said_and_both_are_to_be_walked_again():
    found = line_walk(PATH, walked(CLEAN, CREASE, CLEAN, CREASE, CREASE, CREASE))
    assert found.contradictions == ("Clean at A03 after crease at A02: walk both again.",)
    assert found.named == "A02"
    assert {look.position for look in found.next_looks[:3]} == {"A01", "A02", "A03"}


def test_trough_after_crease_two_answers_and_two_looks_that_differ_are_said():
    looks = walked(CLEAN, CREASE, TROUGH, NOT_LOOKED, CREASE, CREASE, moves_with_parent=True)
    looks += [Look("A06", CLEAN), Look("A05", CREASE, moves_with_parent=False)]
    said = " ".join(line_walk(PATH, looks).contradictions)
    for piece in (
        "Trough at A03 after crease at A02",
        "A06 was seen crease and clean",
        "at one roller and not at another",
    ):
        assert piece in said
    first = line_walk(PATH, walked(CLEAN, *[CREASE] * 5, moves_with_parent=True))
    assert "but A01 is clean" in first.contradictions[0]


def test_one_observer_saying_the_same_at_every_roller_counts_once():
    once = line_walk(PATH, walked(*[TROUGH] * 6, moves_with_parent=True))
    always = line_walk(PATH, [Look(name, TROUGH, moves_with_parent=True) for name in PATH])
    assert always.chances == once.chances


def test_tension_and_speed_point_to_causes_and_move_no_roller():
    plain = line_walk(PATH, walked(CLEAN, CLEAN, *[TROUGH] * 4))
    asked = line_walk(PATH, walked(CLEAN, CLEAN, *[TROUGH] * 4, changes_with_tension=True, changes_with_speed=True))
    assert asked.chances == plain.chances and len(asked.hints) == 2 and plain.hints == ()


@pytest.mark.parametrize("seed", range(4))
def test_the_information_of_a_next_look_is_what_it_brings_on_average(seed):
    """Each next look tried: the mean of what is left unknown, weighted by the chance of each look."""
    walk = next(w for w in planted(seed, 50) if 5 <= len(w.positions) <= 9)

    def unknown(chances):
        return -sum(chance * math.log2(chance) for chance in chances.values() if chance > 0)

    found = line_walk(walk.positions, walk.looks, walk.rates, walk.prior)
    for look in found.next_looks:
        left = 0.0
        for seen in FORMS:
            after = weighed(
                Planted(walk.positions, [*walk.looks, Look(look.position, seen)], walk.rates, walk.prior, "")
            )
            chance = sum(after.values()) / sum(weighed(walk).values())
            left += chance * unknown({name: part / sum(after.values()) for name, part in after.items()})
        assert look.bits == pytest.approx(unknown(enumerated(walk)) - left, abs=1e-9)
    assert [look.bits for look in found.next_looks] == sorted((look.bits for look in found.next_looks), reverse=True)


@given(st.lists(st.sampled_from([CLEAN, TROUGH, CREASE, NOT_LOOKED]), min_size=6, max_size=6), st.randoms())
def test_the_order_in_which_looks_are_written_does_not_matter(seen, shuffler):
    looks = walked(*seen)
    mixed = list(looks)
    shuffler.shuffle(mixed)
    assert line_walk(PATH, mixed).chances == pytest.approx(line_walk(PATH, looks).chances)


@given(st.lists(st.sampled_from([CLEAN, TROUGH, CREASE, NOT_LOOKED]), min_size=6, max_size=6), st.integers(0, 5))
def test_another_clean_look_never_makes_a_start_further_up_likelier(seen, at):
    before = line_walk(PATH, walked(*seen))
    after = line_walk(PATH, [*walked(*seen), Look(PATH[at], CLEAN)])
    assert sum(after.chances[: at + 1]) + after.parent <= sum(before.chances[: at + 1]) + before.parent + 1e-9


def test_candidates_hold_the_level_with_the_fewest():
    found = line_walk(PATH, walked(CLEAN, NOT_LOOKED, NOT_LOOKED, CREASE, CREASE, CREASE))
    assert set(found.candidates(0.8)) == {"A02", "A03", "A04"}
    assert found.candidates(0.01) == (found.named,)


def test_long_lines_do_not_run_out_of_digits():
    path = [f"R{number}" for number in range(200)]
    looks = [Look(name, CLEAN if number < 150 else CREASE) for number, name in enumerate(path)] * 5
    found = line_walk(path, looks)
    assert found.named == "R150" and found.sureness > 0.99


def test_the_nearest_to_wrinkling_is_the_likeliest_before_the_walk():
    weights = weights_from_margins([0.5, 3.0, None, 40.0, 0.9])
    assert weights[0] > weights[4] > weights[2] > weights[1] > weights[3] == 0.02
    assert line_walk(PATH[:5], [], prior=weights).named == "A01"


def test_walk_and_mechanics_are_compared_in_a_sentence():
    found = line_walk(PATH, walked(CLEAN, CLEAN, TROUGH, CREASE, CREASE, CREASE))
    assert "agree" in beside_ranking(found, ["A03", "A01"])
    assert "close to the walk" in beside_ranking(found, ["A01", "A03"])
    assert "disagree" in beside_ranking(found, ["A01", "A02", "A04", "A03"])
    assert "could not rank A03" in beside_ranking(found, ["A01"])
    assert "parent roll" in beside_ranking(line_walk(PATH, walked(*[TROUGH] * 6, moves_with_parent=True)), PATH)


@pytest.mark.parametrize(
    ("arguments", "field"),
    [
        (([], []), "positions"),
        ((["A01", "A01"], []), "positions"),
        ((PATH, [Look("B01", CLEAN)]), "looks"),
        ((PATH, [Look("A01", "wavy")]), "looks"),
        ((PATH, [], Rates(confusion=0.0)), "confusion"),
        ((PATH, [], Rates(), [1.0, 2.0]), "prior"),
    ],
)
def test_walks_that_cannot_be_are_refused_by_name(arguments, field):
    with pytest.raises(CaseError) as caught:
        line_walk(*arguments)
    assert caught.value.field == field and field in caught.value.sentence


def test_the_same_walk_gives_the_same_answer():
    draw = random.Random(2)
    walk = next(planted(draw.randrange(99), 1))
    assert line_walk(walk.positions, walk.looks) == line_walk(walk.positions, walk.looks)
