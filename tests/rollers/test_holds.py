"""Holds: every roll that ran since all pieces were last seen, decided one by one, closed by QA alone."""

from datetime import timedelta

import pytest

from plant.errors import Forbidden, Refused
from plant.floor.models import Run
from rollers.models import Application, HeldRoll, Hold, Roll, SetPoint
from rollers.readiness import readiness
from rollers.rules_holds import Ran, RollTime, touched
from rollers.services.holds import close_hold, decide_roll, open_hold_for_missing
from tests import make
from tests.rollers import scenes

AT = make.AT
MINUTE = timedelta(minutes=1)
COUNTED = AT - 110 * MINUTE


def steady(speed: float, *, began=AT - timedelta(hours=5), ended=AT) -> Ran:
    return Ran(began, ended, ((began, speed),))


def test_web_that_ran_is_speed_times_time_also_over_a_changed_set_point():
    # 110 min at 100 m/min are 11 000 m; the second half at 50 m/min makes it 8 250 m. Elementary, no source.
    assert steady(100).metres(COUNTED, AT) == pytest.approx(11_000)
    changed = Ran(AT - timedelta(hours=5), AT, ((AT - timedelta(hours=5), 100), (AT - 55 * MINUTE, 50)))
    assert changed.metres(COUNTED, AT) == pytest.approx(8_250)


def test_a_hold_takes_every_roll_of_which_some_part_ran_and_the_stretch_on_the_winder():
    # 1 500 m rolls at 100 m/min take 15 min: seven whole rolls in 110 min, and 500 m of the eighth.
    rolls = [
        RollTime(number, f"C-{number}", COUNTED + 15 * number * MINUTE, COUNTED + 15 * (number + 1) * MINUTE, 1500)
        for number in range(7)
    ]
    before = RollTime(99, "C-99", COUNTED - 15 * MINUTE, COUNTED, 1500)
    found = touched(steady(100), [before, *rolls], COUNTED, AT, unrolled="ML-62")
    assert [one.label for one in found] == [f"C-{number}" for number in range(7)] + ["ML-62, part 1"]
    assert [one.length_m for one in found[:7]] == [1500] * 7 and found[7].length_m == pytest.approx(500)
    assert not any(one.part for one in found[:7]) and found[7].part


def test_a_roll_that_had_begun_before_the_last_right_count_is_held_whole():
    early = RollTime(1, "C-1", COUNTED - 5 * MINUTE, COUNTED + 10 * MINUTE, 1500)
    held = touched(steady(100), [early], COUNTED, COUNTED + 10 * MINUTE, unrolled="x")
    assert [(one.label, one.length_m, one.part) for one in held] == [("C-1", 1500, True)]


def test_nothing_is_held_where_nothing_ran():
    assert touched(steady(100), [], AT + MINUTE, AT + 2 * MINUTE, unrolled="x") == ()


@pytest.fixture
def lost(cast):
    """A taped roller in the medical room, a run with seven rolls since the last count, and a missing piece."""
    scene = scenes.line_c(cast)
    recipe = scene.recipe("C06", ["ML-62"], make.stock("T5"), scenes.both(256, 356, 1))
    scene.sheet("ML-62", C06=recipe)
    version = scene.versions["ML-62"]
    run = Run.objects.create(
        line=scene.path.line,
        path=scene.path,
        product_version=version,
        state=Run.State.RELEASED,
        tension_n_per_m=110,
        speed_m_per_min=100,
        planned_at=AT - timedelta(hours=5),
        planned_by=cast.hanna,
        starts_at=AT - timedelta(hours=5),
        released_at=AT - timedelta(hours=5),
    )
    for number in range(7):
        began = COUNTED + 15 * number * MINUTE
        Roll.objects.create(run=run, number=f"C-{number}", began_at=began, ended_at=began + 15 * MINUTE, length_m=1500)
    mounting = scene["C06"].mountings.get()
    application = Application.objects.create(
        body=mounting.body,
        position=scene["C06"],
        recipe_version=recipe,
        state="verified",
        planned_by=cast.mei,
        planned_at=COUNTED,
        applier=cast.mei,
        applied_at=COUNTED,
    )
    return scene, application, open_hold_for_missing(application, missing=1, by=cast.mei, at=AT)


@pytest.mark.django_db
@pytest.mark.db_both
def test_a_missing_piece_holds_everything_since_the_last_right_count_not_since_it_was_noticed(lost, cast):
    _, _, hold = lost
    assert hold.since == COUNTED and hold.metres == pytest.approx(11_000)
    assert hold.rolls.count() == 8 and hold.rolls.filter(part=True).count() == 1


@pytest.mark.django_db
def test_an_open_hold_for_a_missing_piece_blocks_the_line_and_only_qa_clears_it(lost, cast):
    scene, _, hold = lost
    blocks = readiness(scene.path, scene.versions["ML-62"], at=AT).blocks
    assert [(block.code, block.who) for block in blocks if block.code == "missing-piece"] == [("missing-piece", "QA")]
    with pytest.raises(Forbidden):
        close_hold(hold, reason="We looked everywhere.", confirmation=make.confirmation(cast.hanna))


@pytest.mark.django_db
def test_a_hold_is_closed_only_when_every_roll_has_a_decision_of_its_own(lost, cast):
    scene, _, hold = lost
    qa = make.confirmation(cast.yuki)
    with pytest.raises(Refused) as refusal:
        close_hold(hold, reason="The piece lay in the trim bag.", confirmation=qa)
    assert refusal.value.code == "undecided-rolls" and len(refusal.value.details) == 8
    for held in hold.rolls.all():
        decide_roll(held, decision="released", reason="The piece lay in the trim bag, photo kept.", confirmation=qa)
    assert close_hold(hold, reason="The piece lay in the trim bag.", confirmation=qa).closed_at == AT
    assert not [b for b in readiness(scene.path, scene.versions["ML-62"], at=AT).blocks if b.code == "missing-piece"]
    signatures = set(HeldRoll.objects.values_list("signature", flat=True))
    assert len(signatures) == 8 and None not in signatures


@pytest.mark.django_db
def test_a_decided_roll_is_not_decided_again(lost, cast):
    _, _, hold = lost
    held, qa = hold.rolls.first(), make.confirmation(cast.yuki)
    decide_roll(held, decision="rejected", reason="Cannot be looked through.", confirmation=qa)
    with pytest.raises(Refused) as refusal:
        decide_roll(held, decision="released", reason="Cannot be looked through.", confirmation=qa)
    assert refusal.value.code == "decided"


@pytest.mark.django_db
def test_a_changed_speed_counts_in_the_metres_that_are_held(lost, cast):
    _, application, _ = lost
    run = Run.objects.get()
    SetPoint.objects.create(
        run=run, quantity="speed", before=100, after=50, inside=True, at=AT - 55 * MINUTE, recorded_at=AT, by=cast.mei
    )
    again = open_hold_for_missing(application, missing=1, by=cast.mei, at=AT)
    assert again.metres == pytest.approx(8_250) and Hold.objects.count() == 2
