"""Tape on a roller: under lockout, by certified hands, counted, checked by a second person, and off again."""

import threading
from datetime import UTC, date, datetime, timedelta

import pytest
from django.db import IntegrityError, connection, transaction

from plant.audit.models import Event
from plant.audit.services.attaching import keep_photo
from plant.errors import Conflict, Forbidden, Refused
from plant.people.models import Person
from rollers.demo import hands
from rollers.models import Application, Deviation, Hold, Lockout, Piece, PieceFact, ReelMove, TapeFact
from rollers.queries_application import knives_out, locks_on, missing_pieces, pieces_on
from rollers.queries_registry import tape_state
from rollers.rules_application import LOCKOUT
from rollers.services.applications import begin_application, begin_lockout, confirm_lockout
from rollers.services.applying import prepare_face, wind_tape
from rollers.services.checking import check_tape
from rollers.services.knives import enter_knife
from rollers.services.lockouts import take_lock_off
from rollers.services.looking import report_found_tape
from rollers.services.measuring import count_back, measure_tape
from rollers.services.pieces import find_piece
from rollers.services.recipes import withdraw_recipe
from rollers.services.removing import begin_removal, clean_roller, finish_removal, stop_removal, take_off
from rollers.services.spot import Sent
from rollers.services.surveys import close_survey, record_seen, start_survey
from tests import make
from tests.rollers.scenes import STEPS, both, line_a, line_c, now, start, taped_b
from training.services import suspend

pytestmark = pytest.mark.django_db
LATER = make.AT + timedelta(minutes=15)


def stretch(cast):
    scene = line_a(cast)
    return scene, scene.recipe("A05", ["SF-17"], make.stock("T1"), both(600, 792, 4))


def begin(scene, version, by, code="A05", at=make.AT, **fields):
    return begin_application(scene[code], version, step=scene.step(code), by=by, at=at, **fields)


def wind(scene, version, by, code="A05", at=make.AT, lanes=8, **fields):
    reel = scene.reel(code, version)
    given = {"wound": dict.fromkeys(range(1, lanes + 1), reel), "tail_trails": True, "finish_over_start": True}
    return wind_tape(scene[code], step=scene.step(code), by=by, at=at, **given | fields)


def measure(scene, by, at=LATER, builds=None, edges=None, **fields):
    builds = builds or {"operator": 0.56, "drive": 0.56}
    edges = edges or {"operator": 600.0, "drive": 600.5}
    return measure_tape(scene["A05"], builds=builds, edges=edges, by=by, at=at, **fields)


def state(scene, code="A05"):
    return tape_state(scene[code].mountings.get(removed_at=None).body)


def application(scene, code="A05"):
    return Application.objects.filter(position=scene[code]).latest("pk")


def on(scene, code="A05"):
    return pieces_on(scene[code].mountings.get(removed_at=None).body)


# --- lockout --------------------------------------------------------------------------------------------------


def test_lockout_goes_through_the_six_steps_in_the_order_of_the_law():
    """29 CFR 1910.147(d)(1)-(6): preparation, shutdown, isolation, lock or tag, stored energy, verification."""
    assert STEPS == ["prepare", "shut-down", "isolate", "lock", "stored", "verify"]


@pytest.mark.parametrize("done", range(6))
def test_no_step_of_the_lockout_is_confirmed_before_the_one_in_front_of_it(cast, done):
    scene, version = stretch(cast)
    begin(scene, version, cast.ines)
    for step in STEPS[:done]:
        confirm_lockout(scene["A05"], step, by=cast.ines, at=make.AT, lock_number="L-7")
    for step in STEPS[done + 1 :]:
        with pytest.raises(Refused) as refusal:
            confirm_lockout(scene["A05"], step, by=cast.ines, at=make.AT, lock_number="L-7")
        assert refusal.value.code == "lockout-order" and LOCKOUT[done][1] in refusal.value.sentence
    with pytest.raises(Refused, match="Lock out A05 first, step by step") as refusal:
        hands.prepare(scene["A05"], by=cast.ines, at=make.AT)
    assert LOCKOUT[done][1] in refusal.value.sentence


def test_each_step_of_the_lockout_keeps_its_time_and_the_lock_its_number(cast):
    scene, version = stretch(cast)
    begin(scene, version, cast.ines)
    for minute, step in enumerate(STEPS):
        if step == "lock":
            with pytest.raises(Refused, match="number of your own lock"):
                confirm_lockout(scene["A05"], step, by=cast.ines, at=make.AT, lock_number=" ")
        when = make.AT + timedelta(minutes=minute)
        confirm_lockout(scene["A05"], step, by=cast.ines, at=when, lock_number="L-7")
    lockout = Lockout.objects.get()
    assert [row["key"] for row in lockout.steps] == STEPS
    assert lockout.steps[3]["at"] == "2026-03-25T09:03:00+00:00" and lockout.lock_number == "L-7"
    assert application(scene).state == "locked out"
    assert TapeFact.objects.latest("pk").kind == "locked out"


def test_a_step_tapped_twice_is_confirmed_once(cast):
    scene, version = stretch(cast)
    begin(scene, version, cast.ines)
    for _ in range(2):
        confirm_lockout(scene["A05"], "prepare", by=cast.ines, at=make.AT)
    assert len(Lockout.objects.get().steps) == 1


def test_a_lockout_counts_for_the_hands_of_the_person_whose_lock_it_is(cast):
    scene, version = stretch(cast)
    scene.begin("A05", version, by=cast.ines)
    with pytest.raises(Refused, match="Lock out A05 first"):
        hands.prepare(scene["A05"], by=cast.dara, at=make.AT)
    with pytest.raises(Refused, match="Only Ines Varga takes this lock off"):
        take_lock_off(Lockout.objects.get(), clear=True, told=True, by=cast.dara, at=make.AT)


def test_a_lock_stays_on_until_the_job_is_done_and_the_area_is_clear(cast):
    scene, version = stretch(cast)
    scene.wind("A05", version, by=cast.ines)
    lock = Lockout.objects.get()
    with pytest.raises(Refused, match="Measure first, then count"):
        take_lock_off(lock, clear=True, told=True, by=cast.ines, at=make.AT)
    measure(scene, cast.ines)
    with pytest.raises(Refused, match="count pieces and offcuts"):
        take_lock_off(lock, clear=True, told=True, by=cast.ines, at=LATER)
    count_back(scene["A05"], pieces=8, offcuts=2, by=cast.ines, at=LATER)
    with pytest.raises(Refused, match="everybody was told"):
        take_lock_off(lock, clear=True, told=False, by=cast.ines, at=LATER)
    assert [row.lock_number for row in locks_on([scene["A05"]])] == ["L-7"]
    take_lock_off(lock, clear=True, told=True, by=cast.ines, at=LATER)
    assert locks_on([scene["A05"]]) == []
    with pytest.raises(Conflict, match="Already recorded: the lock came off"):
        take_lock_off(lock, clear=True, told=True, by=cast.ines, at=LATER)


def test_taking_off_asks_for_the_lockout_as_putting_on_does(cast):
    scene, version = stretch(cast)
    scene.tape("A05", version, by=cast.ines)
    with pytest.raises(Refused, match="Lock out A05 first"):
        begin_removal(scene["A05"], by=cast.ines, at=make.AT)
    begin_lockout(scene["A05"], "remove", by=cast.ines, at=make.AT)
    with pytest.raises(Refused, match="Lock out A05 first"):
        begin_removal(scene["A05"], by=cast.ines, at=make.AT)
    assert state(scene) == "taped"


def test_cleaning_asks_for_the_lockout_too(cast):
    scene, version = stretch(cast)
    scene.tape("A05", version, by=cast.ines)
    scene.take_off("A05", 8, by=cast.ines, residue=True)
    with pytest.raises(Refused, match="Lock out A05 first"):
        clean_roller(scene["A05"], agent="dry wipe", surface_ok=True, by=cast.ines, at=now(scene["A05"]))


def test_nothing_is_measured_before_tape_was_put_on_under_lockout(cast):
    scene, version = stretch(cast)
    with pytest.raises(Refused, match="no recorded tape to measure"):
        measure(scene, cast.ines)
    scene.begin("A05", version, by=cast.ines)
    with pytest.raises(Refused, match="nothing to measure now"):
        measure(scene, cast.ines)


# --- who may --------------------------------------------------------------------------------------------------


def refused_for(scene, version, person, code="A05", at=make.AT):
    with pytest.raises(Forbidden) as refusal:
        begin(scene, version, person, code=code, at=at)
    assert refusal.value.sentence.startswith(f"Putting tape on {code} is refused.")
    return refusal.value


def test_each_reason_why_a_person_may_not_has_its_own_sentence_and_says_who_can_help(cast):
    scene = line_c(cast)
    version = scene.recipe("C06", ["ML-62"], make.stock("T5"), both(256, 356, 1))
    lapsed = make.person("Vera Holm", "operator", skills="aware apply medical", until=date(2026, 3, 24))
    suspended = make.person("Nils Adler", "operator", skills="aware apply medical")
    apply = suspended.certificates.get(skill__code="apply")
    suspend(apply, reason="Count was wrong twice", by=cast.hanna, at=make.AT - timedelta(hours=1))
    outside = make.person(
        "Pia Hollander", "guest", employer=Person.Employer.OUTSIDE, active_to=datetime(2026, 3, 31, tzinfo=UTC)
    )
    left = make.person("Jon Berg", "operator", skills="aware apply medical", active_to=make.AT - timedelta(days=1))
    refusals = [refused_for(scene, version, person, "C06") for person in (cast.hanna, lapsed, suspended, cast.ines)]
    refusals += [refused_for(scene, version, person, "C06") for person in (outside, left)]
    codes = [refusal.code for refusal in refusals]
    assert codes == ["never-certified", "lapsed", "suspended", "add-on-missing", "outside", "left"]
    assert len({refusal.sentence for refusal in refusals}) == 6
    for refusal in refusals:
        assert "Mei Okafor" in refusal.sentence, refusal.sentence


def test_when_nobody_on_shift_may_the_refusal_names_the_supervisor(cast):
    scene, version = stretch(cast)
    night = datetime(2026, 3, 25, 22, 0, tzinfo=UTC)
    alone = make.person("Edda Roth", "supervisor", skills="aware")
    make.shift(alone, name="Night", starts=night, ends=night + timedelta(hours=8))
    refusal = refused_for(scene, version, cast.sol, at=night + timedelta(hours=1))
    assert "Edda Roth" in refusal.sentence and "Ines Varga" not in refusal.sentence


@pytest.mark.db_both
def test_a_certificate_counts_to_the_last_second_of_its_last_day_in_plant_time(cast):
    """Midnight of 25 March in Vienna is 23:00 UTC."""
    scene, version = stretch(cast)
    last = datetime(2026, 3, 25, 22, 59, 59, tzinfo=UTC)
    assert refused_for(scene, version, cast.rui, at=last + timedelta(seconds=1)).code == "lapsed"
    assert begin(scene, version, cast.rui, at=last).state == "planned"


@pytest.mark.db_both
def test_midnight_comes_an_hour_earlier_in_utc_after_the_clocks_went_forward(cast):
    """From Sunday 29 March 2026 Vienna is two hours ahead of UTC: the day ends at 22:00 UTC."""
    scene, version = stretch(cast)
    person = make.person("Vera Holm", "operator", skills="aware apply", until=date(2026, 3, 29))
    last = datetime(2026, 3, 29, 21, 59, 59, tzinfo=UTC)
    assert refused_for(scene, version, person, at=last + timedelta(seconds=1)).code == "lapsed"
    assert begin(scene, version, person, at=last).state == "planned"


def test_who_began_a_step_while_certified_may_finish_it_and_it_is_noted_but_begins_no_other_and_checks_nothing(cast):
    """Begun 23:40 in Vienna, the certificate ends at midnight, measured at 00:15."""
    scene, version = stretch(cast)
    begun = datetime(2026, 3, 25, 22, 40, tzinfo=UTC)
    after = begun + timedelta(minutes=35)
    scene.wind("A05", version, by=cast.rui, at=begun)
    assert measure(scene, cast.rui, at=after).measured
    hands.count_and_unlock(scene["A05"], by=cast.rui, at=after)
    noted = Deviation.objects.filter(code="finished-after-end", person=cast.rui)
    assert noted.count() == 2 and {row.severity for row in noted} == {"info"}
    with pytest.raises(Forbidden) as refusal:
        begin_lockout(scene["A05"], "remove", by=cast.rui, at=after)
    assert refusal.value.code == "lapsed"


def test_a_suspension_counts_at_once_also_in_the_middle_of_a_job(cast):
    scene, version = stretch(cast)
    scene.begin("A05", version, by=cast.ines)
    suspend(cast.ines.certificates.get(skill__code="apply"), reason="Count was wrong", by=cast.hanna, at=make.AT)
    with pytest.raises(Forbidden) as refusal:
        hands.prepare(scene["A05"], by=cast.ines, at=LATER)
    assert refusal.value.code == "suspended" and "Dara Whitlow" in refusal.value.sentence


def test_tape_put_on_while_the_certificate_was_valid_stays_valid_when_it_lapses(cast):
    scene, version = stretch(cast)
    scene.tape("A05", version, by=cast.rui, at=datetime(2026, 3, 25, 22, 0, tzinfo=UTC))
    later = datetime(2026, 3, 26, 8, 0, tzinfo=UTC)
    assert check_tape(scene["A05"], pieces=8, tail_trails=True, by=cast.dara, at=later).checked
    assert state(scene) == "taped"


def test_being_supervisor_alone_gives_no_right_to_tape(cast):
    scene, version = stretch(cast)
    assert refused_for(scene, version, cast.hanna).code == "never-certified"


def test_a_hot_roller_asks_for_the_hot_roller_add_on(cast):
    scene, version = stretch(cast)
    position = scene["A05"]
    position.surface_temp_c = 52
    position.save()
    assert refused_for(scene, version, cast.ines).code == "add-on-missing"
    assert begin(scene, version, cast.kwame).state == "planned"


# --- putting on -----------------------------------------------------------------------------------------------


def test_putting_on_keeps_who_which_recipe_each_piece_with_its_reel_and_the_lock(cast):
    scene, version = stretch(cast)
    fact = scene.wind("A05", version, by=cast.ines)
    reel = scene.reel("A05", version)
    assert (fact.state, fact.recipe_version, fact.applier, fact.pieces) == ("taped", version, cast.ines, 8)
    assert fact.details["lock_number"] == "L-7" and fact.details["reels"]["8"] == reel.label
    assert (fact.orientation, fact.rotation) == ("normal", "cw")
    event = Event.objects.get(action="tape-applied")
    assert event.actor == cast.ines and "A05" in event.sentence
    job = application(scene)
    assert (job.state, job.applier, job.applied_at) == ("applied", cast.ines, fact.at)
    pieces = list(job.pieces.all())
    assert [(piece.end, piece.lane) for piece in pieces[3:5]] == [("operator", 4), ("drive", 1)]
    # By hand: 4 wraps x pi x (120 mm + 4 x 0.14 mm) = 1515.0 mm
    assert {piece.length_mm for piece in pieces} == {1515.0}
    assert ReelMove.objects.get(kind="cut").length_m == pytest.approx(8 * 1.515, abs=0.001)


def test_no_tape_goes_on_a_face_that_is_not_clean_dry_marked_and_neither_cold_nor_hot(cast):
    scene, version = stretch(cast)
    scene.begin("A05", version, by=cast.ines)
    with pytest.raises(Refused, match="prepare the face and mark the lanes first"):
        wind(scene, version, cast.ines)
    good = {"clean": True, "dry": True, "no_residue": True, "marked": True, "face_c": 22.0}
    for name in ("clean", "dry", "no_residue", "marked"):
        with pytest.raises(Refused) as refusal:
            prepare_face(scene["A05"], **good | {name: False}, by=cast.ines, at=make.AT)
        assert refusal.value.field == name
    for cold_or_hot in (14.9, 40.1):
        with pytest.raises(Refused, match="15 to 40 °C"):
            prepare_face(scene["A05"], **good | {"face_c": cold_or_hot}, by=cast.ines, at=make.AT)
    assert prepare_face(scene["A05"], **good, by=cast.ines, at=make.AT).state == "bare"


def test_the_pieces_are_counted_exactly(cast):
    scene, version = stretch(cast)
    scene.begin("A05", version, by=cast.ines)
    hands.prepare(scene["A05"], by=cast.ines, at=make.AT)
    for count in (7, 9, 0):
        with pytest.raises(Refused, match="8 pieces") as refusal:
            wind(scene, version, cast.ines, lanes=count)
        assert refusal.value.field == "pieces"


def test_the_tail_trails_and_each_lane_finishes_over_its_start(cast):
    scene, version = stretch(cast)
    scene.begin("A05", version, by=cast.ines)
    hands.prepare(scene["A05"], by=cast.ines, at=make.AT)
    with pytest.raises(Refused, match="leading tail gets lifted"):
        wind(scene, version, cast.ines, tail_trails=False)
    with pytest.raises(Refused, match="finish each lane over its start"):
        wind(scene, version, cast.ines, finish_over_start=False)
    assert not Piece.objects.exists()


def test_only_tape_of_the_recipe_from_a_reel_that_may_be_used_goes_on(cast):
    scene, version = stretch(cast)
    scene.begin("A05", version, by=cast.ines)
    hands.prepare(scene["A05"], by=cast.ines, at=make.AT)
    other = make.reel(make.stock("T5"), scene["A05"].room)
    with pytest.raises(Refused, match="this recipe takes T1") as refusal:
        wind(scene, version, cast.ines, wound=dict.fromkeys(range(1, 9), other))
    assert refusal.value.field == "reel"
    reel = scene.reel("A05", version)
    reel.lot.status = "quarantined"
    reel.lot.save()
    with pytest.raises(Refused, match="not released"):
        wind(scene, version, cast.ines)


def test_a_second_scan_of_the_same_band_answers_when_and_by_whom_it_was_recorded(cast):
    scene, version = stretch(cast)
    scene.wind("A05", version, by=cast.ines)
    with pytest.raises(Conflict, match=r"Already recorded at 2026-03-25 08:40 UTC by Ines Varga. Nothing was changed"):
        wind(scene, version, cast.ines)
    assert Piece.objects.count() == 8


def test_only_a_recipe_in_force_for_this_position_goes_on(cast):
    scene, version = stretch(cast)
    draft = scene.draft("A05", ["SF-17"], make.stock("T1"), both(600, 792, 3))
    with pytest.raises(Refused, match="not a taped recipe in force"):
        begin(scene, draft, cast.ines)
    with pytest.raises(Refused, match="belongs to A05, not to A08"):
        begin_application(scene["A08"], version, step=scene.step("A08"), by=cast.ines, at=make.AT)
    scene.begin("A05", version, by=cast.ines, at=make.AT)
    hands.prepare(scene["A05"], by=cast.ines, at=make.AT)
    withdraw_recipe(version, reason="Marks at the band edge", by=cast.hanna, at=make.AT)
    with pytest.raises(Refused, match="not a taped recipe in force any more"):
        wind(scene, version, cast.ines)


def test_a_stock_that_the_room_no_longer_permits_does_not_go_on(cast):
    scene = line_c(cast)
    tape = make.stock("T5")
    version = scene.recipe("C06", ["ML-62"], tape, both(256, 356, 1))
    tape.room_kinds = ["general", "food"]
    tape.save()
    version.refresh_from_db()
    with pytest.raises(Refused, match="not permitted in this medical room"):
        begin(scene, version, cast.mei, code="C06")


def test_tape_goes_on_a_bare_roller_only(cast):
    scene, version = stretch(cast)
    scene.tape("A05", version, by=cast.ines)
    with pytest.raises(Refused, match=r"A05 is taped. It must be recorded bare and clean first"):
        begin(scene, version, cast.ines, at=now(scene["A05"]))


def test_a_time_in_the_future_or_before_what_is_on_record_is_refused(cast):
    scene, version = stretch(cast)
    scene.begin("A05", version, by=cast.ines, at=make.AT)
    with pytest.raises(Refused, match="lies in the future"):
        prepare = Sent(done_at=make.AT + timedelta(minutes=3))
        prepare_face(
            scene["A05"], clean=True, dry=True, no_residue=True, marked=True, face_c=20, by=cast.ines, at=make.AT,
            sent=prepare,
        )  # fmt: skip
    hands.prepare(scene["A05"], by=cast.ines, at=make.AT)
    wind(scene, version, cast.ines)
    with pytest.raises(Refused, match="later than this"):
        measure(scene, cast.ines, sent=Sent(done_at=make.AT - timedelta(minutes=1)))


# --- measured, counted, checked -------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("builds", "words"),
    [
        ({"operator": 0.56}, "Type the build"),
        ({"operator": 0.56, "drive": 0.45}, "drive end 0.450 mm against 0.560 mm"),
        ({"operator": 0.63, "drive": 0.56}, "operator end 0.630 mm"),
        ({"operator": 0.53, "drive": 0.60}, "ends differ by 0.070 mm"),
    ],
)
def test_a_build_off_nominal_or_unequal_ends_are_refused(cast, builds, words):
    scene, version = stretch(cast)
    scene.wind("A05", version, by=cast.ines)
    with pytest.raises(Refused, match=words):
        measure(scene, cast.ines, builds=builds)
    assert not TapeFact.objects.filter(kind="measured").exists()


def test_an_edge_more_than_two_millimetres_off_its_place_is_refused(cast):
    scene, version = stretch(cast)
    scene.wind("A05", version, by=cast.ines)
    with pytest.raises(Refused, match=r"drive end is at 602.5 mm, the recipe says 600 mm"):
        measure(scene, cast.ines, edges={"operator": 600.0, "drive": 602.5})
    assert measure(scene, cast.ines, edges={"operator": 598.0, "drive": 602.0}).measured


def test_pressed_tape_rests_before_it_is_measured(cast):
    scene, version = stretch(cast)
    scene.wind("A05", version, by=cast.ines, at=make.AT)
    with pytest.raises(Refused, match="let it rest"):
        measure(scene, cast.ines, at=make.AT + timedelta(minutes=9))
    assert measure(scene, cast.ines, at=make.AT + timedelta(minutes=10)).measured


def test_the_job_ends_with_pieces_and_offcuts_counted(cast):
    scene, version = stretch(cast)
    scene.wind("A05", version, by=cast.ines)
    measure(scene, cast.ines)
    with pytest.raises(Refused, match="8 pieces are recorded, you count 7"):
        count_back(scene["A05"], pieces=7, offcuts=0, by=cast.ines, at=LATER)
    count_back(scene["A05"], pieces=8, offcuts=3, by=cast.ines, at=LATER)
    with pytest.raises(Conflict, match="counted already"):
        count_back(scene["A05"], pieces=8, offcuts=3, by=cast.ines, at=LATER)


def test_the_knife_is_counted_out_with_the_job_and_the_job_does_not_end_before_it_is_back(cast):
    scene, version = stretch(cast)
    knife = enter_knife("K-01", snap_off=False, by=cast.hanna, at=make.AT)
    scene.begin("A05", version, by=cast.ines, at=make.AT)
    face = {"clean": True, "dry": True, "no_residue": True, "marked": True, "face_c": 22.0}
    prepare_face(scene["A05"], **face, knife=knife, by=cast.ines, at=make.AT)
    wind(scene, version, cast.ines)
    measure(scene, cast.ines)
    with pytest.raises(Refused, match="Knife K-01 is not back"):
        count_back(scene["A05"], pieces=8, offcuts=0, by=cast.ines, at=LATER)
    count_back(scene["A05"], pieces=8, offcuts=0, knives={"K-01": True}, by=cast.ines, at=LATER)
    assert knives_out(application(scene)) == []


def checking(scene, by, pieces=8, tail_trails=True):
    return check_tape(scene["A05"], pieces=pieces, tail_trails=tail_trails, by=by, at=now(scene["A05"]))


def test_who_put_the_tape_on_cannot_check_it(cast):
    scene, version = stretch(cast)
    scene.tape("A05", version, by=cast.dara)
    with pytest.raises(Refused, match="second person with Check") as refusal:
        checking(scene, cast.dara)
    assert refusal.value.code == "same-person"
    assert checking(scene, cast.lena).checked


def test_the_check_looks_at_measurement_count_and_tail(cast):
    scene, version = stretch(cast)
    scene.wind("A05", version, by=cast.ines)
    with pytest.raises(Refused, match="measure the build first"):
        checking(scene, cast.dara)
    measure(scene, cast.ines)
    with pytest.raises(Refused, match="counts pieces, offcuts and knife first"):
        checking(scene, cast.dara)
    hands.count_and_unlock(scene["A05"], by=cast.ines, at=LATER)
    with pytest.raises(Refused, match="leading tail gets lifted"):
        checking(scene, cast.dara, tail_trails=False)
    with pytest.raises(Refused, match="8 pieces are recorded, you see 7"):
        checking(scene, cast.dara, pieces=7)
    fact = checking(scene, cast.dara)
    assert fact.measured and fact.checked and fact.applier == cast.ines
    with pytest.raises(Conflict, match=r"Already recorded at .* by Dara Whitlow"):
        checking(scene, cast.lena)


def test_a_checker_needs_check_not_only_apply(cast):
    scene, version = stretch(cast)
    scene.tape("A05", version, by=cast.ines)
    with pytest.raises(Forbidden) as refusal:
        checking(scene, cast.kwame)
    assert refusal.value.code == "never-certified"


# --- taking off -----------------------------------------------------------------------------------------------


def taking(scene, by, code="A05"):
    """Locked out and begun; gives the moment and the keys of what is on."""
    at = now(scene[code])
    hands.lock_out(scene[code], "remove", by=by, at=at)
    begin_removal(scene[code], by=by, at=at)
    return at, [piece.pk for piece in on(scene, code)]


def test_taking_off_all_pieces_makes_the_roller_bare(cast):
    scene, version = stretch(cast)
    scene.tape("A05", version, by=cast.ines)
    fact = scene.remove("A05", by=cast.ines)
    assert (fact.state, fact.pieces, fact.recipe_version) == ("bare", 0, None)
    assert application(scene).state == "removed"
    assert set(PieceFact.objects.filter(bag__isnull=False).values_list("state", flat=True)) == {"removed intact"}


def test_from_the_beginning_of_a_removal_the_line_may_not_run_with_what_is_left(cast):
    scene, version = stretch(cast)
    scene.tape("A05", version, by=cast.ines)
    taking(scene, cast.ines)
    assert (state(scene), application(scene).state) == ("partial", "removing")


def test_one_of_two_bands_off_is_partial_with_the_pieces_left(cast):
    scene, version = stretch(cast)
    scene.tape("A05", version, by=cast.ines)
    fact = scene.take_off("A05", 4, by=cast.ines, end="operator")
    assert (fact.state, fact.pieces, fact.recipe_version) == ("partial", 4, version)
    assert application(scene).state == "partial"
    assert {piece.end for piece in on(scene)} == {"drive"}
    assert scene.take_off("A05", 4, by=cast.ines).state == "bare"
    assert application(scene).state == "removed"


def test_what_is_left_after_one_band_came_off_may_run_where_it_is_exactly_a_recipe_in_force(cast):
    scene, version = stretch(cast)
    one = scene.recipe("A05", ["SF-23"], make.stock("T1"), both(600, 792, 4)[:1], title="one end")
    scene.tape("A05", version, by=cast.ines)
    fact = scene.take_off("A05", 4, by=cast.ines, end="drive")
    assert (fact.state, fact.recipe_version, fact.pieces) == ("taped", one, 4)
    assert application(scene).state == "partial"


def test_a_piece_is_recorded_once_and_the_second_scan_says_when_and_by_whom(cast):
    scene, version = stretch(cast)
    scene.tape("A05", version, by=cast.ines)
    at, keys = taking(scene, cast.ines)
    hands.take_pieces(scene["A05"], keys[:1], by=cast.ines, at=at)
    with pytest.raises(Conflict, match=r"Piece 1 is already recorded as removed, intact at .* by Ines Varga"):
        hands.take_pieces(scene["A05"], keys[:1], by=cast.ines, at=at)
    assert len(on(scene)) == 7


def test_more_pieces_than_are_on_record_are_refused(cast):
    scene, version = stretch(cast)
    scene.tape("A05", version, by=cast.ines)
    at, keys = taking(scene, cast.ines)
    with pytest.raises(Refused, match="a piece too many is wrong too"):
        hands.take_pieces(scene["A05"], keys, by=cast.ines, at=at, extra=1)
    assert len(on(scene)) == 8


def test_a_torn_piece_counts_as_one_only_when_a_second_person_sees_its_parts_complete(cast):
    scene, version = stretch(cast)
    scene.tape("A05", version, by=cast.ines)
    at, keys = taking(scene, cast.ines)
    torn = {keys[0]: "removed in parts"}
    bag = hands.bag_in(scene["A05"], by=cast.ines, at=at)
    with pytest.raises(Refused, match="a second person sees it"):
        take_off(scene["A05"], outcomes=torn, bag=bag, by=cast.ines, at=at)
    with pytest.raises(Refused, match="a second person lays it out with you"):
        own = make.confirmation(cast.ines, at)
        take_off(scene["A05"], outcomes=torn, bag=bag, by=cast.ines, at=at, second=own)
    second = make.confirmation(cast.hanna, at)
    fact = take_off(scene["A05"], outcomes=torn, bag=bag, by=cast.ines, at=at, second=second)
    assert fact.pieces == 7
    assert PieceFact.objects.get(state="removed in parts").second == cast.hanna


def test_every_piece_goes_into_a_labelled_bag(cast):
    scene, version = stretch(cast)
    scene.tape("A05", version, by=cast.ines)
    at, keys = taking(scene, cast.ines)
    with pytest.raises(Refused, match="labelled bag") as refusal:
        take_off(scene["A05"], outcomes={keys[0]: "removed intact"}, bag=None, by=cast.ines, at=at)
    assert refusal.value.field == "bag"


def test_a_removal_ends_only_when_every_piece_is_accounted_for_and_the_face_was_looked_at(cast):
    scene, version = stretch(cast)
    scene.tape("A05", version, by=cast.ines)
    at, keys = taking(scene, cast.ines)
    finish = {"residue": "none", "agent": "", "surface_ok": True, "by": cast.ines, "at": at}
    with pytest.raises(Refused, match="8 pieces are on by the record"):
        finish_removal(scene["A05"], **finish)
    hands.take_pieces(scene["A05"], keys, by=cast.ines, at=at)
    assert (state(scene), application(scene).state) == ("residue", "removing")
    with pytest.raises(Refused, match="Name the approved cleaning agent"):
        finish_removal(scene["A05"], **finish | {"residue": "cleaned"})
    assert finish_removal(scene["A05"], **finish | {"surface_ok": False}).state == "residue"


def test_residue_is_cleaned_with_a_named_agent_before_the_roller_is_bare(cast):
    scene, version = stretch(cast)
    scene.tape("A05", version, by=cast.ines)
    assert scene.take_off("A05", 8, by=cast.ines, residue=True).state == "residue"
    at = now(scene["A05"])
    with pytest.raises(Refused, match="A05 is residue"):
        begin(scene, version, cast.ines, at=at)
    hands.lock_out(scene["A05"], "clean", by=cast.ines, at=at)
    with pytest.raises(Refused, match="Name the approved cleaning agent"):
        clean_roller(scene["A05"], agent=" ", surface_ok=True, by=cast.ines, at=at)
    with pytest.raises(Refused, match="look at the face in good light"):
        clean_roller(scene["A05"], agent="dry wipe", surface_ok=False, by=cast.ines, at=at)
    assert clean_roller(scene["A05"], agent="dry wipe", surface_ok=True, by=cast.ines, at=at).state == "bare"
    with pytest.raises(Refused, match="no residue is on record"):
        clean_roller(scene["A05"], agent="dry wipe", surface_ok=True, by=cast.ines, at=at)


def test_nothing_comes_off_a_bare_roller(cast):
    scene, _ = stretch(cast)
    hands.lock_out(scene["A05"], "remove", by=cast.ines, at=make.AT)
    with pytest.raises(Refused, match="no tape on record to remove"):
        begin_removal(scene["A05"], by=cast.ines, at=make.AT)


def test_after_a_partial_removal_the_rest_can_only_come_off(cast):
    scene, version = stretch(cast)
    scene.tape("A05", version, by=cast.ines)
    scene.take_off("A05", 4, by=cast.ines)
    at = now(scene["A05"])
    with pytest.raises(Refused, match="A05 is partial"):
        begin(scene, version, cast.ines, at=at)
    with pytest.raises(Refused, match="nothing to check now"):
        check_tape(scene["A05"], pieces=4, tail_trails=True, by=cast.dara, at=at)
    hands.lock_out(scene["A05"], "remove", by=cast.ines, at=at)
    with pytest.raises(Refused, match="nothing to leave off now"):
        stop_removal(scene["A05"], reason="again later", by=cast.ines, at=at)


# --- missing and found ----------------------------------------------------------------------------------------


def test_a_missing_piece_in_a_food_room_holds_product_and_calls_qa(cast):
    scene, _, _ = taped_b(cast)
    scene.remove("B09", by=cast.tomas, missing=1)
    hold = Hold.objects.get()
    assert hold.why == "missing-piece" and hold.application == application(scene, "B09")
    deviation = Deviation.objects.get(code="piece-missing")
    assert (deviation.severity, deviation.owner_role) == ("critical", "qa")
    assert [piece.number for piece in missing_pieces([scene["B09"]])] == [8]
    assert state(scene, "B09") == "bare"


def test_a_missing_piece_in_a_general_room_is_a_deviation_without_a_hold(cast):
    scene, version = stretch(cast)
    scene.tape("A05", version, by=cast.ines)
    scene.remove("A05", by=cast.ines, missing=1)
    assert not Hold.objects.exists()
    assert Deviation.objects.get(code="piece-missing").severity == "major"


def test_a_found_piece_needs_a_photograph_and_a_second_person_and_does_not_end_the_hold(cast):
    scene, _, _ = taped_b(cast)
    scene.remove("B09", by=cast.tomas, missing=1)
    (piece,) = missing_pieces([scene["B09"]])
    at = now(scene["B09"])
    photo = hands_photo(cast.tomas, at)
    given = {
        "photo": photo,
        "bag": hands.bag_in(scene["B09"], by=cast.tomas, at=at),
        "second": make.confirmation(cast.yuki, at),
        "where": "in the bag of edge trim",
        "by": cast.tomas,
        "at": at,
    }
    with pytest.raises(Refused, match="photograph"):
        find_piece(piece, **given | {"photo": None})
    with pytest.raises(Refused, match="second person"):
        find_piece(piece, **given | {"second": None})
    with pytest.raises(Refused, match="second person"):
        find_piece(piece, **given | {"second": make.confirmation(cast.tomas, at)})
    fact = find_piece(piece, **given)
    assert (fact.state, fact.second, fact.photo) == ("found", cast.yuki, photo)
    with pytest.raises(Conflict, match="already recorded as found"):
        find_piece(piece, **given)
    assert Hold.objects.get().closed_at is None and missing_pieces([scene["B09"]]) == []


def hands_photo(by, at):
    return keep_photo(make.photo(), by=by, at=at)


def surveyed(scene, cast):
    survey = start_survey(scene["A05"].room, by=cast.hanna, at=make.AT)
    for code in ("A01", "A05", "A08"):
        record_seen(survey, scene[code], state="bare", by=cast.ines, at=make.AT)
    close_survey(survey, confirmation=make.confirmation(cast.yuki))


def test_tape_without_a_record_found_after_the_survey_makes_the_roller_unknown_and_never_valid(cast):
    scene, version = stretch(cast)
    with pytest.raises(Refused, match="survey of room G1 is not closed"):
        report_found_tape(scene["A08"], what="one crepe lane, drive end", by=cast.ines, at=make.AT)
    surveyed(scene, cast)
    with pytest.raises(Refused, match="Say what you found"):
        report_found_tape(scene["A08"], what="", by=cast.ines, at=make.AT)
    fact = report_found_tape(scene["A08"], what="one crepe lane, drive end", by=cast.sol, at=make.AT)
    assert (fact.state, fact.recipe_version, fact.measured, fact.checked) == ("unknown", None, False, False)
    assert not Application.objects.filter(position=scene["A08"]).exists()
    assert Deviation.objects.get(code="found-tape").severity == "minor"
    with pytest.raises(Refused):
        begin(scene, version, cast.ines, code="A08")
    assert scene.take_off("A08", 1, by=cast.ines).state == "bare"
    job = application(scene, "A08")
    assert (job.origin, job.state, job.pieces.count()) == ("found", "removed", 1)


def test_unrecorded_tape_in_a_medical_room_is_critical(cast):
    scene = line_c(cast)
    survey = start_survey(scene["C06"].room, by=cast.hanna, at=make.AT)
    for code in ("C06", "C07"):
        record_seen(survey, scene[code], state="bare", by=cast.mei, at=make.AT)
    close_survey(survey, confirmation=make.confirmation(cast.yuki))
    report_found_tape(scene["C07"], what="crepe on the face", by=cast.yuki, at=make.AT)
    deviation = Deviation.objects.get(code="found-tape")
    assert (deviation.severity, deviation.owner_role) == ("critical", "qa")


def test_tape_that_the_survey_found_comes_off_piece_by_piece_like_any_other(cast):
    scene = line_a(cast)
    survey = start_survey(scene["A05"].room, by=cast.hanna, at=make.AT)
    record_seen(survey, scene["A05"], state="taped", text="crepe, both ends", pieces=8, by=cast.ines, at=make.AT)
    fact = scene.take_off("A05", 3, by=cast.ines)
    assert (fact.state, fact.pieces) == ("partial", 5)
    assert application(scene).origin == "survey"
    assert scene.take_off("A05", 5, by=cast.ines).state == "bare"


# --- two at once ----------------------------------------------------------------------------------------------


def test_who_looked_before_somebody_else_recorded_reads_what_changed_and_overwrites_nothing(cast):
    scene, version = stretch(cast)
    seen = TapeFact.objects.filter(position=scene["A05"]).latest("pk").pk
    scene.begin("A05", version, by=cast.ines, at=make.AT)
    with pytest.raises(Conflict, match="Changed since you looked: Ines Varga recorded"):
        begin(scene, version, cast.dara, sent=Sent(seen=seen))
    assert Application.objects.count() == 1


@pytest.mark.db_both
@pytest.mark.django_db(transaction=True)
def test_of_two_who_wind_the_same_roller_at_once_one_counts_and_the_other_is_told(cast):
    scene, version = stretch(cast)
    for person in (cast.ines, cast.dara):
        scene.begin("A05", version, by=person, at=start(scene["A05"]))
    hands.prepare(scene["A05"], by=cast.ines, at=make.AT)
    scene.reel("A05", version)
    gate, refusals = threading.Barrier(2), []

    def one(person):
        try:
            gate.wait(10)
            wind(scene, version, person)
        except Refused as refusal:
            refusals.append((refusal.code, refusal.sentence))
        finally:
            connection.close()

    threads = [threading.Thread(target=one, args=[person]) for person in (cast.ines, cast.dara)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join(30)
    assert [code for code, _ in refusals] == ["already"]
    assert "Already recorded at 2026-03-25 09:00 UTC by" in refusals[0][1]
    assert TapeFact.objects.filter(kind="applied").count() == 1 and Piece.objects.count() == 8
    assert ReelMove.objects.filter(kind="cut").count() == 1


@pytest.mark.db_both
def test_a_recorded_fact_is_never_changed_or_deleted_and_an_ended_taping_stays_as_it_is(cast):
    scene, version = stretch(cast)
    scene.tape("A05", version, by=cast.ines)
    fact = scene.remove("A05", by=cast.ines)
    piece = PieceFact.objects.latest("pk")
    for attempt in (
        lambda: TapeFact.objects.filter(pk=fact.pk).update(pieces=7),
        lambda: TapeFact.objects.filter(pk=fact.pk).delete(),
        lambda: PieceFact.objects.filter(pk=piece.pk).update(state="on roller"),
        lambda: Application.objects.update(state="verified"),
    ):
        with pytest.raises(IntegrityError), transaction.atomic():
            attempt()


def test_in_the_food_room_the_same_rules_hold_with_the_food_add_on(cast):
    scene, _, _ = taped_b(cast)
    at = now(scene["B09"])
    with pytest.raises(Forbidden) as refusal:
        begin_lockout(scene["B09"], "remove", by=cast.ines, at=at)
    assert refusal.value.code == "add-on-missing"
    assert "Tomas Brandl" in refusal.value.sentence
    assert scene.remove("B09", by=cast.tomas).state == "bare"
