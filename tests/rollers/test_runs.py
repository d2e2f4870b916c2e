"""Runs: planned, released by a supervisor against everything that stands against it, ended."""

import threading
from datetime import timedelta

import pytest
from django.db import IntegrityError, connection, transaction

from plant.audit.models import Event, Signature
from plant.errors import Conflict, Forbidden, Refused
from plant.floor.models import Run
from plant.floor.services import revise_product
from rollers.demo import hands
from rollers.models import Release, RunCheck
from rollers.services.runs import end_run, plan_run, release_run
from tests import make
from tests.rollers.scenes import both, line_a, now, taped_b
from tests.rollers.test_recipes import changed

pytestmark = pytest.mark.django_db


def planned(scene, product, by=None, **fields):
    version = scene.product(product).versions.get(current=True)
    given = {"tension_n_per_m": version.tension_set_n_per_m, "speed_m_per_min": version.speed_set_m_per_min}
    return plan_run(
        path=scene.path,
        version=version,
        starts_at=make.AT + timedelta(hours=1),
        by=by or scene.cast.hanna,
        at=make.AT,
        **given | fields,
    )


def released(scene, run, by=None):
    return release_run(run, confirmation=make.confirmation(by or scene.cast.hanna))


def blocks_of(run, person):
    with pytest.raises(Refused) as refusal:
        release_run(run, confirmation=make.confirmation(person))
    assert refusal.value.code == "blocked"
    return refusal.value.details


def off(scene, code, pieces, **fields):
    scene.take_off(code, pieces, by=scene.cast.tomas, **fields)


def stretch(cast):
    """A stretch film line, bare by signed sheets."""
    scene = line_a(cast)
    for product in scene.versions:
        scene.sheet(product)
    return scene


# --- planning -------------------------------------------------------------------------------------------------


def test_planning_looks_at_every_position_of_the_path_and_keeps_what_it_found(cast):
    scene, _, _ = taped_b(cast)
    run = planned(scene, "CP-70")
    found = {check.position.code: check for check in run.checks.select_related("position")}
    assert {code: check.readiness for code, check in found.items()} == {
        "B04": "blocked",
        "B09": "blocked",
        "B11": "ready",
        "B12": "ready",
    }
    assert found["B09"].calculation.verdict == "refused"
    assert found["B12"].calculation is None
    assert Event.objects.get(action="plan-run").subject_id == str(run.pk)


@pytest.mark.db_both
def test_what_planning_found_never_changes(cast):
    scene = stretch(cast)
    run = planned(scene, "SF-17")
    with pytest.raises(IntegrityError), transaction.atomic():
        RunCheck.objects.filter(run=run).update(readiness="ready")


def test_an_operator_plans_nothing(cast):
    scene = stretch(cast)
    with pytest.raises(Forbidden, match="Hanna Lindqvist"):
        planned(scene, "SF-17", by=cast.ines)


@pytest.mark.parametrize("fields", [{"tension_n_per_m": 0}, {"speed_m_per_min": -3}, {"tension_n_per_m": float("nan")}])
def test_a_set_point_that_cannot_be_is_refused_by_name(cast, fields):
    scene = stretch(cast)
    with pytest.raises(Refused, match="must be above zero") as refusal:
        planned(scene, "SF-17", **fields)
    assert refusal.value.field in ("tension", "speed")
    assert not Run.objects.exists()


# --- the change from film to paper ----------------------------------------------------------------------------


def test_the_change_to_paper_is_blocked_by_both_rollers_by_name_and_clears_one_by_one(cast):
    scene, _, _ = taped_b(cast)
    film = planned(scene, "BO-35")
    released(scene, film)
    end_run(film, by=cast.hanna, at=make.AT)
    paper = planned(scene, "CP-70")
    named = [sentence.split(":")[0] for sentence in blocks_of(paper, cast.hanna)]
    assert named == ["B04", "B09"]
    off(scene, "B09", 8)
    assert [sentence.split(":")[0] for sentence in blocks_of(paper, cast.hanna)] == ["B04"]
    off(scene, "B04", 3, residue=True)
    assert "residue" in blocks_of(paper, cast.hanna)[0]
    hands.clean(scene["B04"], by=cast.tomas, at=now(scene["B04"]))
    release = released(scene, paper)
    assert release.snapshot["product"] == "CP-70 v1"
    paper.refresh_from_db()
    assert (paper.state, paper.released_at) == ("released", make.AT)


def test_only_a_supervisor_releases(cast):
    scene = stretch(cast)
    run = planned(scene, "SF-17")
    for person in (cast.ines, cast.dara, cast.yuki, cast.sol, cast.keeper):
        with pytest.raises(Forbidden, match="Hanna Lindqvist can"):
            released(scene, run, by=person)
    assert released(scene, run).run == run


def test_the_release_is_computed_again_at_the_moment_of_signing(cast):
    """What was ready at planning is not ready any more when half of the tape came off in between."""
    scene, _, _ = taped_b(cast)
    run = planned(scene, "BO-35")
    assert {check.readiness for check in run.checks.all()} == {"ready"}
    off(scene, "B09", 4)
    assert "only part of the tape is on" in blocks_of(run, cast.hanna)[0]
    off(scene, "B09", 4)
    assert "B09: put on T5 × 1" in blocks_of(run, cast.hanna)[0]


def test_product_data_that_changed_after_planning_block_until_it_is_planned_again(cast):
    scene = stretch(cast)
    run = planned(scene, "SF-17")
    values = changed(scene.versions["SF-17"], modulus_md_mpa=140)
    revise_product(scene.product("SF-17"), values=values, reason="New resin", by=cast.dara, at=make.AT)
    assert "Plan the run again" in blocks_of(run, cast.hanna)[0]
    assert released(scene, planned(scene, "SF-17")).snapshot["product"] == "SF-17 v2"


# --- the snapshot ---------------------------------------------------------------------------------------------


def test_the_release_keeps_everything_the_supervisor_saw(cast):
    scene, _, _ = taped_b(cast)
    release = released(scene, planned(scene, "BO-35"))
    kept = {row["position"]: row for row in release.snapshot["positions"]}
    assert kept["B09"]["on"].startswith("T5 × 1, both ends")
    assert kept["B09"]["verdict"] == "fits" and kept["B09"]["checked"]
    assert kept["B12"]["required"] == "bare" and kept["B12"]["on"] == "bare"
    assert release.snapshot["sheet"] == "product sheet v1"
    assert release.snapshot["limits_version"] and release.snapshot["calcs_version"]
    signature = Signature.objects.get(meaning="released")
    assert signature.person == cast.hanna and "T5 × 1, both ends" in signature.content


@pytest.mark.db_both
def test_the_snapshot_stays_as_it_was_whatever_happens_after(cast):
    scene, _, _ = taped_b(cast)
    run = planned(scene, "BO-35")
    before = released(scene, run).snapshot
    end_run(run, by=cast.hanna, at=make.AT)
    off(scene, "B09", 8)
    after = Release.objects.get(run=run)
    assert after.snapshot == before
    assert {row["position"]: row["on"] for row in after.snapshot["positions"]}["B09"].startswith("T5")
    with pytest.raises(IntegrityError), transaction.atomic():
        Release.objects.filter(run=run).update(snapshot={})
    with pytest.raises(IntegrityError), transaction.atomic():
        Release.objects.filter(run=run).delete()


# --- one run at a time ----------------------------------------------------------------------------------------


def test_a_line_with_a_released_run_takes_no_other(cast):
    scene = stretch(cast)
    released(scene, planned(scene, "SF-17"))
    with pytest.raises(Refused, match="SF-17 is still released on line A"):
        released(scene, planned(scene, "SF-23"))


@pytest.mark.db_both
def test_the_database_keeps_one_released_run_per_line(cast):
    scene = stretch(cast)
    released(scene, planned(scene, "SF-17"))
    other = planned(scene, "SF-23")
    with pytest.raises(IntegrityError), transaction.atomic():
        Run.objects.filter(pk=other.pk).update(state=Run.State.RELEASED)


def test_a_run_is_released_once_and_ended_once(cast):
    scene = stretch(cast)
    run = planned(scene, "SF-17")
    released(scene, run)
    with pytest.raises(Conflict, match="released already"):
        released(scene, run)
    end_run(run, by=cast.ines, at=make.AT)
    with pytest.raises(Conflict, match="ended already"):
        end_run(run, by=cast.ines, at=make.AT)


def test_a_planned_run_is_cancelled_by_a_supervisor_only(cast):
    scene = stretch(cast)
    run = planned(scene, "SF-17")
    with pytest.raises(Forbidden):
        end_run(run, by=cast.ines, at=make.AT)
    end_run(run, by=cast.hanna, at=make.AT, reason="Order moved to next week")
    run.refresh_from_db()
    assert run.state == "cancelled"


@pytest.mark.db_both
@pytest.mark.django_db(transaction=True)
def test_of_two_supervisors_who_release_at_once_one_release_stands_and_the_other_is_told(cast):
    scene = stretch(cast)
    run = planned(scene, "SF-17")
    start, refusals = threading.Barrier(2), []

    def one(person):
        try:
            confirmation = make.confirmation(person)
            start.wait(10)
            release_run(run, confirmation=confirmation)
        except Refused as refusal:
            refusals.append(refusal)
        finally:
            connection.close()

    threads = [threading.Thread(target=one, args=[person]) for person in (cast.hanna, cast.babak)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join(30)
    assert [type(refusal) for refusal in refusals] == [Conflict]
    assert Release.objects.count() == Signature.objects.filter(meaning="released").count() == 1


def test_tape_that_fits_both_products_stays_on_through_the_change(cast):
    scene = line_a(cast)
    version = scene.recipe("A05", ["SF-17", "SF-23"], make.stock("T1"), both(600, 792, 4))
    scene.sheet("SF-17", A05=version)
    scene.sheet("SF-23", A05=version)
    scene.tape("A05", version, by=cast.ines, checker=cast.dara)
    first = planned(scene, "SF-17")
    released(scene, first)
    end_run(first, by=cast.hanna, at=make.AT)
    kept = released(scene, planned(scene, "SF-23")).snapshot["positions"][1]
    assert kept["on"].startswith("T1 × 4") and kept["verdict"] == "fits"
    assert {finding["weight"] for finding in kept["findings"]} <= {"notice"}
