"""Practical assessments: independent assessor, critical steps, both signatures, some marked a second time."""

from datetime import date, timedelta
from random import Random

import pytest

from plant.audit.models import Attachment, Signature
from plant.errors import Conflict, Forbidden, Refused
from plant.people.models import RoleGrant
from tests import make
from tests.training import lessons
from training.independence import bench, cycle_start, require_independent
from training.models import Assessment, JobDone, Marking, Verdict
from training.practicals import PRACTICALS, agreement, marked_again, outcome
from training.queries_practicals import assessor_rows, second_markings_due
from training.services.assessing import (
    add_step_photo,
    begin_assessment,
    break_off,
    candidate_signs,
    end_assessment,
    mark_again,
    mark_step,
)
from training.services.suspending import suspend

AT = make.AT
DAY = timedelta(days=1)
TAPING = next(each for each in PRACTICALS if each.kind == "taping").as_record()


@pytest.fixture(autouse=True)
def works(db):
    make.plant()


@pytest.fixture
def trainee(cast):
    return make.person("Tilda Roos", "operator", skills="aware", home_shift="Early")


def refusal(act, *args, **more):
    with pytest.raises(Refused) as refused:
        act(*args, **more)
    return refused.value


def independence(assessor, person, code="apply"):
    return refusal(require_independent, assessor, person, lessons.skill(code), AT)


def test_the_taping_practical_has_fifteen_steps_seven_of_them_critical():
    critical = [n for n, step in enumerate(TAPING["steps"], start=1) if step["critical"]]
    assert (len(TAPING["steps"]), critical, TAPING["least"]) == (15, [1, 3, 4, 8, 9, 12, 14], 12)


@pytest.mark.parametrize(
    ("wrong", "mark", "passed"),
    [
        ((), "done", True),
        ((2, 5, 6), "not-done", True),
        ((2, 5, 6, 7), "not-done", False),
        ((3,), "not-done", False),
        ((12,), "not-seen", False),
        ((2, 5, 6, 7), "not-seen", False),
    ],
)
def test_passed_takes_every_critical_step_and_twelve_of_fifteen_and_not_seen_is_not_done(wrong, mark, passed):
    marks = {step: mark if step in wrong else "done" for step in range(1, 16)}
    assert outcome(TAPING, marks).passed is passed


def test_an_unmarked_step_is_never_taken_as_done():
    found = outcome(TAPING, dict.fromkeys(range(1, 15), "done"))
    assert (found.passed, found.unmarked) == (False, [15])


@pytest.mark.parametrize(("found", "passed"), [(6, True), (5, True), (4, False)])
def test_a_checker_finds_at_least_five_of_six_planted_faults(found, passed):
    steps = next(each for each in PRACTICALS if each.kind == "planted-faults").as_record()
    marks = {1: "done"} | {n + 2: "done" if n < found else "not-done" for n in range(6)}
    assert outcome(steps, marks).passed is passed
    assert not outcome(steps, marks | {1: "not-done"}).passed


def test_agreement_is_rounded_down_so_that_just_below_is_below():
    first = dict.fromkeys(range(1, 16), "done")
    assert agreement(first, first) == 100
    assert agreement(first, first | {1: "not-seen"}) == 93
    assert agreement(first, first | {1: "not-seen", 2: "not-done"}) == 86


def test_exactly_one_of_each_ten_is_marked_again_and_each_place_alike():
    chance, places = Random(1), [0] * 10
    for _ in range(3000):
        block: list[bool] = []
        for place in range(10):
            block.append(marked_again(f"{chance.random()}", place, 10, any(block)))
        assert sum(block) == 1
        places[block.index(True)] += 1
    # Chi-square with 9 degrees of freedom: 27.88 is passed by chance once in a thousand (NIST/SEMATECH e-Handbook).
    assert sum((count - 300) ** 2 / 300 for count in places) < 27.88


def test_nobody_assesses_himself_or_herself(cast):
    assert independence(cast.dara, cast.dara).code == "own-assessment"


def test_who_taught_supervised_or_coached_a_person_for_the_skill_in_this_cycle_does_not_assess(cast, trainee):
    assert cast.dara.name
    lessons.teach(cast.greta, trainee, "apply", AT - 9 * DAY)
    found = independence(cast.greta, trainee)
    assert found.code == "taught-by-assessor"
    assert "Greta Munro taught Tilda Roos for Apply on 16 March 2026" in found.sentence
    assert "Dara Whitlow may assess Tilda Roos for Apply" in found.sentence
    lessons.practise(cast.dara, trainee, "apply", AT - 2 * DAY)
    found = independence(cast.dara, trainee)
    assert "supervised" in found.sentence and "book an outside assessor" in found.sentence


def test_a_class_in_another_skill_or_one_the_person_did_not_attend_makes_no_tie(cast, trainee):
    lessons.teach(cast.greta, trainee, "aware", AT - 9 * DAY)
    lessons.teach(cast.greta, cast.mei, "apply", AT - 8 * DAY)
    require_independent(cast.greta, trainee, lessons.skill("apply"), AT)


def test_the_tie_ends_with_the_certificate_it_led_to(cast, trainee):
    lessons.teach(cast.greta, trainee, "apply", AT - 9 * DAY)
    earned = make.certificate(trainee, "apply", since=date(2026, 3, 20))
    assert cycle_start(trainee, lessons.skill("apply"), AT).date() == date(2026, 3, 19)
    require_independent(cast.greta, trainee, lessons.skill("apply"), AT)
    assert earned.founding


def test_the_direct_supervisor_does_not_assess(cast, trainee):
    boss = make.person("Udo Brenner", "supervisor", skills="aware apply assess", home_shift="early")
    other = make.person("Vera Klotz", "supervisor", skills="aware apply assess", home_shift="Night")
    assert independence(boss, trainee).code == "assessor-supervises"
    require_independent(other, trainee, lessons.skill("apply"), AT)


@pytest.mark.parametrize("code", ["assess", "apply"])
@pytest.mark.parametrize("trouble", ["lapsed", "suspended", "never-certified"])
def test_an_assessor_whose_assess_or_level_does_not_count_now_is_refused_with_the_reason(cast, trainee, code, trouble):
    other = "apply" if code == "assess" else "assess"
    assessor = make.person("Vera Klotz", "assessor", skills=f"aware {other}")
    if trouble == "lapsed":
        make.certificate(assessor, code, until=date(2026, 3, 24))
    if trouble == "suspended":
        suspend(make.certificate(assessor, code), reason="wrong marks", by=cast.hanna, at=AT)
    found = independence(assessor, trainee)
    assert found.code == f"assessor-{trouble}"
    assert cast.dara.name in independence(assessor, trainee).sentence


def test_the_role_of_assessor_alone_gives_no_right(cast, trainee):
    assessor = make.person("Only Role", "assessor", skills="aware")
    assert independence(assessor, trainee).code == "assessor-never-certified"
    RoleGrant.objects.filter(person=cast.dara).update(ended_at=AT)
    assert bench(trainee, lessons.skill("apply"), AT).trouble(cast.dara) is None


def test_who_came_to_teach_the_person_during_the_assessment_may_not_sign_it(cast, trainee):
    made = lessons.begin(cast.dara, trainee, "apply")
    for step in range(1, 16):
        mark_step(made, step, "done", by=cast.dara, at=AT)
    lessons.practise(cast.dara, trainee, "apply", AT)
    found = refusal(end_assessment, made, confirmation=make.confirmation(cast.dara, AT + DAY / 24))
    assert found.code == "taught-by-assessor"
    assert not Verdict.objects.exists()


def test_the_seed_draws_the_roller_and_what_it_was_drawn_from_is_kept(cast, trainee):
    made = [
        lessons.begin(cast.dara, make.person(f"T {n}", "operator", skills="aware"), "apply", seed=str(n))
        for n in range(12)
    ]
    assert all(each.place == Random(each.seed).choice(sorted(lessons.ROLLERS)) for each in made)
    assert len({each.place for each in made}) > 1
    assert made[0].drawn_from == sorted(lessons.ROLLERS)


def test_an_assessment_is_marked_by_its_assessor_only_and_a_mark_is_corrected_not_overwritten(cast, trainee):
    made = lessons.begin(cast.dara, trainee, "apply")
    assert refusal(mark_step, made, 1, "done", by=cast.greta, at=AT).code == "not-your-assessment"
    assert refusal(mark_step, made, 16, "done", by=cast.dara, at=AT).code == "no-step"
    assert refusal(mark_step, made, 1, "perhaps", by=cast.dara, at=AT).code == "no-mark"
    mark_step(made, 1, "done", by=cast.dara, at=AT)
    mark_step(made, 1, "not-done", note="read back the old version", by=cast.dara, at=AT)
    assert [each.mark for each in made.marks.all()] == ["done", "not-done"]
    found = refusal(end_assessment, made, confirmation=make.confirmation(cast.dara))
    assert found.code == "unmarked" and "2, 3" in found.sentence


def test_the_verdict_is_signed_by_both_and_counts_only_then(cast, trainee):
    verdict = lessons.assess(cast.dara, trainee, "apply", sign=False)
    assert verdict.outcome == "passed"
    assert refusal(candidate_signs, verdict, confirmation=make.confirmation(cast.mei)).code == "not-the-candidate"
    candidate_signs(verdict, remark="Good light", confirmation=make.confirmation(trainee))
    assert refusal(candidate_signs, verdict, confirmation=make.confirmation(trainee)).code == "signed"
    assert Signature.objects.filter(subject_type="assessment").count() == 2
    assert JobDone.objects.filter(person=cast.dara, kind="assess").count() == 1


@pytest.mark.db_both
def test_an_ended_assessment_takes_no_more_marks_photographs_or_ends(cast, trainee):
    made = lessons.assess(cast.dara, trainee, "apply").assessment
    sign = make.confirmation(cast.dara)
    for act in (
        lambda: mark_step(made, 1, "done", by=cast.dara, at=AT),
        lambda: add_step_photo(made, 1, make.photo(), by=cast.dara, at=AT),
        lambda: end_assessment(made, confirmation=sign),
        lambda: break_off(made, reason="too late", confirmation=sign),
    ):
        with pytest.raises(Conflict):
            act()


def test_a_photograph_is_looked_at_not_believed_and_kept_under_its_digest(cast, trainee):
    made = lessons.begin(cast.dara, trainee, "apply")
    kept = add_step_photo(made, 8, make.photo(), by=cast.dara, at=AT)
    assert len(kept.attachment.digest) == 64
    fake = make.photo("tail.png")
    fake.file.seek(0)
    fake.file.write(b"<script>")
    assert refusal(add_step_photo, made, 8, fake, by=cast.dara, at=AT).code == "not-a-picture"
    big = make.photo()
    big.size = 10 * 1024 * 1024 + 1
    assert refusal(add_step_photo, made, 8, big, by=cast.dara, at=AT).code == "too-big"
    assert Attachment.objects.count() == 1


def test_a_broken_off_assessment_counts_neither_as_passed_nor_as_failed(cast, trainee):
    made = lessons.begin(cast.dara, trainee, "apply")
    assert refusal(break_off, made, reason="", confirmation=make.confirmation(cast.dara)).code == "no-reason"
    verdict = break_off(made, reason="line stopped", confirmation=make.confirmation(cast.dara))
    assert (verdict.outcome, verdict.second_due) == ("broken-off", False)
    assert lessons.begin(cast.dara, trainee, "apply", AT + DAY).pk != made.pk
    assert next(row for row in assessor_rows(AT) if row.person == cast.dara).given == 0


def test_two_assessors_do_not_assess_the_same_person_at_once(cast, trainee):
    made = lessons.begin(cast.dara, trainee, "apply")
    assert lessons.begin(cast.dara, trainee, "apply").pk == made.pk
    found = refusal(lessons.begin, cast.greta, trainee, "apply")
    assert found.code == "under-way" and "Dara Whitlow" in found.sentence


def test_a_practical_of_another_skill_is_refused_with_the_ones_there_are(cast, trainee):
    found = refusal(lessons.begin, cast.dara, trainee, "apply", kind="planted-faults")
    assert found.code == "no-practical" and "Tape a roller" in found.sentence
    found = refusal(
        begin_assessment, trainee, lessons.skill("apply"), "taping", assessor=cast.dara, rollers=[], seed="x", at=AT
    )
    assert found.code == "no-roller"


def everything(mark="done", **others):
    return {step: others.get(f"s{step}", mark) for step in range(1, 16)}


def test_a_second_marking_is_by_another_independent_assessor_once(cast, trainee):
    made = lessons.assess(cast.dara, trainee, "apply").assessment
    greta, dara = make.confirmation(cast.greta), make.confirmation(cast.dara)
    assert refusal(mark_again, made, "second", everything(), confirmation=dara).code == "same-assessor"
    found = refusal(mark_again, made, "second", {1: "done"}, confirmation=greta)
    assert found.code == "unmarked"
    marking = mark_again(made, "second", everything(s2="not-seen"), confirmation=greta)
    assert (marking.agreement, marking.same_outcome) == (93, True)
    with pytest.raises(Conflict):
        mark_again(made, "second", everything(), confirmation=greta)
    taught = lessons.assess(
        cast.dara, make.person("Ole Dahl", "operator", skills="aware"), "apply", AT + DAY
    ).assessment
    lessons.teach(cast.greta, taught.person, "apply", AT + 2 * DAY)
    late = make.confirmation(cast.greta, AT + 3 * DAY)
    assert refusal(mark_again, taught, "second", everything(), confirmation=late).code == "taught-by-assessor"


def test_a_joint_marking_takes_the_level_and_counts_for_both(cast, trainee):
    made = lessons.assess(cast.dara, trainee, "apply").assessment
    found = refusal(mark_again, made, "joint", everything(), confirmation=make.confirmation(cast.hanna))
    assert found.code == "level-never-certified"
    mark_again(made, "joint", everything(s1="not-done"), confirmation=make.confirmation(cast.lena))
    marking = Marking.objects.get()
    assert (marking.agreement, marking.same_outcome) == (93, False)
    assert set(JobDone.objects.filter(kind="joint-marking").values_list("person__name", flat=True)) == {
        "Lena Oduya",
        "Dara Whitlow",
    }


def test_of_ten_assessments_one_waits_for_a_second_marking_until_it_has_one(cast):
    for n in range(10):
        lessons.assess(cast.dara, make.person(f"T {n}", "operator", skills="aware"), "apply", AT + n * DAY)
    assert Assessment.objects.count() == 10
    (due,) = second_markings_due()
    mark_again(due, "second", everything(), confirmation=make.confirmation(cast.greta, AT + 20 * DAY))
    assert not second_markings_due().exists()
    row = next(row for row in assessor_rows(AT) if row.person == cast.dara)
    assert (row.given, row.passed, row.pass_percent, row.agreement, row.agrees) == (10, 10, 100, 100, True)


def test_refusals_of_a_forbidden_hand_are_forbidden_not_only_refused(cast, trainee):
    made = lessons.begin(cast.dara, trainee, "apply")
    with pytest.raises(Forbidden):
        mark_step(made, 1, "done", by=trainee, at=AT)
