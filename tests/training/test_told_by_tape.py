"""What the record of tape tells training: jobs for currency, failed checks, findings, ends in the middle of a job.

Nothing here writes a row of training by hand: the jobs are done at rollers through their own services.
"""

from datetime import UTC, date, datetime, timedelta

import pytest
from django.urls import reverse

from plant.errors import Forbidden, Refused
from plant.floor.services import reclassify_room
from plant.people.models import Person
from rollers.demo import hands
from rollers.models import Deviation
from rollers.services.applications import begin_application
from rollers.services.checking import check_tape
from rollers.services.looking import record_look
from rollers.services.tasks import open_deviation
from rollers.services.tying import tie_to_person
from tests import make
from tests.rollers.scenes import both, line_a, now
from training.models import Due, JobDone, Trigger
from training.queries import is_certified, standing
from training.rules_due import add_months
from training.services import settle_dues
from training.tally import tally

pytestmark = [pytest.mark.django_db, pytest.mark.db_both]
MINUTE = timedelta(minutes=1)
LATER = make.AT + 15 * MINUTE


@pytest.fixture
def stretch(cast):
    scene = line_a(cast)
    version = scene.recipe("A05", ["SF-17"], make.stock("T1"), both(600, 792, 4))
    scene.sheet("SF-17", A05=version)
    return scene, version


def told(*kinds):
    rows = JobDone.objects.filter(kind__in=kinds) if kinds else JobDone.objects.all()
    return [(row.kind, row.room_kind, row.person.name, row.subject) for row in rows.order_by("pk")]


# --- currency -------------------------------------------------------------------------------------------------


def test_tape_put_on_checked_and_taken_off_at_a_roller_is_practice_of_who_did_it(cast, stretch):
    scene, version = stretch
    scene.tape("A05", version, by=cast.ines, checker=cast.dara)
    scene.remove("A05", by=cast.ines)
    assert told("apply", "check", "remove") == [
        ("apply", "general", "Ines Varga", "A05, T1 × 4, both ends, v1 (tape)"),
        ("check", "general", "Dara Whitlow", "A05, T1 × 4, both ends, v1 (tape)"),
        ("remove", "general", "Ines Varga", "A05"),
    ]


def test_a_recipe_signed_as_author_is_practice_of_sizing(cast, stretch):
    assert told("study") == [("study", "", "Dara Whitlow", "T1 × 4, both ends, v1 (tape) for A05")]


def test_currency_is_counted_from_jobs_really_done(cast, stretch):
    """Two jobs in six months: with a taping and a removal nothing is due; with one of them practice runs out."""
    scene, version = stretch
    idle = make.person("Pell Adair", "operator", skills="aware apply")
    scene.tape("A05", version, by=cast.ines, checker=cast.dara)
    scene.remove("A05", by=cast.ines)
    after = make.AT + timedelta(days=150)
    settle_dues(Person.objects.filter(pk__in=[cast.ines.pk, idle.pk]), after)
    due = {row.person.name: row.due_on for row in Due.objects.filter(kind="currency")}
    assert due["Ines Varga"] == add_months(make.AT.date(), 6)
    assert due["Pell Adair"] < after.date()


def test_a_job_of_a_trainee_is_practice_under_the_eyes_of_who_signed_and_counts_for_that_person(cast, stretch):
    scene, version = stretch
    trainee = make.person("Tilda Roos", "operator", skills="aware")
    begin_application(
        scene["A05"],
        version,
        step=scene.step("A05"),
        by=trainee,
        at=make.AT,
        certified=make.confirmation(cast.ines),
    )
    hands.confirm_all(scene["A05"], by=trainee, at=make.AT, lock="L-T")
    hands.prepare(scene["A05"], by=trainee, at=make.AT)
    hands.wind(scene["A05"], version, scene.reel("A05", version), step=scene.step("A05"), by=trainee, at=make.AT)
    hands.measure(scene["A05"], version, by=trainee, at=LATER)
    hands.count_and_unlock(scene["A05"], by=trainee, at=LATER)
    rows = JobDone.objects.filter(kind="apply").order_by("pk")
    assert [(row.person, row.supervised_by) for row in rows] == [(trainee, cast.ines), (cast.ines, None)]


def test_the_eyes_of_one_job_do_not_cover_a_later_one(cast, stretch):
    """Once the tape is checked the job is over; a trainee who takes it off later is a trainee alone."""
    scene, version = stretch
    trainee = make.person("Tilda Roos", "operator", skills="aware")
    begin_application(
        scene["A05"],
        version,
        step=scene.step("A05"),
        by=trainee,
        at=make.AT,
        certified=make.confirmation(cast.ines),
    )
    hands.confirm_all(scene["A05"], by=trainee, at=make.AT, lock="L-T")
    hands.prepare(scene["A05"], by=trainee, at=make.AT)
    hands.wind(scene["A05"], version, scene.reel("A05", version), step=scene.step("A05"), by=trainee, at=make.AT)
    hands.measure(scene["A05"], version, by=trainee, at=LATER)
    hands.count_and_unlock(scene["A05"], by=trainee, at=LATER)
    check_tape(scene["A05"], pieces=8, tail_trails=True, by=cast.dara, at=LATER)
    with pytest.raises(Forbidden) as refusal:
        scene.remove("A05", by=trainee, at=LATER + 30 * MINUTE)
    assert refusal.value.code == "never-certified"


# --- a certificate that ends in the middle of a job -----------------------------------------------------------

NIGHTS = [
    pytest.param(date(2026, 3, 28), datetime(2026, 3, 28, 23, tzinfo=UTC), id="the night the clocks go forward"),
    pytest.param(date(2026, 10, 24), datetime(2026, 10, 24, 22, tzinfo=UTC), id="the night the clocks go back"),
]


@pytest.mark.parametrize(("last", "midnight"), NIGHTS)
def test_a_taping_begun_before_midnight_is_finished_with_notes_and_no_other_is_begun(cast, stretch, last, midnight):
    scene, version = stretch
    rui = make.person("Rui Castell", "operator", skills="aware", until=date(2027, 12, 31))
    make.certificate(rui, "apply", until=last)
    place, step = scene["A05"], scene.step("A05")
    begun, done = midnight - 10 * MINUTE, midnight + 5 * MINUTE
    scene.begin("A05", version, by=rui, at=begun)
    hands.prepare(place, by=rui, at=begun)
    hands.wind(place, version, scene.reel("A05", version), step=step, by=rui, at=done)
    hands.measure(place, version, by=rui, at=done + 15 * MINUTE)
    hands.count_and_unlock(place, by=rui, at=done + 16 * MINUTE)
    notes = Deviation.objects.filter(code="finished-after-end", person=rui)
    assert [note.severity for note in notes] == ["info"] * 3
    assert all("may finish the step begun on" in note.sentence for note in notes)
    assert told("apply") == [("apply", "general", "Rui Castell", "A05, T1 × 4, both ends, v1 (tape)")]
    with pytest.raises(Forbidden) as refusal:
        scene.remove("A05", by=rui, at=done + 30 * MINUTE)
    assert refusal.value.code == "lapsed"


# --- what calls a skill into question -------------------------------------------------------------------------


def fails(scene, by, *, at, defects=("tail",), pieces=8):
    return record_look(scene["A05"], result="fail", defects=list(defects), pieces_seen=pieces, by=by, at=at)


def test_two_fresh_tapings_found_not_fit_by_a_checker_suspend_the_applier(cast, stretch):
    scene, version = stretch
    scene.tape("A05", version, by=cast.ines)
    fails(scene, cast.dara, at=now(scene["A05"]))
    first = Trigger.objects.get()
    assert (first.person, first.kind, first.suspends, first.by) == (cast.ines, "failed-check", False, cast.dara)
    assert first.reason == "Dara Whitlow found fresh tape not fit to run: the tail is loose or leads"
    assert is_certified(cast.ines, "apply", "general", now(scene["A05"]))
    scene.remove("A05", by=cast.ines)
    scene.tape("A05", version, by=cast.ines)
    fails(scene, cast.dara, at=now(scene["A05"]), defects=("moved",))
    assert Trigger.objects.count() == 2
    assert standing(cast.ines, "apply", "general", now(scene["A05"])).code == "suspended"


def test_the_own_look_of_the_applier_and_one_of_somebody_who_may_not_check_are_no_failed_check(cast, stretch):
    scene, version = stretch
    scene.tape("A05", version, by=cast.ines)
    fails(scene, cast.ines, at=now(scene["A05"]))
    fails(scene, cast.hanna, at=now(scene["A05"]) + MINUTE)
    assert not Trigger.objects.exists()


def test_tape_that_went_bad_after_it_was_checked_is_no_failed_check(cast, stretch):
    scene, version = stretch
    scene.tape("A05", version, by=cast.ines, checker=cast.dara)
    fails(scene, cast.babak, at=now(scene["A05"]) + timedelta(days=2))
    assert not Trigger.objects.exists()


def heavy(scene, severity="critical"):
    return open_deviation(
        "piece-missing", severity, "A05: 1 piece of tape missing at the removal.", at=make.AT, owner_role="qa"
    )


def test_qa_ties_a_missing_piece_or_a_wrong_check_to_persons_and_their_work_stops_at_once(cast, stretch):
    scene, _ = stretch
    found = heavy(scene)
    asked = {"reason": "the count after winding was typed, not made", "by": cast.yuki, "at": make.AT}
    trigger = tie_to_person(found, cast.ines, "apply", **asked)
    assert (trigger.kind, trigger.suspends, trigger.by, trigger.subject) == (
        "finding",
        True,
        cast.yuki,
        "A05: 1 piece of tape missing at the removal.",
    )
    assert standing(cast.ines, "apply", "general", make.AT).code == "suspended"
    tie_to_person(found, cast.dara, "check", **asked | {"reason": "the check was signed without a look"})
    assert standing(cast.dara, "check", "general", make.AT).code == "suspended"
    assert is_certified(cast.dara, "apply", "general", make.AT)
    found.refresh_from_db()
    assert found.person == cast.ines
    assert tie_to_person(found, cast.ines, "apply", **asked) == trigger


def test_a_finding_is_tied_by_qa_alone_with_a_reason_and_never_to_oneself(cast, stretch):
    scene, _ = stretch
    found, asked = heavy(scene), {"reason": "the count was typed, not made", "at": make.AT}
    with pytest.raises(Forbidden):
        tie_to_person(found, cast.ines, "apply", by=cast.hanna, **asked)
    with pytest.raises(Refused, match="It is about you"):
        tie_to_person(found, cast.yuki, "check", by=cast.yuki, **asked)
    with pytest.raises(Refused, match="Say what happened"):
        tie_to_person(found, cast.ines, "apply", by=cast.yuki, at=make.AT, reason=" ")
    with pytest.raises(Refused, match="Only a major or critical"):
        tie_to_person(heavy(scene, "minor"), cast.ines, "apply", by=cast.yuki, **asked)
    assert not Trigger.objects.exists() and is_certified(cast.ines, "apply", "general", make.AT)


def test_a_finding_is_tied_on_its_page_and_what_was_typed_stays_when_refused(cast, stretch, signed_in):
    scene, _ = stretch
    found = heavy(scene)
    client, page = signed_in(cast.yuki), reverse("rollers:tie-deviation", args=[found.pk])
    assert page in client.get(reverse("rollers:deviation", args=[found.pk])).content.decode()
    assert page not in signed_in(cast.hanna).get(reverse("rollers:deviation", args=[found.pk])).content.decode()
    typed = {"person": cast.yuki.staff_no, "skill": "apply", "reason": "counted by eye only"}
    again = client.post(page, typed)
    assert again.status_code == 422
    assert "counted by eye only" in again.content.decode() and "somebody else of QA" in again.content.decode()
    assert client.post(page, typed | {"person": cast.ines.staff_no}).status_code == 302
    assert Trigger.objects.get().person == cast.ines


# --- a room gets another class --------------------------------------------------------------------------------


def test_certificates_without_the_add_on_stop_counting_when_a_room_becomes_stricter(cast, stretch):
    """The class is asked for at the moment of the work, so what was put on before stays as it is."""
    scene, version = stretch
    room, turn = scene["A05"].room, make.AT + 40 * MINUTE
    scene.tape("A05", version, by=cast.ines)
    reclassify_room(room, kind="food", valid_from=turn, reason="a food customer", by=cast.yuki, at=LATER)
    check_tape(scene["A05"], pieces=8, tail_trails=True, by=cast.dara, at=turn - MINUTE)
    for act in (
        lambda: scene.remove("A05", by=cast.ines, at=turn + MINUTE),
        lambda: hands.lock_out(scene["A05"], "remove", by=cast.ines, at=turn + MINUTE),
    ):
        with pytest.raises(Forbidden) as refusal:
            act()
        assert "Food" in refusal.value.sentence
    fact = scene.remove("A05", by=cast.tomas, at=turn + MINUTE)
    assert fact.state == "bare"
    everybody = tally(Person.objects.all(), turn)
    assert cast.ines.pk in everybody.able("apply", "general")
    assert cast.ines.pk not in everybody.able("apply", "food") and cast.tomas.pk in everybody.able("apply", "food")
