"""Tests: drawn by topic with a seed, marked on the server, tried again only by the rules."""

from collections import Counter
from datetime import timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from plant.audit.models import Signature
from plant.errors import Conflict, Forbidden, Refused
from tests import make
from tests.training import lessons
from training import content_files
from training.models import Answer, Attempt, AttemptResult
from training.rules_tests import Item, Past, draw, fitting, is_passed, may_try, quotas
from training.services.content import retire_question
from training.services.testing import begin_attempt, close_left_attempts, coach, hand_in, keep_picks

AT = make.AT
HOUR, DAY = timedelta(hours=1), timedelta(days=1)


@given(st.dictionaries(st.text("abc", min_size=1, max_size=3), st.integers(1, 12), min_size=1), st.data())
def test_quotas_add_up_take_no_more_than_there_is_and_leave_no_topic_out_while_there_is_room(available, data):
    count = data.draw(st.integers(1, sum(available.values())))
    found = quotas(available, count)
    assert sum(found.values()) == count
    assert all(0 < share <= available[topic] for topic, share in found.items())
    if count >= len(available):
        assert set(found) == set(available)


def test_quotas_that_cannot_be_met_are_replaced_by_shares_and_those_that_can_are_kept():
    available = {"causes": 4, "safety": 4}
    assert fitting({"causes": 1, "safety": 3}, available, 4) == {"causes": 1, "safety": 3}
    assert fitting({"causes": 1, "safety": 5}, available, 6) == {"causes": 3, "safety": 3}
    assert fitting({"causes": 1}, available, 4) == {"causes": 2, "safety": 2}


def test_the_same_seed_draws_the_same_paper_and_another_seed_another():
    bank = [Item(n, f"topic {n % 3}", False) for n in range(30)]
    assert draw(bank, 12, "one") == draw(list(reversed(bank)), 12, "one")
    assert draw(bank, 12, "one") != draw(bank, 12, "two")
    assert all(sorted(order) == [0, 1, 2, 3] for _, order in draw(bank, 12, "one"))


def test_over_many_seeds_the_right_option_stands_on_every_place_alike():
    """Chi-square with 3 degrees of freedom: 16.27 is passed by chance once in a thousand (NIST/SEMATECH e-Handbook)."""
    bank = [Item(n, "topic", False) for n in range(20)]
    places = Counter(order.index(2) for seed in range(400) for _, order in draw(bank, 5, str(seed)))
    assert sum((places[n] - 500) ** 2 / 500 for n in range(4)) < 16.27


@pytest.mark.parametrize(
    ("right", "asked", "safety_wrong", "percent", "safety_all", "passed"),
    [
        (8, 10, 0, 80, False, True),
        (7, 10, 0, 80, False, False),
        (16, 20, 0, 80, True, True),
        (19, 20, 1, 80, True, False),
        (19, 20, 1, 80, False, True),
        (13, 15, 0, 85, False, True),
        (12, 15, 0, 85, False, False),
        (9, 10, 0, 90, False, True),
        (8, 10, 0, 90, False, False),
        (20, 25, 0, 80, False, True),
    ],
)
def test_a_test_is_passed_by_the_share_right_and_where_it_says_so_by_every_safety_question(
    right, asked, safety_wrong, percent, safety_all, passed
):
    assert is_passed(right, asked, safety_wrong, pass_percent=percent, safety_all=safety_all) is passed


def test_two_tries_then_a_day_and_coaching_then_back_to_the_modules_then_anew():
    fails = [Past(AT, False)]
    assert may_try(fails, coached_at=[], reread_at=None, at=AT + HOUR).ok
    fails.append(Past(AT + HOUR, False))
    assert may_try(fails, coached_at=[], reread_at=None, at=AT + 3 * DAY).code == "coaching-first"
    assert may_try(fails, coached_at=[AT], reread_at=None, at=AT + 3 * DAY).code == "coaching-first"
    early = may_try(fails, coached_at=[AT + 2 * HOUR], reread_at=None, at=AT + DAY)
    assert (early.code, early.from_) == ("pause", AT + HOUR + DAY)
    assert may_try(fails, coached_at=[AT + 2 * HOUR], reread_at=None, at=AT + DAY + HOUR).ok
    fails.append(Past(AT + 2 * DAY, False))
    assert may_try(fails, coached_at=[AT + 3 * DAY], reread_at=None, at=AT + 9 * DAY).code == "back-to-modules"
    assert may_try(fails, coached_at=[], reread_at=AT + DAY, at=AT + 9 * DAY).code == "back-to-modules"
    assert may_try(fails, coached_at=[], reread_at=AT + 4 * DAY, at=AT + 9 * DAY).ok
    fails.append(Past(AT + 5 * DAY, False))
    assert may_try(fails, coached_at=[], reread_at=AT + 4 * DAY, at=AT + 9 * DAY).ok


def test_a_pass_between_forgets_the_failures_before():
    past = [Past(AT, False), Past(AT + HOUR, True), Past(AT + 2 * HOUR, False)]
    assert may_try(past, coached_at=[], reread_at=None, at=AT + 3 * HOUR).ok


@pytest.fixture
def course(db, tmp_path, monkeypatch):
    make.plant()
    content_files.topics.cache_clear()
    monkeypatch.setattr(content_files, "topics", lambda: content_files.Topics({}, {}))
    return lessons.lay_down(tmp_path)


@pytest.mark.parametrize(
    ("code", "asked", "percent"),
    [("aware", 10, 80), ("apply", 20, 80), ("check", 15, 85), ("size", 25, 80), ("food", 10, 90)],
)
def test_each_level_draws_its_number_of_questions_from_every_topic(cast, course, code, asked, percent):
    attempt = begin_attempt(cast.hanna, lessons.skill(code), lang="en", seed="x", at=AT)
    assert attempt.drawn.count() == asked
    assert attempt.paper["pass_percent"] == percent
    assert {row.version.topic for row in attempt.drawn.select_related("version")} == set(lessons.TOPICS)


def test_an_apply_test_with_one_safety_question_wrong_is_not_passed_whatever_the_score(cast, course):
    attempt = begin_attempt(cast.hanna, lessons.skill("apply"), lang="en", seed="x", at=AT)
    result = hand_in(attempt, lessons.answers(attempt, 1, wrong_safety=True), by=cast.hanna, at=AT + HOUR / 2)
    assert (result.right, result.safety_wrong, result.passed) == (19, 1, False)
    attempt = begin_attempt(cast.hanna, lessons.skill("apply"), lang="en", seed="y", at=AT + HOUR)
    result = hand_in(attempt, lessons.answers(attempt, 4), by=cast.hanna, at=AT + HOUR * 1.5)
    assert (result.right, result.safety_wrong, result.passed) == (16, 0, True)


@pytest.mark.db_both
def test_a_test_is_handed_in_once_and_by_nobody_else(cast, course):
    attempt = begin_attempt(cast.ines, lessons.skill("aware"), lang="en", seed="x", at=AT)
    ticks = lessons.answers(attempt)
    for act in (hand_in, keep_picks):
        with pytest.raises(Forbidden) as refused:
            act(attempt, ticks, by=cast.mei, at=AT)
        assert refused.value.code == "not-your-test"
    assert hand_in(attempt, ticks, by=cast.ines, at=AT).passed
    for act in (hand_in, keep_picks):
        with pytest.raises(Conflict) as refused:
            act(attempt, lessons.answers(attempt, 9), by=cast.ines, at=AT)
        assert refused.value.code == "handed-in"
    assert AttemptResult.objects.count() == 1 and Answer.objects.filter(right=True).count() == 10


def test_beginning_twice_gives_the_same_paper_back(cast, course):
    first = begin_attempt(cast.ines, lessons.skill("aware"), lang="en", seed="x", at=AT)
    again = begin_attempt(cast.ines, lessons.skill("aware"), lang="en", seed="other", at=AT + timedelta(minutes=3))
    assert (again.pk, again.seed) == (first.pk, "x")


def test_after_its_time_what_was_kept_is_marked_and_what_is_sent_then_is_not_looked_at(cast, course):
    attempt = begin_attempt(cast.ines, lessons.skill("aware"), lang="en", seed="x", at=AT)
    assert attempt.closes_at - AT == timedelta(minutes=30)
    right = lessons.answers(attempt)
    keep_picks(attempt, {place: right[place] for place in (1, 2, 3)}, by=cast.ines, at=AT)
    result = hand_in(attempt, right, by=cast.ines, at=attempt.closes_at + timedelta(minutes=1))
    assert (result.right, result.late, result.passed) == (3, True, False)


def test_an_attempt_left_lying_is_closed_and_counts_before_the_next_is_drawn(cast, course):
    left = begin_attempt(cast.ines, lessons.skill("aware"), lang="en", seed="x", at=AT)
    fresh = begin_attempt(cast.ines, lessons.skill("aware"), lang="en", seed="y", at=AT + DAY)
    assert fresh.pk != left.pk
    closed = AttemptResult.objects.get(attempt=left)
    assert (closed.passed, closed.at) == (False, left.closes_at)
    assert close_left_attempts(at=fresh.closes_at) == 0
    assert [close_left_attempts(at=fresh.closes_at + HOUR) for _ in range(2)] == [1, 0]


def test_the_rules_of_trying_again_hold_in_the_service_and_say_who_can_help(cast, course):
    assert cast.greta.name
    for hour in (0, 1):
        assert not lessons.sit_test(cast.hanna, "aware", AT + hour * HOUR, wrong=9).passed
    with pytest.raises(Refused) as refused:
        lessons.sit_test(cast.hanna, "aware", AT + 3 * DAY)
    assert refused.value.code == "coaching-first" and "Greta Munro" in refused.value.sentence
    coach(cast.hanna, lessons.skill("aware"), note="Went through strain", by=cast.greta, at=AT + 2 * HOUR)
    with pytest.raises(Refused) as refused:
        lessons.sit_test(cast.hanna, "aware", AT + 20 * HOUR)
    assert refused.value.code == "pause" and "26 March 2026 11:05" in refused.value.sentence
    assert not lessons.sit_test(cast.hanna, "aware", AT + 2 * DAY, wrong=9).passed
    with pytest.raises(Refused) as refused:
        lessons.sit_test(cast.hanna, "aware", AT + 9 * DAY)
    assert refused.value.code == "back-to-modules"


def test_coaching_is_recorded_by_a_trainer_who_may_teach_the_level_and_by_nobody_for_oneself(cast, course):
    for by, code in ((cast.hanna, "wrong-role"), (cast.greta, "own-coaching")):
        with pytest.raises(Refused) as refused:
            coach(cast.greta if by == cast.greta else cast.ines, lessons.skill("apply"), note="Talked", by=by, at=AT)
        assert refused.value.code == code
    with pytest.raises(Refused) as refused:
        coach(cast.ines, lessons.skill("size"), note="Talked", by=cast.greta, at=AT)
    assert refused.value.code == "may-not-teach" and "Size" in refused.value.sentence


def test_a_test_read_aloud_takes_two_others_who_both_sign(cast, course):
    aware = lessons.skill("aware")
    for reader, witness in ((cast.mei, None), (cast.ines, cast.mei), (cast.mei, cast.mei)):
        with pytest.raises(Refused) as refused:
            begin_attempt(cast.ines, aware, lang="en", seed="x", at=AT, reader=reader, witness=witness)
        assert refused.value.code in ("two-for-oral", "three-people")
    attempt = begin_attempt(cast.ines, aware, lang="en", seed="x", at=AT, reader=cast.mei, witness=cast.hanna)
    assert attempt.closes_at - AT == HOUR
    sign = make.confirmation
    for reader, witness, code in (
        (None, None, "no-reader"),
        (sign(cast.mei), None, "no-witness"),
        (sign(cast.hanna), sign(cast.mei), "no-reader"),
    ):
        with pytest.raises(Refused) as refused:
            hand_in(attempt, lessons.answers(attempt), by=cast.ines, at=AT, reader=reader, witness=witness)
        assert refused.value.code == code
    result = hand_in(
        attempt, lessons.answers(attempt), by=cast.ines, at=AT, reader=sign(cast.mei), witness=sign(cast.hanna)
    )
    assert result.passed and Signature.objects.filter(subject_type="attempt").count() == 2


def test_a_test_read_aloud_that_nobody_signed_for_is_not_passed(cast, course):
    aware = lessons.skill("aware")
    attempt = begin_attempt(cast.ines, aware, lang="en", seed="x", at=AT, reader=cast.mei, witness=cast.hanna)
    keep_picks(attempt, lessons.answers(attempt), by=cast.ines, at=AT)
    begin_attempt(cast.ines, aware, lang="en", seed="y", at=AT + DAY)
    result = AttemptResult.objects.get(attempt=attempt)
    assert (result.right, result.passed) == (10, False)


def test_a_retired_question_is_drawn_no_more_and_keeps_its_answers(cast, course):
    lessons.sit_test(cast.ines, "size", AT)
    old = Attempt.objects.get().drawn.select_related("version__question").first().version.question
    retire_question(old, reason="Too easy to guess", by=cast.greta, at=AT)
    before = Answer.objects.filter(drawn__version__question=old).count()
    for n, person in enumerate((cast.mei, cast.tomas, cast.hanna, cast.kwame)):
        attempt = begin_attempt(person, lessons.skill("size"), lang="en", seed=str(n), at=AT)
        assert not attempt.drawn.filter(version__question=old).exists()
    assert Answer.objects.filter(drawn__version__question=old).count() == before == 1


def test_a_bank_that_is_too_small_is_said_with_the_number(cast, db, tmp_path):
    make.plant()
    lessons.lay_down(tmp_path, questions=12)
    with pytest.raises(Refused, match="draws 25 questions and the bank has 12") as refused:
        begin_attempt(cast.ines, lessons.skill("size"), lang="en", seed="x", at=AT)
    assert refused.value.code == "bank-too-small"


def test_guests_take_no_test_and_a_level_without_one_says_so(cast, course):
    guest = make.person("Pia Hollander", "guest", employer="outside")
    for person, code, refusal in ((guest, "aware", "outside"), (cast.ines, "teach", "no-test")):
        with pytest.raises(Refused) as refused:
            begin_attempt(person, lessons.skill(code), lang="en", seed="x", at=AT)
        assert refused.value.code == refusal
