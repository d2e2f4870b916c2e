"""After the tape is on: restart, looks, handover, trainees, giving up, late reports and what contradicts itself."""

import threading
import uuid
from datetime import timedelta

import pytest
from django.db import connection

from plant.errors import Conflict, Forbidden, Refused
from rollers.demo import hands
from rollers.models import Application, Deviation, Handover, Lockout, Piece, PieceFact, TapeFact, Task
from rollers.queries_application import (
    conflict_on,
    lock_of,
    looks_due,
    pieces_on,
    reported_only,
    restarts_wanted,
    unfinished_jobs,
)
from rollers.queries_registry import tape_state
from rollers.rules_application import AFTER, Look, RestartStep, after_restart, is_worse, look_due, may_follow
from rollers.services.applications import begin_application, void_application
from rollers.services.checking import check_tape
from rollers.services.handing_over import hand_over_job
from rollers.services.judging import Done
from rollers.services.looking import look_bare, record_look
from rollers.services.reporting import report_done
from rollers.services.restarting import record_restart
from rollers.services.runs import plan_run, release_run
from rollers.services.settling import confirm_report, resolve_conflict
from rollers.services.spot import Sent
from tests import make
from tests.rollers.scenes import both, line_a, line_b, now, taped_b
from training.models import JobDone

pytestmark = pytest.mark.django_db
LATER = make.AT + timedelta(minutes=15)


def stretch(cast):
    scene = line_a(cast)
    version = scene.recipe("A05", ["SF-17"], make.stock("T1"), both(600, 792, 4))
    scene.sheet("SF-17", A05=version)
    return scene, version


def job(scene, code="A05"):
    return Application.objects.filter(position=scene[code]).latest("pk")


def body(scene, code="A05"):
    return scene[code].mountings.get(removed_at=None).body


def released(scene, product="SF-17", tension=50, speed=280, at=make.AT):
    run = plan_run(
        path=scene.path,
        version=scene.versions[product],
        tension_n_per_m=tension,
        speed_m_per_min=speed,
        starts_at=at,
        by=scene.cast.hanna,
        at=at,
    )
    release_run(run, confirmation=make.confirmation(scene.cast.hanna, at))
    return run


def restart(scene, step, grade, *, by, code="A05", **fields):
    usual = {"crawl": (30, 2), "half": (140, 5), "full": (280, 30)}[step]
    given = {"speed": usual[0], "minutes": usual[1], "downstream": True, "at": now(scene[code])} | fields
    return record_restart(scene[code], step=step, grade=grade, by=by, **given)


# --- states ---------------------------------------------------------------------------------------------------


def test_no_state_of_a_taping_leads_back_to_one_before_it():
    """On every way forward no state is met twice; check and restart come in either order, each once."""

    def ways(state, met):
        assert state not in met, (state, met)
        for following in AFTER[state]:
            if {state, following} != {"checked", "restart"}:
                ways(following, (*met, state))

    ways("planned", ())
    assert AFTER["removed"] == () and AFTER["void"] == ()
    assert not may_follow("partial", "applied") and may_follow("partial", "removed")
    later = {"begun": True, "all_passed": False}
    assert after_restart("measured", begun=False, all_passed=False, checked=False) == "restart"
    assert after_restart("checked", begun=False, all_passed=False, checked=True) == "restart"
    assert after_restart("checked", **later, checked=True) == "checked"
    assert after_restart("restart", **later, checked=True) == "restart"


# --- restart --------------------------------------------------------------------------------------------------


def test_verified_is_checked_and_three_restart_steps_in_either_order_in_a_general_room(cast):
    scene, version = stretch(cast)
    scene.tape("A05", version, by=cast.ines)
    released(scene)
    restart(scene, "crawl", 1, by=cast.ines)
    assert job(scene).state == "restart"
    check_tape(scene["A05"], pieces=8, tail_trails=True, by=cast.dara, at=make.AT)
    assert job(scene).state == "checked"
    restart(scene, "half", 0, by=cast.ines)
    assert job(scene).verified_at is None
    restart(scene, "full", 0, by=cast.ines)
    assert job(scene).state == "verified" and job(scene).verified_at == make.AT


def test_the_check_verifies_where_the_three_steps_were_recorded_before_it(cast):
    scene, version = stretch(cast)
    scene.tape("A05", version, by=cast.ines)
    released(scene)
    for step in ("crawl", "half", "full"):
        restart(scene, step, 0, by=cast.ines)
    assert job(scene).state == "restart"
    check_tape(scene["A05"], pieces=8, tail_trails=True, by=cast.dara, at=make.AT)
    assert job(scene).state == "verified"


def test_a_restart_that_was_not_recorded_keeps_the_tape_unverified_and_the_next_run_still_asks(cast):
    scene, version = stretch(cast)
    scene.tape("A05", version, by=cast.ines, checker=cast.dara)
    released(scene)
    restart(scene, "crawl", 0, by=cast.ines)
    assert job(scene).verified_at is None
    assert [(row.pk, step) for row, step in restarts_wanted([scene["A05"]])] == [(job(scene).pk, "half")]


def test_the_three_steps_come_in_their_order_slow_enough_and_long_enough(cast):
    scene, version = stretch(cast)
    scene.tape("A05", version, by=cast.ines, checker=cast.dara)
    with pytest.raises(Refused, match="Line A is not released"):
        restart(scene, "crawl", 0, by=cast.ines)
    released(scene)
    for fields, words in (
        ({"step": "half"}, "next is crawl"),
        ({"step": "crawl", "speed": 31}, "30 m/min at most"),
        ({"step": "crawl", "minutes": 1.9}, "2 min at least"),
        ({"step": "crawl", "downstream": False}, "two rollers after it"),
    ):
        step = fields.pop("step")
        with pytest.raises(Refused, match=words):
            restart(scene, step, 0, by=cast.ines, **fields)
    restart(scene, "crawl", 0, by=cast.ines)
    restart(scene, "half", 0, by=cast.ines)
    with pytest.raises(Refused, match="or one whole roll"):
        restart(scene, "full", 0, by=cast.ines, minutes=12)
    assert restart(scene, "full", 0, by=cast.ines, minutes=12, one_roll=True).details["verified"]


def test_a_grade_worse_by_one_at_any_step_says_back_off_and_does_not_pass(cast):
    scene, version = stretch(cast)
    scene.tape("A05", version, by=cast.ines, checker=cast.dara)
    released(scene)
    restart(scene, "crawl", 1, by=cast.ines, grade_before=3)
    fact = restart(scene, "half", 2, by=cast.ines)
    assert not fact.details["passed"]
    task = Task.objects.get(kind="reduce")
    assert "Back off" in task.sentence and task.application == job(scene)
    with pytest.raises(Refused, match="next is half speed"):
        restart(scene, "full", 0, by=cast.ines)
    assert is_worse(1, 0, []) and not is_worse(0, 0, [RestartStep("crawl", 0)])


def test_in_a_food_room_the_second_person_checks_before_the_line_restarts(cast):
    scene = line_b(cast)
    nine = scene.recipe("B09", ["BO-20"], make.stock("T5"), both(640, 840, 1))
    scene.sheet("BO-20", B09=nine)
    scene.tape("B09", nine, by=cast.tomas)
    with pytest.raises(Refused, match="against this release"):
        released(scene, "BO-20", 120, 250)
    check_tape(scene["B09"], pieces=8, tail_trails=True, by=cast.yuki, at=make.AT)
    released(scene, "BO-20", 120, 250)
    assert restart(scene, "crawl", 0, by=cast.tomas, code="B09").state == "taped"
    assert job(scene, "B09").state == "restart"


# --- looks ----------------------------------------------------------------------------------------------------

SETTINGS = {
    "look_days_general": 1.0,
    "look_shifts_strict": 1.0,
    "look_grace_pct": 25.0,
    "look_grace_hours": 24.0,
    "first_look_minutes": 30.0,
}


def due(room, **fields):
    return look_due(make.AT, room_kind=room, controls=SETTINGS, **fields)


def test_an_overdue_look_has_a_quarter_of_its_interval_as_grace_in_general_rooms_and_none_in_strict_ones():
    day, hour = timedelta(days=1), timedelta(hours=1)
    assert due("general") == Look(make.AT + day, make.AT + day + 6 * hour)
    assert due("food") == Look(make.AT + 8 * hour, make.AT + 8 * hour)
    assert due("general").word(make.AT + day + hour) == "due"
    assert due("general").word(make.AT + day + 7 * hour) == "overdue"
    assert due("medical").word(make.AT + 8 * hour) == "overdue"


def test_grace_is_never_longer_than_a_day():
    week = SETTINGS | {"look_days_general": 7.0}
    look = look_due(make.AT, room_kind="general", controls=week)
    assert look.late - look.due == timedelta(hours=24)


def test_watch_halves_the_next_interval():
    assert due("general", result="watch").due == make.AT + timedelta(hours=12)
    assert due("food", result="watch").due == make.AT + timedelta(hours=4)


def test_strict_rooms_are_looked_at_once_a_shift_by_its_end():
    begins, ends = make.AT - timedelta(hours=3), make.AT + timedelta(hours=5)
    before = begins - timedelta(hours=4)
    strict = {"room_kind": "medical", "controls": SETTINGS, "shift": (begins, ends)}
    assert look_due(before, **strict).due == ends
    assert look_due(make.AT, **strict).due == make.AT + timedelta(hours=8)
    assert look_due(before - timedelta(hours=8), **strict).word(make.AT) == "overdue"


def test_the_first_look_comes_half_an_hour_after_the_release(cast):
    scene, version = stretch(cast)
    scene.tape("A05", version, by=cast.ines, checker=cast.dara)
    first = make.AT + timedelta(minutes=1)
    released(scene, at=first)
    (row,) = looks_due([scene["A05"]], first)
    assert row.look.due == first + timedelta(minutes=30) and row.word == "later"
    record_look(scene["A05"], result="ok", defects=(), pieces_seen=8, by=cast.sol, at=first)
    (row,) = looks_due([scene["A05"]], first)
    assert row.look.due == first + timedelta(days=1)


def test_a_look_that_fails_opens_work_to_stop_and_mend(cast):
    scene, version = stretch(cast)
    scene.tape("A05", version, by=cast.ines)
    with pytest.raises(Refused, match="choose at least one defect"):
        record_look(scene["A05"], result="fail", defects=(), pieces_seen=8, by=cast.ines, at=make.AT)
    record_look(scene["A05"], result="fail", defects=["lifted"], pieces_seen=8, by=cast.ines, at=make.AT)
    task = Task.objects.get(kind="stop-and-fix")
    assert "an edge or end is lifted" in task.sentence and task.for_role == "supervisor"
    scene.remove("A05", by=cast.ines)
    task.refresh_from_db()
    assert task.outcome == "The tape came off."


def test_a_look_that_sees_fewer_pieces_is_not_fit_whatever_was_chosen_and_calls_qa(cast):
    scene, _, _ = taped_b(cast)
    fact = record_look(scene["B09"], result="ok", defects=(), pieces_seen=7, by=cast.tomas, at=make.AT)
    assert fact.details["result"] == "fail" and fact.pieces == 8
    assert Deviation.objects.get(code="count-off").severity == "critical"


def test_an_unknown_roller_is_looked_at_and_recorded_bare_but_not_where_tape_is_on_record(cast):
    scene, version = stretch(cast)
    with pytest.raises(Refused, match="a look does not change that"):
        look_bare(scene["A05"], clean=True, by=cast.ines, at=make.AT)
    scene.wind("A05", version, by=cast.ines)
    void_application(scene["A05"], reason="Wrong tape was wound", by=cast.hanna, at=make.AT)
    with pytest.raises(Refused, match="record the removal and the count"):
        look_bare(scene["A05"], clean=True, by=cast.dara, at=make.AT)
    at = now(scene["A05"])
    hands.lock_off(scene["A05"], by=cast.ines, at=at)
    assert scene.take_off("A05", 8, by=cast.ines).state == "bare"


def test_a_new_roller_of_which_nothing_is_known_is_looked_at_by_anybody_certified(cast):
    scene = line_a(cast)
    position = make.position("A09", path=scene.path, room=scene["A05"].room, bare=False)
    with pytest.raises(Refused, match="tape is reported"):
        look_bare(position, clean=False, by=cast.kwame, at=make.AT)
    with pytest.raises(Forbidden):
        look_bare(position, clean=True, by=cast.keeper, at=make.AT)
    assert look_bare(position, clean=True, by=cast.kwame, at=make.AT).state == "bare"


# --- giving up ------------------------------------------------------------------------------------------------


def test_a_taping_given_up_before_tape_was_on_leaves_the_roller_bare(cast):
    scene, version = stretch(cast)
    scene.begin("A05", version, by=cast.ines)
    with pytest.raises(Refused, match="in a sentence"):
        void_application(scene["A05"], reason="no", by=cast.ines, at=make.AT)
    fact = void_application(scene["A05"], reason="The wrong reel came up", by=cast.ines, at=make.AT)
    assert (fact.state, job(scene).state) == ("bare", "void")


def test_a_taping_given_up_with_tape_on_leaves_the_roller_unknown_and_its_pieces_still_counted(cast):
    scene, version = stretch(cast)
    scene.wind("A05", version, by=cast.ines)
    with pytest.raises(Forbidden):
        void_application(scene["A05"], reason="The wrong reel came up", by=cast.ines, at=make.AT)
    fact = void_application(scene["A05"], reason="The wrong reel came up", by=cast.hanna, at=make.AT)
    assert (fact.state, fact.pieces, len(pieces_on(body(scene)))) == ("unknown", 8, 8)
    hands.lock_off(scene["A05"], by=cast.ines, at=make.AT)
    assert scene.take_off("A05", 8, by=cast.ines).state == "bare"
    assert pieces_on(body(scene)) == [] and Piece.objects.count() == 8


# --- handover and trainees ------------------------------------------------------------------------------------


def handing(scene, giver, taker, **fields):
    at = fields.pop("at", now(scene["A05"]))
    given = {"pieces": 8, "lock_number": "L-9", "lock_on": True, "tried": True} | fields
    return hand_over_job(
        scene["A05"], giver=make.confirmation(giver, at), taker=make.confirmation(taker, at), at=at, **given
    )


def test_an_unfinished_job_is_handed_over_with_pieces_counted_and_the_lock_passed_on(cast):
    scene, version = stretch(cast)
    scene.wind("A05", version, by=cast.ines)
    assert unfinished_jobs(scene["A05"].line, make.AT) == [job(scene)]
    with pytest.raises(Refused, match="8 pieces are on record, you count 7"):
        handing(scene, cast.ines, cast.dara, pieces=7)
    with pytest.raises(Refused, match="before the giver's comes off"):
        handing(scene, cast.ines, cast.dara, lock_on=False)
    with pytest.raises(Forbidden) as refusal:
        handing(scene, cast.ines, cast.hanna)
    assert refusal.value.code == "never-certified"
    fact = handing(scene, cast.ines, cast.dara)
    assert (fact.kind, fact.details["taker"], fact.pieces) == ("handed over", cast.dara.staff_no, 8)
    lock = Lockout.objects.get(person=cast.ines)
    assert lock.removed_at is not None and lock.handed_to.lock_number == "L-9"
    assert lock_of(scene["A05"], cast.dara.pk).holds
    kept = Handover.objects.get()
    assert (kept.giver_signature.person, kept.taker_signature.person) == (cast.ines, cast.dara)
    hands.measure(scene["A05"], version, by=cast.dara, at=LATER)
    hands.count_and_unlock(scene["A05"], by=cast.dara, at=LATER)
    with pytest.raises(Refused, match="worked on this tape"):
        check_tape(scene["A05"], pieces=8, tail_trails=True, by=cast.dara, at=LATER)


def test_no_job_goes_on_silently_past_the_end_of_the_shift(cast):
    scene, version = stretch(cast)
    late = make.AT.replace(hour=13)
    make.shift(cast.lena, name="Late", starts=late, ends=late.replace(hour=21))
    scene.wind("A05", version, by=cast.ines, at=late - timedelta(minutes=5))
    with pytest.raises(Refused, match="Hand the job over to a certified person of the Late shift"):
        hands.measure(scene["A05"], version, by=cast.ines, at=late + timedelta(minutes=10))
    handing(scene, cast.ines, cast.lena, at=late + timedelta(minutes=10))
    assert hands.measure(scene["A05"], version, by=cast.lena, at=late + timedelta(minutes=11)).measured


def test_work_of_a_trainee_counts_only_with_a_certified_person_who_signs_and_is_the_applier_of_record(cast):
    scene, version = stretch(cast)
    trainee = make.person("Tilda Roos", "operator", skills="aware")
    begin = {"step": scene.step("A05"), "by": trainee, "at": make.AT}
    with pytest.raises(Forbidden):
        begin_application(scene["A05"], version, **begin)
    with pytest.raises(Forbidden):
        begin_application(scene["A05"], version, **begin, certified=make.confirmation(cast.sol))
    begin_application(scene["A05"], version, **begin, certified=make.confirmation(cast.dara))
    hands.confirm_all(scene["A05"], by=trainee, at=make.AT, lock="L-T")
    hands.prepare(scene["A05"], by=trainee, at=make.AT)
    hands.wind(scene["A05"], version, scene.reel("A05", version), step=scene.step("A05"), by=trainee, at=make.AT)
    hands.measure(scene["A05"], version, by=trainee, at=LATER)
    hands.count_and_unlock(scene["A05"], by=trainee, at=LATER)
    made = job(scene)
    assert (made.trainee, made.applier) == (trainee, cast.dara)
    assert TapeFact.objects.filter(applier=cast.dara, kind="counted").exists()
    for person in (cast.dara, trainee):
        with pytest.raises(Refused):
            check_tape(scene["A05"], pieces=8, tail_trails=True, by=person, at=LATER)
    done = JobDone.objects.get(person=trainee)
    assert (done.kind, done.supervised_by) == ("apply", cast.dara)


def test_every_job_that_was_done_is_told_to_training(cast):
    scene, version = stretch(cast)
    scene.tape("A05", version, by=cast.ines, checker=cast.dara)
    scene.remove("A05", by=cast.ines)
    assert sorted(JobDone.objects.values_list("kind", "person__name")) == [
        ("apply", "Ines Varga"),
        ("check", "Dara Whitlow"),
        ("remove", "Ines Varga"),
        ("study", "Dara Whitlow"),
    ]


# --- what was done is stored, then judged ---------------------------------------------------------------------


def told(scene, kind, by, *, code="A05", ago=30, reason="", seen=None, key=None, **fields):
    done_at = now(scene[code]) - timedelta(minutes=ago)
    sent = Sent(done_at=done_at, reason=reason, seen=seen, key=key)
    return report_done(scene[code], Done(kind, by, **fields), by=by, at=now(scene[code]), sent=sent)


def applied(scene, version, by, **fields):
    given = {"version": version, "reel": scene.reel("A05", version), "pieces": 8, "rotation": "cw"} | fields
    return told(scene, "applied", by, **given)


def test_a_report_of_what_was_done_is_stored_whatever_rules_it_broke_and_each_broken_rule_gets_an_owner(cast):
    scene, version = stretch(cast)
    fact = applied(scene, version, cast.hanna, pieces=7, reel=None, ago=0)
    assert (fact.kind, fact.state, fact.application.origin) == ("applied", "unknown", "report")
    codes = set(Deviation.objects.filter(fact=fact).values_list("code", flat=True))
    assert codes == {"not-certified", "no-lockout", "no-reel", "pieces-off"}
    assert all(row.owner_role for row in Deviation.objects.all())


def test_a_report_never_makes_tape_valid_before_a_certified_second_person_looked(cast):
    scene, version = stretch(cast)
    applied(scene, version, cast.ines, lock_number="L-7")
    made = job(scene)
    assert reported_only(made) and not made.pieces.exists() and tape_state(body(scene)) == "unknown"
    with pytest.raises(Refused):
        check_tape(scene["A05"], pieces=8, tail_trails=True, by=cast.dara, at=make.AT)
    with pytest.raises(Forbidden):
        confirm_report(scene["A05"], pieces=8, by=cast.kwame, at=make.AT)
    with pytest.raises(Refused, match="you see 7"):
        confirm_report(scene["A05"], pieces=7, by=cast.dara, at=make.AT)
    fact = confirm_report(scene["A05"], pieces=8, by=cast.dara, at=make.AT)
    assert (fact.state, fact.measured, fact.checked) == ("taped", False, False)
    assert job(scene).pieces.count() == 8 and not reported_only(job(scene))


def test_who_made_the_report_does_not_confirm_it(cast):
    scene, version = stretch(cast)
    applied(scene, version, cast.dara)
    with pytest.raises(Refused, match="somebody else looks"):
        confirm_report(scene["A05"], pieces=8, by=cast.dara, at=make.AT)


def test_a_reported_removal_is_bare_only_when_a_second_person_with_check_looked(cast):
    scene, version = stretch(cast)
    scene.tape("A05", version, by=cast.ines, checker=cast.dara)
    fact = told(scene, "removed", cast.ines, pieces=8, ago=0)
    assert (fact.state, fact.pieces, job(scene).state) == ("unknown", 0, "removing")
    with pytest.raises(Forbidden):
        look_bare(scene["A05"], clean=True, by=cast.kwame, at=make.AT)
    assert look_bare(scene["A05"], clean=True, by=cast.lena, at=make.AT).state == "bare"
    assert job(scene).state == "removed"
    assert set(PieceFact.objects.exclude(state="on roller").values_list("state", flat=True)) == {"removed intact"}


def test_a_reported_removal_with_another_count_leaves_every_piece_to_be_accounted_for(cast):
    scene, version = stretch(cast)
    scene.tape("A05", version, by=cast.ines, checker=cast.dara)
    told(scene, "removed", cast.ines, pieces=7, ago=0)
    assert len(pieces_on(body(scene))) == 8
    assert Deviation.objects.filter(code="count-off").exists()
    with pytest.raises(Refused, match="record the removal and the count"):
        look_bare(scene["A05"], clean=True, by=cast.lena, at=make.AT)


def test_a_certificate_is_judged_at_the_time_the_work_was_done(cast):
    """Rui's certificate ends with 25 March."""
    scene, version = stretch(cast)
    next_day = make.AT + timedelta(days=1)
    done = Done("applied", cast.rui, version=version, pieces=8, reel=scene.reel("A05", version), lock_number="L-4")
    sent = Sent(done_at=make.AT, reason="Server was down")
    report_done(scene["A05"], done, by=cast.rui, at=next_day, sent=sent)
    assert not Deviation.objects.filter(code="not-certified").exists()


def test_a_late_entry_is_marked_late_and_says_why_and_a_future_time_is_refused(cast):
    scene, version = stretch(cast)
    with pytest.raises(Refused, match="Say in a few words why") as refusal:
        applied(scene, version, cast.ines, ago=121)
    assert refusal.value.field == "late_reason"
    with pytest.raises(Refused, match="lies in the future"):
        applied(scene, version, cast.ines, ago=-3)
    fact = applied(scene, version, cast.ines, ago=121, reason="Server was down")
    assert fact.late and fact.reason == "Server was down"


def test_a_record_sent_again_with_its_key_is_one_record(cast):
    scene, version = stretch(cast)
    key = uuid.uuid4()
    first = applied(scene, version, cast.ines, key=key)
    assert applied(scene, version, cast.ines, key=key).pk == first.pk
    with pytest.raises(Conflict, match="has this key already"):
        applied(scene, version, cast.dara, key=key)
    assert TapeFact.objects.filter(kind="applied").count() == 1


def contradicting(cast):
    """Tomas reports tape on, Babak reports the roller bare; neither had seen the other's."""
    scene = line_b(cast)
    nine = scene.recipe("B09", ["BO-20"], make.stock("T5"), both(640, 840, 1))
    seen = TapeFact.objects.filter(position=scene["B09"]).latest("pk").pk
    reel = scene.reel("B09", nine)
    told(scene, "applied", cast.tomas, code="B09", version=nine, pieces=8, reel=reel, seen=seen, rotation="ccw")
    told(scene, "bare", cast.babak, code="B09", seen=seen)
    return scene


def test_two_who_recorded_different_things_are_both_kept_and_stop_the_line_until_a_third_has_looked(cast):
    scene = contradicting(cast)
    kinds = list(TapeFact.objects.filter(position=scene["B09"]).order_by("pk").values_list("kind", flat=True))
    assert kinds == ["surveyed", "applied", "bare", "conflict"]
    assert conflict_on(body(scene, "B09")) is not None
    with pytest.raises(Refused, match="two persons recorded different things"):
        look_bare(scene["B09"], clean=True, by=cast.yuki, at=make.AT)
    given = {"state": "taped", "pieces": 8, "what": "eight lanes, both ends", "at": make.AT}
    with pytest.raises(Forbidden) as refusal:
        resolve_conflict(scene["B09"], by=cast.lena, **given)
    assert refusal.value.code == "add-on-missing"
    with pytest.raises(Refused, match="made one of the two entries"):
        resolve_conflict(scene["B09"], by=cast.babak, **given)
    fact = resolve_conflict(scene["B09"], by=cast.yuki, **given)
    assert (fact.state, fact.pieces, fact.measured) == ("taped", 8, False)
    assert len(pieces_on(body(scene, "B09"))) == 8 and conflict_on(body(scene, "B09")) is None


def test_a_conflict_settled_as_bare_ends_the_taping_that_never_was(cast):
    scene = contradicting(cast)
    fact = resolve_conflict(scene["B09"], state="bare", pieces=0, what="bare all round", by=cast.yuki, at=make.AT)
    assert (fact.state, fact.pieces) == ("bare", 0)
    assert not Application.objects.exclude(state="void").exists() and not Piece.objects.exists()


@pytest.mark.db_both
@pytest.mark.django_db(transaction=True)
def test_of_two_who_finish_and_hand_over_at_once_one_wins_the_other_reads_what_changed_and_nothing_is_lost(cast):
    scene, version = stretch(cast)
    scene.wind("A05", version, by=cast.ines)
    seen, at = TapeFact.objects.latest("pk").pk, LATER
    assert cast.dara and cast.lena
    gate, refusals = threading.Barrier(2), []

    def finish():
        hands.measure_tape(
            scene["A05"],
            builds=hands.builds_of(version),
            edges=hands.edges_of(version),
            by=cast.ines,
            at=at,
            sent=Sent(seen=seen),
        )

    def pass_on():
        handing(scene, cast.ines, cast.dara, at=at, sent=Sent(seen=seen))

    def one(act):
        try:
            gate.wait(10)
            act()
        except Refused as refusal:
            refusals.append(refusal.sentence)
        finally:
            connection.close()

    threads = [threading.Thread(target=one, args=[act]) for act in (finish, pass_on)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join(30)
    assert len(refusals) == 1 and "Changed since you looked" in refusals[0]
    assert TapeFact.objects.filter(kind__in=("measured", "handed over")).count() == 1
    assert len(pieces_on(body(scene))) == 8
