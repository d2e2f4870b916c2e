"""The way to a certificate: what is asked, what counts, and what is issued at its end."""

from datetime import date, timedelta

import pytest

from plant.errors import Refused
from tests import make
from tests.training import lessons
from training import content_files
from training.models import Attendance, JobDone
from training.paths import path_of, what_is_missing
from training.queries import is_certified
from training.rules_due import Tier
from training.rules_paths import Part
from training.services.certifying import certify
from training.services.teaching import cancel_session, plan_session, record_attendance, record_practice

AT = make.AT
DAY, HOUR = timedelta(days=1), timedelta(hours=1)


@pytest.fixture(autouse=True)
def course(db, tmp_path, monkeypatch):
    make.plant()
    monkeypatch.setattr(content_files, "topics", lambda: content_files.Topics({}, {}))
    return lessons.lay_down(tmp_path)


@pytest.fixture
def trainee(cast):
    return make.person("Tilda Roos", "operator", skills="aware")


def parts(person, code, at=AT):
    return [demand.part for demand in what_is_missing(person, lessons.skill(code), at)]


def refusal(act, *args, **more):
    with pytest.raises(Refused) as refused:
        act(*args, **more)
    return refused.value


def learn_apply(cast, trainee, *, jobs=3):
    """Everything that Apply asks for, in order; Greta teaches, Ines stands beside, Dara assesses."""
    lessons.read_all(trainee, "apply", AT - 20 * DAY)
    lessons.teach(cast.greta, trainee, "apply", AT - 10 * DAY)
    for n in range(jobs):
        lessons.practise(cast.ines, trainee, "apply", AT - (8 - n) * DAY)
    lessons.sit_test(trainee, "apply", AT - 3 * DAY)
    lessons.assess(cast.dara, trainee, "apply", AT - 2 * DAY)


def test_the_first_time_everything_is_asked_and_falls_away_as_it_is_done(cast, trainee):
    whole = [Part.MODULES, Part.CLASS, Part.PRACTICE, Part.TEST, Part.PRACTICAL]
    assert parts(trainee, "apply") == whole
    lessons.read_all(trainee, "apply", AT - 20 * DAY)
    assert parts(trainee, "apply") == whole[1:]
    lessons.teach(cast.greta, trainee, "apply", AT - 10 * DAY, minutes=100)
    assert parts(trainee, "apply") == whole[1:]
    lessons.teach(cast.greta, trainee, "apply", AT - 9 * DAY, minutes=80)
    assert parts(trainee, "apply") == whole[2:]
    for n in range(3):
        lessons.practise(cast.ines, trainee, "apply", AT - (8 - n) * DAY)
    assert parts(trainee, "apply") == whole[3:]
    lessons.sit_test(trainee, "apply", AT - 3 * DAY)
    assert parts(trainee, "apply") == whole[4:]
    lessons.assess(cast.dara, trainee, "apply", AT - 2 * DAY)
    assert parts(trainee, "apply") == []


def test_what_a_skill_is_built_on_comes_first(cast):
    person = make.person("Ole Dahl", "operator")
    assert parts(person, "apply")[0] == Part.NEEDS
    assert "Aware" in what_is_missing(person, lessons.skill("apply"), AT)[0].next_step


def test_a_practical_that_the_person_has_not_signed_and_work_to_be_done_again_do_not_count(cast, trainee):
    learn_apply(cast, trainee, jobs=2)
    lessons.practise(cast.ines, trainee, "apply", AT - 2 * DAY, outcome="again")
    assert parts(trainee, "apply") == [Part.PRACTICE]
    other = make.person("Ole Dahl", "operator", skills="aware")
    lessons.assess(cast.dara, other, "apply", AT, sign=False)
    assert Part.PRACTICAL in parts(other, "apply")


def test_a_supervised_job_of_the_tape_record_counts_and_once_only(cast, trainee):
    job = JobDone.objects.create(
        person=trainee, kind="apply", at=AT - DAY, subject="A05", key="x", supervised_by=cast.ines, recorded_at=AT
    )
    have = next(
        each.have for each in path_of(trainee, lessons.skill("apply"), AT).way.demands if each.part == "practice"
    )
    assert have == 1
    lessons.practise(cast.ines, trainee, "apply", AT - DAY, job=job)
    have = next(
        each.have for each in path_of(trainee, lessons.skill("apply"), AT).way.demands if each.part == "practice"
    )
    assert have == 1
    assert refusal(lessons.practise, cast.ines, trainee, "apply", AT - DAY, job=job).code == "job-taken"
    assert refusal(lessons.practise, cast.mei, trainee, "apply", AT - DAY, job=job).code == "other-job"


def test_a_class_counts_only_if_its_trainer_held_teach_and_the_level_on_that_day(cast, trainee):
    late = make.person("Vera Klotz", "trainer", skills="aware apply teach", until=date(2026, 3, 20))
    lessons.teach(late, trainee, "apply", AT - 10 * DAY, minutes=100)
    session = lessons.teach(cast.greta, trainee, "apply", AT - 2 * DAY, minutes=100)
    session.trainer = late
    session.save()
    demand = next(each for each in what_is_missing(trainee, lessons.skill("apply"), AT) if each.part == Part.CLASS)
    assert demand.have == 100
    found = refusal(lessons.teach, late, trainee, "apply", AT)
    assert found.code == "may-not-teach" and "Greta Munro may" in found.sentence


def test_attendance_is_one_act_for_each_person_by_the_trainer_and_is_corrected_with_a_reason(cast, trainee):
    session = lessons.teach(cast.greta, trainee, "apply", AT - DAY)
    late = {"minutes": 90, "by": cast.greta, "at": AT}
    assert refusal(record_attendance, session, trainee, note="", **late).code == "no-reason"
    record_attendance(session, trainee, note="left at ten", **late)
    assert [each.minutes for each in Attendance.objects.order_by("pk")] == [180, 90]
    for change, code in (
        ({"by": cast.hanna}, "not-the-trainer"),
        ({"minutes": 181}, "minutes"),
        ({"at": AT - 5 * DAY}, "not-yet"),
    ):
        given = {"minutes": 5, "note": "again", "by": cast.greta, "at": AT} | change
        assert refusal(record_attendance, session, trainee, **given).code == code
    assert refusal(cancel_session, session, reason="no room", by=cast.greta, at=AT).code == "held"


def test_a_class_is_planned_with_sense(cast, trainee):
    given = {
        "title": "Class",
        "starts_at": AT + DAY,
        "ends_at": AT + DAY + HOUR,
        "place": "Room",
        "trainer": cast.greta,
        "invited": [trainee],
        "by": cast.hanna,
        "at": AT,
    }
    for change, code in (
        ({"by": cast.ines}, "wrong-role"),
        ({"ends_at": AT}, "span"),
        ({"title": " "}, "no-title"),
        ({"invited": [cast.greta]}, "own-class"),
        ({"trainer": cast.dara}, "may-not-teach"),
    ):
        assert refusal(plan_session, lessons.skill("apply"), **given | change).code == code
    session = plan_session(lessons.skill("apply"), **given)
    cancel_session(session, reason="trainer ill", by=cast.hanna, at=AT)
    assert refusal(record_attendance, session, trainee, minutes=5, note="", by=cast.greta, at=AT + 2 * DAY).code == (
        "cancelled"
    )


def test_practice_is_signed_by_somebody_certified_for_that_room_and_never_for_oneself(cast, trainee):
    for by, change, code in (
        (cast.hanna, {}, "supervisor-never-certified"),
        (cast.ines, {"room_kind": "food"}, "supervisor-add-on-missing"),
        (trainee, {}, "own-practice"),
        (cast.ines, {"note": ""}, "no-note"),
        (cast.ines, {"place": " "}, "no-place"),
    ):
        assert refusal(lessons.practise, by, trainee, "apply", AT, **change).code == code
    given = {"kind": "job", "place": "A05", "room_kind": "general", "outcome": "well", "note": "Wound well"}
    future = {"done_at": AT + HOUR, "confirmation": make.confirmation(cast.ines)}
    assert refusal(record_practice, trainee, lessons.skill("apply"), **given, **future).code == "future"


def test_a_complete_way_gives_a_certificate_that_names_the_rows_it_stands_on(cast, trainee):
    learn_apply(cast, trainee)
    assert not is_certified(trainee, "apply", "general", AT)
    made = certify(trainee, lessons.skill("apply"), confirmation=make.confirmation(cast.yuki))
    assert set(made.grounds) == {"attendances", "attempts", "practices", "assessments"}
    assert len(made.grounds["practices"]) == 3
    assert made.evidence.startswith("first certificate: modules read, class attended (no. ")
    assert is_certified(trainee, "apply", "general", AT + HOUR)


def test_an_incomplete_way_is_refused_with_every_part_that_is_missing(cast, trainee):
    found = refusal(certify, trainee, lessons.skill("apply"), confirmation=make.confirmation(cast.yuki))
    assert found.code == "incomplete"
    assert [line.split(":")[0] for line in found.details] == [
        "Modules read and understood",
        "Class",
        "Supervised jobs",
        "Test",
        "Practical",
    ]


def test_nobody_issues_the_own_certificate_however_complete(cast):
    lessons.read_all(cast.yuki, "size", AT - 20 * DAY)
    for act in (cast.yuki, cast.hanna):
        assert refusal(certify, cast.yuki, lessons.skill("aware"), confirmation=make.confirmation(act)).code in (
            "incomplete",
            "own-certificate",
        )


@pytest.mark.parametrize(
    ("ended", "tier", "asked"),
    [
        (date(2026, 4, 10), Tier.IN_TIME, {Part.NEEDS, Part.MODULES, Part.TEST}),
        (date(2026, 3, 5), Tier.LATE, {Part.NEEDS, Part.MODULES, Part.TEST, Part.PRACTICAL}),
        (
            date(2026, 1, 5),
            Tier.LAPSED_LONG,
            {Part.NEEDS, Part.MODULES, Part.CLASS, Part.PRACTICE, Part.TEST, Part.PRACTICAL},
        ),
    ],
)
def test_a_renewal_asks_for_more_the_longer_the_certificate_has_lapsed(cast, trainee, ended, tier, asked):
    make.certificate(trainee, "apply", until=ended)
    view = path_of(trainee, lessons.skill("apply"), AT)
    assert view.way.tier == tier
    assert {demand.part for demand in view.way.demands} == asked


def test_before_the_window_of_the_renewal_there_is_nothing_to_do(cast):
    assert path_of(cast.ines, lessons.skill("apply"), AT).opens == date(2026, 11, 1)
    assert path_of(cast.rui, lessons.skill("apply"), AT).opens is None


def test_what_was_shown_for_the_last_certificate_or_long_ago_is_not_counted_again(cast, trainee):
    learn_apply(cast, trainee)
    certify(trainee, lessons.skill("apply"), confirmation=make.confirmation(cast.yuki))
    assert Part.TEST in parts(trainee, "apply", AT + HOUR)
    other = make.person("Ole Dahl", "operator", skills="aware")
    lessons.sit_test(other, "apply", AT - 200 * DAY)
    assert Part.TEST in parts(other, "apply")


def test_an_assessor_to_be_is_shown_by_two_joint_markings_that_agree(cast):
    person = make.person("Ole Dahl", "engineer", skills="aware apply")
    demand = next(each for each in path_of(person, lessons.skill("assess"), AT).way.demands if each.part == Part.JOINT)
    assert (demand.asked, demand.have) == (2, 0)
