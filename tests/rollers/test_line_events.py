"""What happens on a running line: set-points, older recipes, changed data, regrinds, locks; what the clock brings."""

from datetime import timedelta

import pytest

from plant.errors import Refused
from plant.floor.models import ProductVersion, Run
from rollers.changeover import change_sheet
from rollers.models import Alert, Block, Body, Lockout, Task
from rollers.readiness import readiness
from rollers.rules import Weight
from rollers.rules_window import Change, Window, blocks_now, outside, outside_since
from rollers.services import watching
from rollers.services.blocks import open_blocks, settle_blocks
from rollers.services.re_checks import test_again
from rollers.services.runs import plan_run, release_run
from rollers.services.set_points import change_set_point
from rollers.services.tasks import acknowledge_alert, raise_alert
from tests import make
from tests.rollers import scenes

pytestmark = pytest.mark.django_db
test_again.__test__ = False  # a service, not a test
AT = make.AT


@pytest.fixture
def running(cast):
    """Line A runs SF-17 over A05, taped and checked."""
    scene = scenes.line_a(cast)
    recipe = scene.recipe("A05", ["SF-17"], make.stock("T1"), scenes.both(600, 792, 4))
    scene.sheet("SF-17", A05=recipe)
    scene.tape("A05", recipe, by=cast.ines, checker=cast.dara)
    run = plan_run(
        path=scene.path, version=scene.versions["SF-17"], tension_n_per_m=50, speed_m_per_min=280, starts_at=AT,
        by=cast.hanna, at=AT,
    )  # fmt: skip
    release_run(run, confirmation=make.confirmation(cast.hanna))
    return scene, recipe, Run.objects.get()


def codes(scene, product, at=AT, **asked):
    found = readiness(scene.path, scene.versions[product], at=at, **asked)
    return {(finding.code, str(finding.weight)) for row in found.positions for finding in row.findings} | {
        (finding.code, str(finding.weight)) for finding in found.line_blocks
    }


def test_a_tension_below_the_recipe_window_alerts_at_once_and_blocks_after_ten_minutes(running, cast):
    scene, _, run = running
    change_set_point(run, "tension", 35, by=cast.ines, at=AT)
    alert = Alert.objects.get(key__startswith="set-point")
    assert "relatively more" in alert.sentence and alert.next_action
    early = readiness(scene.path, scene.versions["SF-17"], at=AT + timedelta(minutes=9), running=True)
    late = readiness(scene.path, scene.versions["SF-17"], at=AT + timedelta(minutes=10), running=True)
    assert "outside-window" not in {block.code for block in early.blocks}
    assert "outside-window" in {block.code for block in late.blocks}


def test_a_tension_that_is_brought_back_blocks_no_more(running, cast):
    scene, _, run = running
    change_set_point(run, "tension", 35, by=cast.ines, at=AT)
    change_set_point(run, "tension", 50, by=cast.ines, at=AT + timedelta(minutes=12))
    later = readiness(scene.path, scene.versions["SF-17"], at=AT + timedelta(minutes=30), running=True)
    assert "outside-window" not in {block.code for block in later.blocks}


def test_a_recipe_that_size_tested_at_the_low_tension_blocks_no_more(running, cast):
    scene, recipe, run = running
    change_set_point(run, "tension", 46, by=cast.ines, at=AT)
    late = AT + timedelta(minutes=20)
    assert ("outside-window", "block") in codes(scene, "SF-17", late, running=True)
    test_again(
        recipe, why="Tension at 46 N/m for this order", confirmation=make.confirmation(cast.dara, at=late), at=late,
        run=run,
    )  # fmt: skip
    assert ("outside-window", "block") not in codes(scene, "SF-17", late, running=True)


def test_a_speed_at_which_traction_is_lost_tells_to_stop_or_slow_down_and_drives_nothing(running, cast):
    _, _, run = running
    made = change_set_point(run, "speed", 1400, by=cast.ines, at=AT)
    assert made.verdict == "refused" and not made.inside
    alert = Alert.objects.get(key=f"set-point:{made.pk}")
    assert alert.level == Alert.Level.CRITICAL and "stop or slow down" in alert.sentence
    assert Run.objects.get().state == Run.State.RELEASED


def test_a_tension_above_the_window_warns_of_the_edges(running, cast):
    _, _, run = running
    change_set_point(run, "tension", 60, by=cast.ines, at=AT)
    assert "edges" in Alert.objects.get(key__startswith="set-point").sentence


def test_a_set_point_is_recorded_only_while_the_run_goes_on(running, cast):
    _, _, run = running
    Run.objects.update(state=Run.State.ENDED)
    with pytest.raises(Refused):
        change_set_point(run, "tension", 45, by=cast.ines, at=AT)


def test_a_set_point_inside_the_window_ends_what_was_outside():
    window = Window((45, 55), (0, 290))
    changes = [Change("tension", 40, AT), Change("tension", 42, AT + timedelta(minutes=3))]
    assert outside_since(changes, window, "tension") == AT
    assert outside_since([*changes, Change("tension", 50, AT)], window, "tension") is None
    assert [outside(window, "speed", value) for value in (290, 290.1)] == ["", "above"]
    assert blocks_now(AT, AT + timedelta(minutes=10), 10) and not blocks_now(AT, AT + timedelta(seconds=599), 10)


def test_tape_of_an_older_recipe_may_stay_until_the_next_changeover(running, cast):
    scene, _, _ = running
    newer = scene.recipe("A05", ["SF-17"], make.stock("T1"), scenes.both(600, 792, 3))
    scene.sheet("SF-17", A05=newer)
    assert ("older-recipe", "caution") in codes(scene, "SF-17", running=True)
    assert ("other-recipe", "block") in codes(scene, "SF-17")


def test_the_same_tape_by_a_newer_version_stays_on(running, cast):
    scene, _, _ = running
    same = scene.recipe("A05", ["SF-17", "SF-23"], make.stock("T1"), scenes.both(600, 792, 4))
    scene.sheet("SF-17", A05=same)
    found = readiness(scene.path, scene.versions["SF-17"], at=AT)
    row = next(row for row in found.positions if row.position.code == "A05")
    assert row.action == "keep" and not row.blocks


def test_a_recipe_withdrawn_for_safety_blocks_at_once_also_while_the_line_runs(running, cast):
    scene, recipe, _ = running
    type(recipe).objects.filter(pk=recipe.pk).update(unsafe_at=AT)
    assert ("unsafe-recipe", "block") in codes(scene, "SF-17", running=True)


def test_changed_product_data_may_wait_seven_days_in_a_general_room(running, cast):
    scene, _, _ = running
    old = scene.versions["SF-17"]
    ProductVersion.objects.filter(pk=old.pk).update(current=False)
    fields = {f.attname: getattr(old, f.attname) for f in old._meta.fields if f.attname not in ("id", "number")}
    newer = ProductVersion.objects.create(**fields | {"number": 2, "current": True, "entered_at": AT})
    scene.versions["SF-17"] = newer
    assert ("needs-re-check", "caution") in codes(scene, "SF-17", AT + timedelta(days=6, hours=23))
    assert ("needs-re-check", "block") in codes(scene, "SF-17", AT + timedelta(days=7, hours=1))
    watching.watch_product_data(AT)
    watching.watch_product_data(AT)
    task = Task.objects.get(kind=Task.Kind.RE_CHECK)
    assert task.due == AT + timedelta(days=7) and task.for_role == "engineer"


@pytest.mark.parametrize(("diameter", "code"), [(116.0, "needs-re-check"), (119.0, "diameter-note")])
def test_a_regrind_above_two_percent_asks_for_a_re_check_and_below_is_a_note(running, cast, diameter, code):
    scene, _, _ = running
    Body.objects.filter(serial="R-A05").update(diameter_mm=diameter)
    assert code in {found for found, _ in codes(scene, "SF-17")}


def test_a_recipe_tested_again_on_the_reground_roller_asks_no_more(running, cast):
    scene, recipe, _ = running
    Body.objects.filter(serial="R-A05").update(diameter_mm=116)
    made = test_again(recipe, why="Reground to 116 mm", confirmation=make.confirmation(cast.dara), at=AT)
    assert made.verdict in ("fits", "caution") and made.details["diameter_mm"] == 116
    assert "needs-re-check" not in {code for code, _ in codes(scene, "SF-17")}


def test_a_lock_that_is_still_on_blocks_the_line_in_every_room(running, cast):
    scene, _, _ = running
    Lockout.objects.create(position=scene["A05"], purpose="look", person=cast.ines, lock_number="17", begun_at=AT)
    found = readiness(scene.path, scene.versions["SF-17"], at=AT)
    block = next(block for block in found.blocks if block.code == "lock-on")
    assert "lock 17 of Ines Varga" in block.sentence and block.who == "the person whose lock it is"


def test_the_change_sheet_says_what_to_do_at_each_roller_with_minutes_and_follows_the_plan(running, cast):
    scene, _, run = running
    scene.sheet("SF-30")
    Run.objects.filter(pk=run.pk).update(state=Run.State.ENDED, ended_at=AT)
    following = plan_run(
        path=scene.path, version=scene.versions["SF-30"], tension_n_per_m=80, speed_m_per_min=220, starts_at=AT,
        by=cast.hanna, at=AT,
    )  # fmt: skip
    sheet = change_sheet(following, AT)
    rows = {row.found.position.code: row for row in sheet.rows}
    assert rows["A05"].action == "remove" and rows["A05"].off_lanes == 8
    assert rows["A08"].action == "keep"
    # 8 lanes at 4 min, 2 min to walk there, 12 min to lock out and give back: our proposals, the plant sets them.
    assert rows["A05"].minutes == 34 and sheet.minutes == 46


@pytest.mark.db_both
def test_a_block_keeps_its_age_until_it_is_cleared_and_comes_back_as_a_new_one(running, cast):
    scene, _, run = running
    lock = Lockout.objects.create(
        position=scene["A05"], purpose="look", person=cast.ines, lock_number="17", begun_at=AT
    )
    settle_blocks(run.line, at=AT)
    settle_blocks(run.line, at=AT + timedelta(minutes=20))
    block = Block.objects.get()
    assert block.opened_at == AT and block.cleared_at is None
    Lockout.objects.filter(pk=lock.pk).update(removed_at=AT + timedelta(minutes=25))
    assert settle_blocks(run.line, at=AT + timedelta(minutes=25)) == []
    assert Block.objects.get().cleared_at == AT + timedelta(minutes=25)
    Lockout.objects.create(position=scene["A05"], purpose="look", person=cast.ines, lock_number="18", begun_at=AT)
    assert len(settle_blocks(run.line, at=AT + timedelta(minutes=30))) == 1 and Block.objects.count() == 2
    assert open_blocks(run.line)[0].opened_at == AT + timedelta(minutes=30)


def test_a_block_older_than_half_an_hour_alerts_the_supervisor_once(running, cast):
    scene, _, _ = running
    Lockout.objects.create(position=scene["A05"], purpose="look", person=cast.ines, lock_number="17", begun_at=AT)
    for minutes in (0, 29, 31, 32, 90):
        watching.watch_lines(AT + timedelta(minutes=minutes))
    alert = Alert.objects.get(key__startswith="block:")
    assert alert.due_at == AT + timedelta(minutes=30) and alert.for_role == "supervisor"


def test_an_alert_nobody_takes_goes_one_up_after_its_time_and_a_taken_one_does_not(cast):
    make.plant()
    for key, level in (("a", "critical"), ("b", "major")):
        raise_alert(key, level, f"trouble {key}", next_action="do something", for_role="supervisor", at=AT)
    assert watching.escalate(AT + timedelta(minutes=14)) == 0
    assert watching.escalate(AT + timedelta(minutes=15)) == 1
    assert Alert.objects.get(key="a").escalated_to == "manager"
    acknowledge_alert(Alert.objects.get(key="b"), by=cast.hanna, at=AT)
    assert watching.escalate(AT + timedelta(hours=5)) == 0


def test_the_same_trouble_is_raised_once(cast):
    make.plant()
    for _ in range(3):
        raise_alert("a", "major", "trouble", next_action="do something", for_role="supervisor", at=AT)
    assert Alert.objects.count() == 1


def test_findings_stay_sorted_with_blocks_first(running, cast):
    scene, _, _ = running
    Lockout.objects.create(position=scene["A05"], purpose="look", person=cast.ines, lock_number="17", begun_at=AT)
    for row in readiness(scene.path, scene.versions["SF-17"], at=AT).positions:
        weights = [list(Weight).index(finding.weight) for finding in row.findings]
        assert weights == sorted(weights)
