"""Tape on a roller: under lockout, by certified hands, counted, checked by a second person, and off again."""

import threading
from datetime import UTC, date, datetime, timedelta

import pytest
from django.db import IntegrityError, connection, transaction

from plant.audit.models import Event
from plant.errors import Conflict, Forbidden, Refused
from plant.people.models import Person
from rollers.models import TapeFact
from rollers.queries_registry import tape_state
from rollers.services.applying import apply_tape, check_tape, measure_tape
from rollers.services.recipes import withdraw_recipe
from rollers.services.removing import clean_roller, remove_tape, report_found_tape
from rollers.services.spot import LOCKOUT
from rollers.services.surveys import close_survey, record_seen, start_survey
from tests import make
from tests.rollers.scenes import STEPS, both, line_a, line_c, taped_b
from training.services import suspend

pytestmark = pytest.mark.django_db


def stretch(cast):
    scene = line_a(cast)
    return scene, scene.recipe("A05", ["SF-17"], make.stock("T1"), both(600, 792, 4))


def put_on(scene, version, by, code="A05", **fields):
    given = {"pieces": 8, "lockout": STEPS, "lock_number": "L-7", "at": make.AT} | fields
    return apply_tape(scene[code], version, step=scene.step(code), by=by, **given)


def take_off(scene, by, pieces=8, code="A05", **fields):
    given = {"residue": False, "lockout": STEPS, "lock_number": "L-7", "at": make.AT} | fields
    return remove_tape(scene[code], pieces=pieces, by=by, **given)


def state(scene, code="A05"):
    return tape_state(scene[code].mountings.get(removed_at=None).body)


# --- lockout --------------------------------------------------------------------------------------------------


def test_lockout_goes_through_the_six_steps_in_the_order_of_the_law():
    """29 CFR 1910.147(d)(1)-(6): preparation, shutdown, isolation, lock or tag, stored energy, verification."""
    assert STEPS == ["prepare", "shut-down", "isolate", "lock", "stored", "verify"]


@pytest.mark.parametrize("missing", range(6))
def test_no_step_of_the_lockout_may_be_left_out(cast, missing):
    scene, version = stretch(cast)
    confirmed = [step for step in STEPS if step != STEPS[missing]]
    with pytest.raises(Refused) as refusal:
        put_on(scene, version, cast.ines, lockout=confirmed)
    assert refusal.value.details == [LOCKOUT[missing][1]]
    assert "Your plant's procedure comes first" in refusal.value.sentence
    assert state(scene) == "bare"


def test_taking_off_asks_for_the_lockout_as_putting_on_does(cast):
    scene, version = stretch(cast)
    scene.tape("A05", version, by=cast.ines)
    with pytest.raises(Refused, match="Lock out first"):
        take_off(scene, cast.ines, lockout=[])
    with pytest.raises(Refused, match="number of your own lock"):
        take_off(scene, cast.ines, lock_number=" ")
    assert state(scene) == "taped"


def test_nothing_is_measured_before_tape_was_put_on_under_lockout(cast):
    scene, _ = stretch(cast)
    with pytest.raises(Refused, match="no recorded tape to measure"):
        measure_tape(scene["A05"], builds={"operator": 0.56, "drive": 0.56}, by=cast.ines, at=make.AT)


# --- who may --------------------------------------------------------------------------------------------------


def refused_for(scene, version, person, code="A05", at=make.AT):
    with pytest.raises(Forbidden) as refusal:
        put_on(scene, version, person, code=code, at=at, pieces=4 if code == "C06" else 8)
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
    assert put_on(scene, version, cast.rui, at=last).state == "taped"


@pytest.mark.db_both
def test_midnight_comes_an_hour_earlier_in_utc_after_the_clocks_went_forward(cast):
    """From Sunday 29 March 2026 Vienna is two hours ahead of UTC: the day ends at 22:00 UTC."""
    scene, version = stretch(cast)
    person = make.person("Vera Holm", "operator", skills="aware apply", until=date(2026, 3, 29))
    last = datetime(2026, 3, 29, 21, 59, 59, tzinfo=UTC)
    assert refused_for(scene, version, person, at=last + timedelta(seconds=1)).code == "lapsed"
    assert put_on(scene, version, person, at=last).state == "taped"


def test_tape_put_on_while_the_certificate_was_valid_stays_valid_when_it_lapses(cast):
    scene, version = stretch(cast)
    put_on(scene, version, cast.rui, at=datetime(2026, 3, 25, 22, 0, tzinfo=UTC))
    later = datetime(2026, 3, 26, 8, 0, tzinfo=UTC)
    measure_tape(scene["A05"], builds={"operator": 0.56, "drive": 0.56}, by=cast.ines, at=later)
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
    assert put_on(scene, version, cast.kwame).state == "taped"


# --- putting on -----------------------------------------------------------------------------------------------


def test_putting_on_keeps_who_which_recipe_how_many_pieces_and_the_lock(cast):
    scene, version = stretch(cast)
    fact = put_on(scene, version, cast.ines)
    assert (fact.state, fact.recipe_version, fact.applier, fact.pieces) == ("taped", version, cast.ines, 8)
    assert fact.details == {"lockout": STEPS, "lock_number": "L-7"}
    assert (fact.orientation, fact.rotation) == ("normal", "cw")
    event = Event.objects.get(action="tape-applied")
    assert event.actor == cast.ines and "A05" in event.sentence


def test_the_pieces_are_counted_exactly(cast):
    scene, version = stretch(cast)
    for count in (7, 9, 0):
        with pytest.raises(Refused, match="8 pieces") as refusal:
            put_on(scene, version, cast.ines, pieces=count)
        assert refusal.value.field == "pieces"


def test_only_a_recipe_in_force_for_this_position_goes_on(cast):
    scene, version = stretch(cast)
    draft = scene.draft("A05", ["SF-17"], make.stock("T1"), both(600, 792, 3))
    with pytest.raises(Refused, match="not a taped recipe in force"):
        put_on(scene, draft, cast.ines)
    with pytest.raises(Refused, match="belongs to A05, not to A08"):
        apply_tape(
            scene["A08"],
            version,
            step=scene.step("A08"),
            pieces=8,
            lockout=STEPS,
            lock_number="L-7",
            by=cast.ines,
            at=make.AT,
        )
    withdraw_recipe(version, reason="Marks at the band edge", by=cast.hanna, at=make.AT)
    version.refresh_from_db()
    with pytest.raises(Refused, match="not a taped recipe in force"):
        put_on(scene, version, cast.ines)


def test_a_stock_that_the_room_no_longer_permits_does_not_go_on(cast):
    scene = line_c(cast)
    tape = make.stock("T5")
    version = scene.recipe("C06", ["ML-62"], tape, both(256, 356, 1))
    tape.room_kinds = ["general", "food"]
    tape.save()
    version.refresh_from_db()
    with pytest.raises(Refused, match="not permitted in this medical room"):
        put_on(scene, version, cast.mei, code="C06", pieces=4)


def test_tape_goes_on_a_bare_roller_only(cast):
    scene, version = stretch(cast)
    scene.tape("A05", version, by=cast.ines)
    with pytest.raises(Refused, match="A05 is taped"):
        put_on(scene, version, cast.ines)


def test_a_time_in_the_future_or_before_what_is_on_record_is_refused(cast):
    scene, version = stretch(cast)
    with pytest.raises(Refused, match="lies in the future"):
        put_on(scene, version, cast.ines, done_at=make.AT + timedelta(minutes=3))
    put_on(scene, version, cast.ines, done_at=make.AT - timedelta(minutes=30))
    builds = {"operator": 0.56, "drive": 0.56}
    early = make.AT - timedelta(minutes=45)
    with pytest.raises(Refused, match="later than this"):
        measure_tape(scene["A05"], builds=builds, by=cast.ines, at=make.AT, done_at=early)


# --- measured and checked -------------------------------------------------------------------------------------


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
    put_on(scene, version, cast.ines)
    with pytest.raises(Refused, match=words):
        measure_tape(scene["A05"], builds=builds, by=cast.ines, at=make.AT)
    assert not TapeFact.objects.filter(kind="measured").exists()


def checking(scene, by, pieces=8, tail_trails=True):
    return check_tape(scene["A05"], pieces=pieces, tail_trails=tail_trails, by=by, at=make.AT)


def test_who_put_the_tape_on_cannot_check_it(cast):
    scene, version = stretch(cast)
    scene.tape("A05", version, by=cast.dara)
    with pytest.raises(Refused, match="second person with Check") as refusal:
        checking(scene, cast.dara)
    assert refusal.value.code == "same-person"
    assert checking(scene, cast.lena).checked


def test_the_check_looks_at_measurement_tail_and_count(cast):
    scene, version = stretch(cast)
    put_on(scene, version, cast.ines)
    with pytest.raises(Refused, match="measure the build first"):
        checking(scene, cast.dara)
    measure_tape(scene["A05"], builds={"operator": 0.56, "drive": 0.56}, by=cast.ines, at=make.AT)
    with pytest.raises(Refused, match="leading tail gets lifted"):
        checking(scene, cast.dara, tail_trails=False)
    with pytest.raises(Refused, match="8 pieces are recorded, you see 7"):
        checking(scene, cast.dara, pieces=7)
    fact = checking(scene, cast.dara)
    assert fact.measured and fact.checked and fact.applier == cast.ines


def test_a_checker_needs_check_not_only_apply(cast):
    scene, version = stretch(cast)
    scene.tape("A05", version, by=cast.ines)
    with pytest.raises(Forbidden) as refusal:
        checking(scene, cast.kwame)
    assert refusal.value.code == "never-certified"


# --- taking off -----------------------------------------------------------------------------------------------


def test_taking_off_all_pieces_makes_the_roller_bare(cast):
    scene, version = stretch(cast)
    scene.tape("A05", version, by=cast.ines)
    fact = take_off(scene, cast.ines)
    assert (fact.state, fact.pieces, fact.recipe_version) == ("bare", 0, None)


def test_one_of_two_bands_off_is_partial_with_the_pieces_left(cast):
    scene, version = stretch(cast)
    scene.tape("A05", version, by=cast.ines)
    fact = take_off(scene, cast.ines, pieces=4)
    assert (fact.state, fact.pieces, fact.recipe_version) == ("partial", 4, version)
    with pytest.raises(Refused, match="4 pieces were on, you count 5"):
        take_off(scene, cast.ines, pieces=5)
    assert take_off(scene, cast.ines, pieces=4).state == "bare"


def test_more_pieces_than_are_on_record_are_refused(cast):
    scene, version = stretch(cast)
    scene.tape("A05", version, by=cast.ines)
    with pytest.raises(Refused, match="a piece too many is wrong too"):
        take_off(scene, cast.ines, pieces=9)
    assert state(scene) == "taped"


def test_residue_is_cleaned_with_a_named_agent_before_the_roller_is_bare(cast):
    scene, version = stretch(cast)
    scene.tape("A05", version, by=cast.ines)
    assert take_off(scene, cast.ines, residue=True).state == "residue"
    with pytest.raises(Refused, match="A05 is residue"):
        put_on(scene, version, cast.ines)
    with pytest.raises(Refused, match="Name the approved cleaning agent"):
        clean_roller(scene["A05"], agent=" ", by=cast.ines, at=make.AT)
    assert clean_roller(scene["A05"], agent="dry wipe", by=cast.ines, at=make.AT).state == "bare"
    with pytest.raises(Refused, match="no residue is on record"):
        clean_roller(scene["A05"], agent="dry wipe", by=cast.ines, at=make.AT)


def test_nothing_comes_off_a_bare_roller(cast):
    scene, _ = stretch(cast)
    with pytest.raises(Refused, match="no tape on record to remove"):
        take_off(scene, cast.ines)


# --- found ----------------------------------------------------------------------------------------------------


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
    with pytest.raises(Refused):
        put_on(scene, version, cast.ines, code="A08")
    assert take_off(scene, cast.ines, pieces=1, code="A08").state == "bare"


# --- two at once ----------------------------------------------------------------------------------------------


def test_who_looked_before_somebody_else_recorded_reads_what_changed_and_overwrites_nothing(cast):
    scene, version = stretch(cast)
    seen = TapeFact.objects.filter(position=scene["A05"]).latest("pk").pk
    put_on(scene, version, cast.ines, seen=seen)
    with pytest.raises(Conflict, match="Changed since you looked: Ines Varga recorded"):
        put_on(scene, version, cast.dara, seen=seen)
    assert TapeFact.objects.filter(kind="applied").count() == 1


@pytest.mark.db_both
@pytest.mark.django_db(transaction=True)
def test_of_two_who_tape_the_same_roller_at_once_one_counts_and_the_other_is_told(cast):
    scene, version = stretch(cast)
    start, refusals = threading.Barrier(2), []

    def one(person):
        try:
            start.wait(10)
            put_on(scene, version, person)
        except Refused as refusal:
            refusals.append(refusal.code)
        finally:
            connection.close()

    threads = [threading.Thread(target=one, args=[person]) for person in (cast.ines, cast.dara)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join(30)
    assert refusals == ["not-bare"]
    assert TapeFact.objects.filter(kind="applied").count() == 1


@pytest.mark.db_both
def test_a_recorded_fact_is_never_changed_or_deleted(cast):
    scene, version = stretch(cast)
    fact = put_on(scene, version, cast.ines)
    for attempt in (
        lambda: TapeFact.objects.filter(pk=fact.pk).update(pieces=7),
        lambda: TapeFact.objects.filter(pk=fact.pk).delete(),
    ):
        with pytest.raises(IntegrityError), transaction.atomic():
            attempt()


def test_in_the_food_room_the_same_rules_hold_with_the_food_add_on(cast):
    scene, _, _ = taped_b(cast)
    with pytest.raises(Forbidden) as refusal:
        take_off(scene, cast.ines, code="B09")
    assert refusal.value.code == "add-on-missing"
    assert "Tomas Brandl" in refusal.value.sentence
    assert take_off(scene, cast.tomas, code="B09").state == "bare"
