"""A recalled lot: locked, found on rollers, in past tapings, runs, rolls and reels; drills; the way back."""

from datetime import timedelta

import pytest

from plant.audit.models import Event
from plant.errors import Conflict, Forbidden, Refused
from plant.floor.models import RoomClass
from rollers.models import Alert, Deviation, HeldRoll, Hold, Lot, PieceFact
from rollers.queries_recall import recall_of
from rollers.queries_recalled import recalled_on
from rollers.queries_trace import made_between, tape_of_roll
from rollers.services.lots import release_lot
from rollers.services.recalls import begin_drill, finish_drill, hold_product, lift_recall, recall_lot
from tests import make
from tests.rollers.store import AT, Store, fact, ran, rolled, room_of, store_of

pytestmark = pytest.mark.django_db
REASON = "The supplier found that adhesive goes over to the film"
HOUR = timedelta(hours=1)


@pytest.fixture
def store(cast) -> Store:
    make.plant()
    return store_of(cast)


@pytest.fixture
def scene(store, cast):
    """One lot live in a medical room and removed again in a general one; a run over each, one of them with rolls."""
    c06 = room_of("medical", "M1", "C", "C06", diameter_mm=150, face_mm=800)
    d04 = room_of("general", "G2", "D", "D04", diameter_mm=80, face_mm=400)
    lot = store.released()
    live = store.taping(c06, store.issued(store.reel(lot), c06, cast.mei), cast.mei, AT)
    past = store.taping(d04, store.issued(store.reel(lot, 1), d04, cast.rui), cast.rui, AT, pieces=2)
    for piece in past.pieces.all():
        fact(piece, PieceFact.State.INTACT, cast.rui, AT + 4 * HOUR)
    over_c = ran(c06, "ML-62", AT - HOUR, None)
    before = rolled(over_c, "C-0001", AT - HOUR, 30)
    first, second = rolled(over_c, "C-0002", AT - HOUR / 2, 60), rolled(over_c, "C-0003", AT + HOUR / 2, 60)
    over_d = ran(d04, "PT-100", AT + HOUR, AT + 6 * HOUR, speed=30)
    return {
        "lot": lot,
        "live": live,
        "past": past,
        "rolls": (before, first, second),
        "runs": (over_c, over_d),
        "c06": c06,
        "d04": d04,
    }


def recalled(scene, cast, at=AT + 5 * HOUR, **change):
    return recall_lot(scene["lot"], **({"reason": REASON, "contaminating": True, "by": cast.babak, "at": at} | change))


def test_a_recall_locks_the_lot_and_needs_its_reason(scene, cast):
    with pytest.raises(Refused, match="Say why it is recalled"):
        recalled(scene, cast, reason="bad")
    with pytest.raises(Forbidden):
        recalled(scene, cast, by=cast.ines)
    recalled(scene, cast)
    lot = Lot.objects.get()
    assert (lot.status, lot.contaminating) == ("recalled", True)
    with pytest.raises(Refused, match="recalled and cannot be released"):
        release_lot(lot, confirmation=make.confirmation(cast.yuki))
    with pytest.raises(Conflict):
        recalled(scene, cast)


def test_a_recall_lists_live_and_past_tapings_runs_rolls_and_the_reels_that_are_left(scene, cast):
    found = recalled(scene, cast)
    assert [one.application.position.code for one in found.live] == ["C06"]
    assert [one.application.position.code for one in found.past] == ["D04"]
    assert found.counts == {"live": 1, "past": 1, "runs": 2, "rolls": 2, "stretches": 2, "reels": 2}
    live, past = found.live[0], found.past[0]
    assert live.strict and not past.strict
    assert (live.on_now, live.pieces, past.on_now, past.pieces) == (4, 4, 0, 2)
    assert [roll.label for roll in live.passed[0].recorded] == ["C-0002", "C-0003"]
    assert sorted(now.left_m for now in found.reels_left) == [pytest.approx(31), pytest.approx(32)]


def test_tape_of_a_recalled_lot_that_is_long_removed_is_still_listed_with_its_metres(scene, cast):
    past = recalled(scene, cast).past[0]
    assert past.until == AT + 4 * HOUR
    assert past.metres == pytest.approx(3 * 60 * 30)  # the run came an hour after the tape, which was on three more
    assert past.roll_count == 0
    assert [roll.length_m for roll in past.passed[0].stretches] == [pytest.approx(3 * 60 * 30)]


def test_a_roll_that_ended_before_the_tape_came_is_not_listed_and_one_in_between_is_whole(scene, cast):
    rolls = recalled(scene, cast).live[0].passed[0].recorded
    assert "C-0001" not in [roll.label for roll in rolls]
    assert rolls[0].part and rolls[0].length_m == 6000


def test_every_live_line_and_qa_are_told_with_a_next_action(scene, cast):
    recalled(scene, cast)
    alerts = {alert.for_role: alert for alert in Alert.objects.all() if alert.key.startswith("recall")}
    assert set(alerts) == {"qa", "supervisor"}
    assert alerts["qa"].address == f"/store/recalls/{scene['lot'].pk}/"
    assert "Stop line C now" in alerts["supervisor"].next_action
    assert Deviation.objects.get(code="recalled-lot").severity == "critical"


def test_without_contamination_a_clean_line_stops_at_the_end_of_the_roll(scene, cast):
    recalled(scene, cast, contaminating=False)
    assert (
        "at the end of this roll" in Alert.objects.get(for_role="supervisor", key__startswith="recalled-on").next_action
    )
    recalled(scene, cast, contaminating=True)  # it got worse: that is said too
    assert Lot.objects.get().contaminating


def test_recalled_tape_on_rollers_is_named_by_position_until_the_last_piece_is_off(scene, cast):
    places = [scene["c06"], scene["d04"]]
    assert recalled_on(places, AT + 5 * HOUR) == {}
    recalled(scene, cast)
    found = recalled_on(places, AT + 6 * HOUR)
    assert set(found) == {scene["c06"].pk}
    assert found[scene["c06"].pk].words == "lot 2602-B (T5)"
    assert found[scene["c06"].pk].contaminating
    for piece in scene["live"].pieces.all():
        fact(piece, PieceFact.State.INTACT, cast.mei, AT + 6 * HOUR)
    assert recalled_on(places, AT + 7 * HOUR) == {}


def test_the_class_of_a_room_is_taken_as_of_the_day_the_tape_went_on(scene, cast):
    RoomClass.objects.filter(room=scene["d04"].room, valid_to=None).update(valid_to=AT + 2 * HOUR)
    RoomClass.objects.create(room=scene["d04"].room, kind="medical", valid_from=AT + 2 * HOUR)
    assert recalled(scene, cast).past[0].room_kind == "general"


def test_qa_holds_the_product_of_a_past_taping_once(scene, cast):
    with pytest.raises(Refused, match="not recalled"):
        hold_product(scene["lot"], scene["past"], by=cast.yuki, at=AT + 5 * HOUR)
    recalled(scene, cast)
    with pytest.raises(Forbidden):
        hold_product(scene["lot"], scene["past"], by=cast.hanna, at=AT + 5 * HOUR)
    hold_product(scene["lot"], scene["past"], by=cast.yuki, at=AT + 5 * HOUR)
    held = Hold.objects.get()
    assert (held.why, held.lot, held.application) == ("recall", scene["lot"], scene["past"])
    assert HeldRoll.objects.get().length_m == pytest.approx(5400)
    with pytest.raises(Conflict, match="held already"):
        hold_product(scene["lot"], scene["past"], by=cast.yuki, at=AT + 5 * HOUR)


def test_a_recall_of_the_wrong_lot_is_taken_back_by_qa_and_the_lot_stays_on_hold(scene, cast):
    recalled(scene, cast)
    reason = "The supplier meant lot 2602-D, letter of today"
    with pytest.raises(Forbidden):
        lift_recall(scene["lot"], reason=reason, confirmation=make.confirmation(cast.hanna))
    lift_recall(scene["lot"], reason=reason, confirmation=make.confirmation(cast.yuki))
    lot = Lot.objects.get()
    assert (lot.status, lot.contaminating) == ("held", False)


def test_a_mock_recall_locks_nothing_and_records_the_minutes_it_took(scene, cast):
    begin_drill(scene["lot"], by=cast.yuki, at=AT)
    with pytest.raises(Conflict):
        begin_drill(scene["lot"], by=cast.yuki, at=AT)
    found = "Both reels in their rooms, four pieces on C06, D04 is bare"
    assert finish_drill(scene["lot"], found=found, by=cast.yuki, at=AT + 0.5 * HOUR) == 30
    assert "after 30 minutes" in Event.objects.get(action="finish-recall-drill").sentence
    assert Lot.objects.get().status == "released"
    with pytest.raises(Refused, match="No drill"):
        finish_drill(scene["lot"], found=found, by=cast.yuki, at=AT)


def test_a_roll_leads_back_to_the_tapings_reels_and_lots_on_its_path(scene):
    _, first, _ = scene["rolls"]
    back = tape_of_roll(first)
    assert [one.application for one in back] == [scene["live"]]
    assert [reel.lot.code for reel in back[0].reels] == ["2602-B"]
    assert tape_of_roll(scene["rolls"][0]) == []  # it was made before


def test_what_a_line_made_between_two_times_is_listed_with_rolls_and_stretches(scene):
    line = scene["c06"].line
    made = made_between(line, AT, AT + 2 * HOUR, AT + 5 * HOUR)
    assert [roll.label for roll in made[0].recorded] == ["C-0002", "C-0003"]
    assert [round(roll.length_m) for roll in made[0].stretches] == [3000]
    assert made[0].metres == pytest.approx(12000)


def test_the_page_of_a_recall_reads_the_same_number_of_queries_for_one_taping_and_for_twenty(
    scene, store, cast, django_assert_max_num_queries
):
    reel = store.reel(scene["lot"])
    with django_assert_max_num_queries(24):
        recall_of(scene["lot"], AT + 5 * HOUR)
    body = scene["c06"].mountings.get(removed_at=None).body
    body.applications.update(state="removed", ended_at=AT + HOUR)
    for number in range(20):
        taping = store.taping(scene["c06"], reel, cast.mei, AT + HOUR, pieces=2)
        taping.state, taping.ended_at = "removed", AT + (2 + number) * HOUR
        taping.save()
    with django_assert_max_num_queries(24):
        assert len(recall_of(scene["lot"], AT + 30 * HOUR).tapings) == 22
