"""Counts against the ledger: pieces exactly, lengths as a hint, holds in clean rooms, closed by QA only."""

from datetime import timedelta

import pytest

from plant.errors import Conflict, Forbidden, NotFound, Refused
from rollers.models import Deviation, Hold, PieceFact, Reconciliation
from rollers.queries_counting import open_differences, to_count
from rollers.services.bags import close_bag, open_bag, put_pieces
from rollers.services.counting import close_difference, hints, record_count
from rollers.services.knives import enter_knife, take_out
from tests import make
from tests.rollers.store import AT, Store, fact, ran, room_of, store_of

pytestmark = pytest.mark.django_db
LATER = AT + timedelta(hours=2)
CAUSE = "The piece was in the waste bag, found with the second person"


@pytest.fixture
def store(cast) -> Store:
    make.plant()
    return store_of(cast)


def taped(store, kind, by, *, room="M1", line="C", code="C06"):
    position = room_of(kind, room, line, code, diameter_mm=150, face_mm=800)
    reel = store.issued(store.reel(store.released(f"L-{code}")), position, by)
    return store.taping(position, reel, by)


def right(scope: str, key: str) -> dict[str, float]:
    """The count that agrees with the ledger."""
    return {row.key: row.expected for row in to_count(scope, key)[1]}


def test_a_count_that_agrees_is_kept_and_opens_nothing(store, cast):
    taping = taped(store, "medical", cast.mei)
    made = record_count("application", str(taping.pk), counted={f"taping:{taping.pk}": 4}, by=cast.lena, at=LATER)
    assert not made.differs
    assert not Deviation.objects.exists()


def test_in_a_general_room_a_piece_too_few_opens_a_deviation(store, cast):
    taping = taped(store, "general", cast.mei)
    made = record_count("application", str(taping.pk), counted={f"taping:{taping.pk}": 3}, by=cast.lena, at=LATER)
    assert made.differs
    found = Deviation.objects.get(code="count-differs")
    assert (found.severity, found.owner_role, found.application) == ("major", "qa", taping)
    assert "4 by the ledger, 3 counted" in found.sentence
    assert not Hold.objects.exists()


def test_in_a_medical_room_a_piece_too_few_holds_the_product_since_it_was_last_seen(store, cast):
    taping = taped(store, "medical", cast.mei)
    ran(taping.position, "ML-62", AT - timedelta(hours=1), None)
    record_count("room", "M1", counted=right("room", "M1"), by=cast.lena, at=LATER)
    record_count(
        "application", str(taping.pk), counted={f"taping:{taping.pk}": 3}, by=cast.lena, at=LATER + timedelta(hours=1)
    )
    hold = Hold.objects.get()
    assert (hold.why, hold.application) == ("missing-piece", taping)
    assert Deviation.objects.get(code="count-differs").severity == "critical"
    with pytest.raises(Refused, match="to close"):
        close_difference(Reconciliation.objects.last(), cause=CAUSE, confirmation=make.confirmation(cast.yuki))


def test_a_piece_too_many_is_a_difference_too(store, cast):
    taping = taped(store, "medical", cast.mei)
    made = record_count("application", str(taping.pk), counted={f"taping:{taping.pk}": 5}, by=cast.lena, at=LATER)
    assert made.differs and not Hold.objects.exists()


def test_a_length_off_by_more_than_five_in_a_hundred_is_only_a_hint(store, cast):
    taped(store, "medical", cast.mei)
    counted = right("room", "M1")
    reel = next(key for key in counted if key.startswith("reel:"))
    made = record_count("room", "M1", counted=counted | {reel: counted[reel] * 0.94}, by=cast.lena, at=LATER)
    assert not made.differs
    assert "-6 % of its length" in hints(made)[0]
    made = record_count("room", "M1", counted=counted | {reel: counted[reel] * 0.96}, by=cast.lena, at=LATER)
    assert hints(made) == []


def test_a_reel_or_a_knife_that_is_not_there_is_a_difference(store, cast):
    taping = taped(store, "medical", cast.mei)
    knife = enter_knife("K-1", snap_off=False, by=store.keeper, at=AT)
    take_out(knife, room=taping.position.room, by=cast.mei, at=AT)
    counted = right("room", "M1")
    assert set(counted) == {f"taping:{taping.pk}", f"reel:{taping.pieces.first().reel_id}", f"knife:{knife.pk}"}
    for key in (f"knife:{knife.pk}", next(key for key in counted if key.startswith("reel:"))):
        assert record_count("room", "M1", counted=counted | {key: 0}, by=cast.lena, at=LATER).differs


def test_a_row_that_was_not_counted_is_no_count(store, cast):
    taping = taped(store, "medical", cast.mei)
    for wrong, match in (({}, "empty box is no count"), ({f"taping:{taping.pk}": 3.5}, "whole number")):
        with pytest.raises(Refused, match=match):
            record_count("application", str(taping.pk), counted=wrong, by=cast.lena, at=LATER)


def test_only_qa_closes_a_difference_and_never_the_person_who_counted(store, cast):
    taping = taped(store, "general", cast.mei)
    made = record_count("application", str(taping.pk), counted={f"taping:{taping.pk}": 3}, by=cast.yuki, at=LATER)
    with pytest.raises(Forbidden):
        close_difference(made, cause=CAUSE, confirmation=make.confirmation(cast.hanna))
    with pytest.raises(Refused, match="You made this count"):
        close_difference(made, cause=CAUSE, confirmation=make.confirmation(cast.yuki))
    made = record_count("application", str(taping.pk), counted={f"taping:{taping.pk}": 3}, by=cast.lena, at=LATER)
    assert [row.pk for row in open_differences()] == [made.pk, made.pk - 1]
    with pytest.raises(Refused, match="Say what the cause was"):
        close_difference(made, cause="found", confirmation=make.confirmation(cast.yuki))
    close_difference(made, cause=CAUSE, confirmation=make.confirmation(cast.yuki))
    with pytest.raises(Conflict):
        close_difference(made, cause=CAUSE, confirmation=make.confirmation(cast.yuki))
    assert len(open_differences()) == 1


def test_a_shift_counts_its_taped_rollers_and_a_lot_its_reels_pieces_and_bags(store, cast):
    taping = taped(store, "medical", cast.mei)
    shift = make.shift(cast.mei)
    label, rows, _ = to_count("shift", f"{shift.pk}.M1")
    assert "Early 2026-03-25" in label
    assert [(row.label, row.expected) for row in rows] == [("Pieces on roller C06", 4)]
    bag = open_bag(taping.position.room, by=cast.mei, at=AT, random=store.random)
    put_pieces(bag, list(taping.pieces.all())[:3], by=cast.mei, at=AT)
    close_bag(bag, counted=3, by=cast.mei, at=AT)
    lot = taping.pieces.first().reel.lot
    kinds = sorted((row.kind, row.expected) for row in to_count("lot", str(lot.pk))[1])
    assert kinds == [("length", 31.0), ("length", 33.0), ("pieces", 1), ("pieces", 3)]
    assert f"bag:{bag.pk}" not in right("room", "M1")  # it was counted when it was closed


def test_pieces_on_record_as_missing_are_not_expected_on_the_roller(store, cast):
    taping = taped(store, "medical", cast.mei)
    fact(taping.pieces.first(), PieceFact.State.MISSING, cast.mei, AT)
    assert right("application", str(taping.pk)) == {f"taping:{taping.pk}": 3}


@pytest.mark.parametrize(
    ("scope", "key"), [("room", "X"), ("lot", "9"), ("shift", "x.M1"), ("application", "9"), ("moon", "1")]
)
def test_what_is_not_there_cannot_be_counted(store, cast, scope, key):
    with pytest.raises(NotFound):
        record_count(scope, key, counted={}, by=cast.lena, at=LATER)
