"""A trial runs while its engineer is there, and no run starts on one that is over; what was worse stays in sight."""

from datetime import timedelta

import pytest
from django.urls import reverse

from plant.errors import Conflict, Forbidden, Refused
from plant.floor.models import Shift
from plant.web import clock
from rollers.causes.models import Study, StudyResult
from rollers.causes.services.trials import make_trial, start_trial
from rollers.causes.timeline import history_of
from rollers.failed_tries import tries_at
from rollers.models import RecipeVersion, Roll, Task
from rollers.readiness import readiness
from rollers.services.restarting import record_restart
from rollers.services.runs import plan_run, release_run
from tests import make
from tests.rollers.scenes import both, line_a

pytestmark = pytest.mark.django_db
SHIFT_ENDS = make.AT.replace(hour=13)


@pytest.fixture
def scene(cast):
    made = line_a(cast)
    if not Shift.objects.filter(starts_at__lte=make.AT, ends_at__gt=make.AT).exists():
        make.shift(cast.ines, cast.dara, cast.hanna, cast.yuki)
    return made


@pytest.fixture
def trial(scene):
    """A trial that is signed and approved, not started; the other products of the line stay as they are."""
    draft = make_trial(
        scene.draft("A05", ["SF-17"], make.stock("T1"), both(600, 792, 4), title="Trial of four wraps"),
        by=scene.cast.dara,
        at=make.AT,
    )
    version = scene.approved(scene.signed(draft))
    scene.sheet("SF-17", A05=version)
    return version


def found(scene, at=make.AT):
    rows = readiness(scene.path, scene.versions["SF-17"], at=at).positions
    return {finding.code: finding.sentence for row in rows for finding in row.findings}


def begun(scene, trial):
    return start_trial(trial, confirmation=make.confirmation(scene.cast.dara))


def planned(scene, at):
    return plan_run(
        path=scene.path,
        version=scene.versions["SF-17"],
        tension_n_per_m=50,
        speed_m_per_min=280,
        starts_at=at,
        by=scene.cast.hanna,
        at=at,
    )


def running(scene, trial, at):
    """Taped, checked, started by its engineer, and released."""
    scene.tape("A05", trial, by=scene.cast.ines, checker=scene.cast.dara)
    begun(scene, trial)
    run = planned(scene, at)
    release_run(run, confirmation=make.confirmation(scene.cast.hanna, at))
    return run


def test_no_run_is_released_on_a_trial_whose_start_its_engineer_has_not_signed(scene, trial):
    assert "its start is not signed" in found(scene)["trial-not-started"]
    begun(scene, trial)
    assert "trial-not-started" not in found(scene)
    with pytest.raises(Conflict, match="signed already"):
        begun(scene, trial)


def test_only_an_engineer_who_is_on_shift_starts_a_trial(scene, trial):
    with pytest.raises(Forbidden):
        start_trial(trial, confirmation=make.confirmation(scene.cast.hanna))
    with pytest.raises(Refused, match="not on shift now"):
        start_trial(trial, confirmation=make.confirmation(make.person("Off Duty", "engineer")))


def test_a_lasting_recipe_and_a_draft_have_no_start(scene):
    lasting = scene.recipe("A05", ["SF-17"], make.stock("T1"), both(600, 792, 4))
    with pytest.raises(Refused, match="is no trial"):
        begun(scene, lasting)


def test_a_trial_without_an_engineer_on_shift_does_not_run(scene, trial):
    begun(scene, trial)
    Shift.objects.get(starts_at__lte=make.AT, ends_at__gt=make.AT).crew.remove(scene.cast.dara)
    assert "no engineer is on shift now" in found(scene)["trial-alone"]


def test_a_released_run_does_not_start_on_a_trial_whose_time_is_over(scene, trial):
    scene.tape("A05", trial, by=scene.cast.ines, checker=scene.cast.dara)
    begun(scene, trial)
    at = SHIFT_ENDS + timedelta(minutes=1)
    assert trial.state == RecipeVersion.State.IN_FORCE
    run = planned(scene, at)
    with pytest.raises(Refused) as refusal:
        release_run(run, confirmation=make.confirmation(scene.cast.hanna, at))
    assert any("The trial ended by itself with its time" in said for said in refusal.value.details)


def test_a_trial_is_over_after_its_rolls_before_its_time(scene, trial):
    at = make.AT + timedelta(minutes=30)
    run = running(scene, trial, at)
    for number in range(3):
        since = at + timedelta(minutes=10 * number)
        Roll.objects.create(
            run=run, number=f"T-{number}", began_at=since, ended_at=since + timedelta(minutes=9), length_m=2000
        )
    assert "ended by itself after 3 rolls" in found(scene, at + timedelta(minutes=31))["trial-over"]


def test_nobody_winds_tape_of_a_trial_that_is_over(scene, trial):
    with pytest.raises(Refused, match="ended by itself"):
        scene.tape("A05", trial, by=scene.cast.ines, at=SHIFT_ENDS + timedelta(minutes=5))


def test_the_start_is_signed_on_the_page_of_the_trial_and_a_wrong_password_starts_nothing(
    scene, trial, signed_in, monkeypatch
):
    monkeypatch.setattr(clock, "now", lambda: make.AT + timedelta(minutes=1))
    client = signed_in(scene.cast.dara)
    page = reverse("causes:trial", args=["A05"])
    assert "The start is not signed" in client.get(page).content.decode()
    answer = client.post(reverse("causes:start-trial", args=[trial.pk]), {"secret": "not mine at all"})
    assert answer.status_code == 422 and "The start is not signed" in answer.content.decode()


def worse_study(scene, trial):
    hour = timedelta(hours=1)
    study = Study.objects.create(
        position=scene["A05"],
        product=scene.product("SF-17"),
        measure="wrinkles",
        recipe_version=trial,
        what="T1, four wraps",
        before_from=make.AT - 9 * hour,
        before_to=make.AT - hour,
        after_from=make.AT,
        after_to=make.AT + hour,
        downstream=["A06", "A07"],
        planned_at=make.AT,
        by=scene.cast.dara,
    )
    StudyResult.objects.create(
        study=study,
        verdict="worse",
        answer={"sentences": ["Worse: 3 events before, 40 after."]},
        calcs_version="1",
        at=make.AT + hour,
        by=scene.cast.dara,
    )
    return study


def test_a_study_that_says_worse_stays_in_the_history_and_in_the_window_where_it_is_sized_again(
    scene, trial, signed_in
):
    worse_study(scene, trial)
    (one,) = tries_at(scene["A05"])
    assert (one.product, one.stock, one.wraps, one.tension_n_per_m) == ("SF-17", "T1", 4, 50)
    assert any("worse" in moment.words for moment in history_of(scene["A05"]))
    asked = {"stock": "T1", "products": ["SF-17"], "path": scene.step("A05").pk, "step": scene.step("A05").pk}
    text = signed_in(scene.cast.dara).get(reverse("rollers:sizing", args=["A05"]), asked).content.decode()
    assert "tried, worse" in text and "Tried and worse: 4 wraps at 50 N/m" in text


def test_a_restart_that_backs_off_is_a_try_that_was_worse_and_blocks_until_less_tape_is_on(scene, trial):
    at = make.AT + timedelta(minutes=30)
    running(scene, trial, at)
    record_restart(
        scene["A05"],
        step="crawl",
        speed=30,
        minutes=2,
        grade=3,
        grade_before=1,
        downstream=True,
        by=scene.cast.ines,
        at=at + timedelta(minutes=5),
    )
    (one,) = tries_at(scene["A05"])
    assert one.words.startswith("backed off at the restart") and one.wraps == 4
    assert "Back off" in found(scene, at + timedelta(minutes=6))["fix-first"]
    assert Task.objects.filter(kind=Task.Kind.REDUCE, closed_at=None).exists()
