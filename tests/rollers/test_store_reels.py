"""Reels: where they may be used, from room to room, lengths and knives and bags."""

from datetime import timedelta

import pytest

from plant.audit.services import keep_photo
from plant.errors import Conflict, Refused
from rollers.models import Deviation, Knife, Lot, Piece, PieceFact, ReelMove
from rollers.queries_store import lot_ledger, reel_now, room_ledger, usable_reels
from rollers.services.bags import close_bag, open_bag, put_pieces
from rollers.services.issuing import count_length, issue, scrap, take_back
from rollers.services.knives import bring_back, enter_knife, retire_knife, take_out
from rollers.services.lots import hold_lot
from rollers.services.recalls import recall_lot
from rollers.services.reels import cut, require_usable
from tests import make
from tests.rollers.store import AT, Store, room_of, store_of

pytestmark = pytest.mark.django_db


@pytest.fixture
def store(cast) -> Store:
    make.plant()
    return store_of(cast)


@pytest.fixture
def c06(cast):
    assert cast.mei
    return room_of("medical", "M1", "C", "C06", diameter_mm=150, face_mm=800)


@pytest.fixture
def a05(cast):
    assert cast.ines
    return room_of("general", "G1", "A", "A05")


def refused(reel, position, kind, at=AT):
    with pytest.raises(Refused) as caught:
        require_usable(reel, position=position, room_kind=kind, at=at)
    return caught.value


# --- a reel is refused, each time with its own sentence ---------------------------------------------------------


def test_a_reel_of_a_lot_that_is_not_released_is_refused(store, c06):
    found = refused(store.reel(store.lot()), c06, "medical")
    assert found.code == "lot-quarantined"
    assert "not released yet" in found.sentence


def test_a_reel_past_its_use_by_date_is_refused_and_on_the_last_day_it_is_not(store, c06, cast):
    reel = store.reel(store.released())
    store.issued(reel, c06, cast.mei)
    require_usable(reel, position=c06, room_kind="medical", at=AT + timedelta(days=100))
    found = refused(reel, c06, "medical", AT + timedelta(days=101))
    assert found.code == "lot-expired"
    assert "Edda Solberg" in found.sentence


def test_a_lapsed_contact_statement_is_refused_in_food_and_medical_rooms_only(store, c06, a05):
    reel = store.reel(store.released(stock=store.stock(contact_statement_ends=AT.date() - timedelta(days=1))))
    assert refused(reel, c06, "medical").code == "contact-statement"
    assert refused(reel, c06, "food").code == "contact-statement"
    require_usable(reel, position=a05, room_kind="general", at=AT)


def test_a_stock_not_permitted_in_the_room_is_refused(store, c06):
    found = refused(store.reel(store.released("C-1", store.stock("T1"))), c06, "medical")
    assert found.code == "stock-not-permitted"
    assert "only in general" in found.sentence


def test_a_tape_too_near_its_temperature_limit_is_refused(store, a05):
    reel = store.reel(store.released("C-1", store.stock("T1")))  # stands 80 °C
    a05.surface_temp_c = 60
    require_usable(reel, position=a05, room_kind="general", at=AT)
    a05.surface_temp_c = 61
    found = refused(reel, a05, "general")
    assert found.code == "too-hot"
    assert "20 K" in found.sentence


def test_a_held_and_a_recalled_lot_are_refused_with_the_reason(store, a05, cast):
    lot = store.released("C-1", store.stock("T1"))
    hold_lot(lot, reason="Edges of the tape are frayed", by=cast.hanna, at=AT)
    found = refused(store.reel(lot), a05, "general")
    assert (found.code, "frayed" in found.sentence) == ("lot-held", True)
    recall_lot(lot, reason="The supplier found adhesive transfer", contaminating=True, by=cast.hanna, at=AT)
    found = refused(store.reel(lot), a05, "general")
    assert (found.code, "adhesive transfer" in found.sentence) == ("lot-recalled", True)


def test_issuing_is_refused_for_the_same_reasons(store, c06, cast):
    reel = store.reel(store.lot())
    with pytest.raises(Refused, match="not released yet"):
        issue(reel, c06.room, to=cast.mei, by=store.keeper, at=AT)
    assert reel_now(reel).room is None


def test_a_refusal_names_reels_that_can_be_used_here(store, c06, cast):
    good = store.issued(store.reel(store.released("2603-A")), c06, cast.mei)
    found = refused(store.reel(store.lot()), c06, "medical")
    assert f"Usable here: {good.label}." in found.sentence
    assert [now.reel.pk for now in usable_reels(c06, AT)] == [good.pk]


# --- from room to room only through the store -------------------------------------------------------------------


def test_a_reel_moved_from_one_room_to_another_is_refused_until_it_was_in_the_store(store, a05, c06, cast):
    reel = store.issued(store.reel(store.released()), a05, cast.ines)
    with pytest.raises(Refused, match="only through the store"):
        issue(reel, c06.room, to=cast.mei, by=store.keeper, at=AT)
    job = store.job(c06, cast.mei)
    with pytest.raises(Refused, match="belongs in room G1; this is room M1"):
        cut(reel, 0.5, application=job, room=c06.room, by=cast.mei, at=AT)
    take_back(reel, by=store.keeper, at=AT)
    issue(reel, c06.room, to=cast.mei, by=store.keeper, at=AT)
    cut(reel, 0.5, application=job, room=c06.room, by=cast.mei, at=AT)
    assert store.left(reel) == pytest.approx(32.5)


def test_a_reel_is_looked_at_for_five_in_a_hundred_more_than_the_lanes_need(store, a05, cast):
    lot = store.released("C-1", store.stock("T1"), (10, 10))
    enough = issue(store.reel(lot), a05.room, to=cast.ines, by=store.keeper, at=AT, wanted_m=9.5)
    short = issue(store.reel(lot, 1), a05.room, to=cast.ines, by=store.keeper, at=AT, wanted_m=9.6)
    assert enough.hint == ""
    assert "10.08 m are wanted" in short.hint


def test_more_than_the_reel_holds_is_refused_and_within_its_tolerance_corrected_by_a_count(store, a05, cast):
    reel = store.issued(store.reel(store.released("C-1", store.stock("T1"), (10,))), a05, cast.ines)
    job = store.job(a05, cast.ines)
    with pytest.raises(Refused, match="cannot come from it"):
        cut(reel, 10.6, application=job, room=a05.room, by=cast.ines, at=AT)
    cut(reel, 10.4, application=job, room=a05.room, by=cast.ines, at=AT)
    kinds = list(reel.moves.order_by("pk").values_list("kind", flat=True))
    assert kinds == ["received", "issued", "counted", "cut"]
    assert store.left(reel) == 0
    assert lot_ledger(reel.lot).balances


def test_a_report_of_tape_already_cut_is_kept_and_judged(store, c06, cast):
    reel = store.reel(store.lot())
    cut(reel, 2, application=store.job(c06, cast.mei), room=c06.room, by=cast.mei, at=AT, reported=True)
    assert store.left(reel) == 31
    found = Deviation.objects.get(code="unusable-reel")
    assert found.severity == "critical"
    assert "not released yet" in found.sentence and "was in store" in found.sentence


def test_scrapping_and_counting_need_a_reason_and_keep_the_ledger_balanced(store, a05, cast):
    reel = store.issued(store.reel(store.released("C-1", store.stock("T1"), (10,))), a05, cast.ines)
    with pytest.raises(Refused, match="why it is scrapped"):
        scrap(reel, 1, reason="", by=store.keeper, at=AT)
    scrap(reel, 1, reason="outer turns dirty", by=store.keeper, at=AT)
    with pytest.raises(Refused, match=r"has 9.00 m by the ledger; 9.50 m"):
        scrap(reel, 9.5, reason="outer turns dirty", by=store.keeper, at=AT)
    count_length(reel, 8.6, reason="by weight", by=store.keeper, at=AT)
    assert store.left(reel) == pytest.approx(8.6)
    ledger = room_ledger(a05.room)
    assert ledger.length.received == 10 and ledger.length.counted == pytest.approx(-0.4)
    assert ledger.balances and lot_ledger(reel.lot).balances
    scrap(reel, None, reason="the rest is dirty too", by=store.keeper, at=AT)
    assert store.left(reel) == 0


# --- knives -----------------------------------------------------------------------------------------------------


def test_a_knife_with_a_snap_off_blade_is_refused_in_food_and_medical_rooms(store, c06, a05, cast):
    knife = enter_knife("k-7", snap_off=True, by=store.keeper, at=AT)
    for room in (c06.room, make.room("F1", "food")):
        with pytest.raises(Refused, match="snap-off blade"):
            take_out(knife, room=room, by=cast.mei, at=AT)
    take_out(knife, room=a05.room, by=cast.ines, at=AT)


def test_a_knife_is_counted_out_and_in_and_is_in_one_place_at_a_time(store, c06, cast):
    knife = enter_knife("K-1", snap_off=False, by=store.keeper, at=AT)
    with pytest.raises(Refused, match="not out by the record"):
        bring_back(knife, by=cast.mei, at=AT)
    take_out(knife, room=c06.room, by=cast.mei, at=AT)
    with pytest.raises(Refused, match="out already: Mei Okafor"):
        take_out(knife, room=c06.room, by=cast.lena, at=AT)
    bring_back(knife, by=cast.mei, at=AT)
    assert [move.kind for move in knife.moves.all()] == ["out", "back"]


def test_a_broken_blade_with_a_part_missing_is_critical_in_a_clean_room_and_the_knife_is_retired(store, c06, cast):
    knife = enter_knife("K-1", snap_off=False, by=store.keeper, at=AT)
    take_out(knife, room=c06.room, by=cast.mei, at=AT)
    bring_back(knife, by=cast.mei, at=AT, whole=False, note="Tip of 3 mm")
    found = Deviation.objects.get(code="broken-blade")
    assert (found.severity, found.owner_role) == ("critical", "qa")
    assert Knife.objects.get().retired_at == AT
    with pytest.raises(Refused, match="retired"):
        take_out(knife, room=c06.room, by=cast.mei, at=AT)


def test_a_number_of_a_knife_stands_once_also_after_it_is_retired(store):
    knife = enter_knife("K-1", snap_off=False, by=store.keeper, at=AT)
    retire_knife(knife, reason="blade worn", by=store.keeper, at=AT)
    with pytest.raises(Refused, match="entered already"):
        enter_knife("k-1", snap_off=False, by=store.keeper, at=AT)


# --- bags -------------------------------------------------------------------------------------------------------


@pytest.fixture
def taping(store, c06, cast):
    reel = store.issued(store.reel(store.released()), c06, cast.mei)
    return store.taping(c06, reel, cast.mei)


def test_a_piece_put_into_a_bag_twice_is_answered_with_who_recorded_it_and_changes_nothing(store, taping, c06, cast):
    bag = open_bag(c06.room, by=cast.mei, at=AT, random=store.random)
    piece = taping.pieces.first()
    put_pieces(bag, [piece], by=cast.mei, at=AT)
    with pytest.raises(Conflict, match="already recorded at 2026-03-25 09:00 UTC by Mei Okafor"):
        put_pieces(bag, [piece], by=cast.lena, at=AT)
    assert PieceFact.objects.filter(piece=piece).count() == 2


def test_torn_parts_count_as_one_piece_only_when_a_second_person_saw_them_complete(store, taping, c06, cast):
    bag, pieces = open_bag(c06.room, by=cast.mei, at=AT, random=store.random), list(taping.pieces.all())
    for second in (None, cast.mei):
        with pytest.raises(Refused, match="second person"):
            put_pieces(bag, pieces[:1], state=PieceFact.State.IN_PARTS, second=second, by=cast.mei, at=AT)
    put_pieces(bag, pieces[:1], state=PieceFact.State.IN_PARTS, second=cast.lena, by=cast.mei, at=AT)
    assert pieces[0].facts.last().second == cast.lena


def test_a_found_piece_needs_a_photograph_and_a_second_person(store, taping, c06, cast):
    bag, piece = open_bag(c06.room, by=cast.mei, at=AT, random=store.random), taping.pieces.first()
    PieceFact.objects.create(piece=piece, state="missing", at=AT, recorded_at=AT, by=cast.mei)
    found = {"state": PieceFact.State.FOUND, "by": cast.mei, "at": AT}
    with pytest.raises(Refused, match="second person"):
        put_pieces(bag, [piece], **found)
    with pytest.raises(Refused, match="photograph"):
        put_pieces(bag, [piece], second=cast.yuki, **found)
    photo = keep_photo(make.photo(), by=cast.mei, at=AT)
    put_pieces(bag, [piece], second=cast.yuki, photo=photo, **found)
    assert Piece.objects.get(pk=piece.pk).facts.last().photo == photo


def test_a_closed_bag_takes_no_more_and_a_wrong_count_is_critical_in_a_medical_room(store, taping, c06, cast):
    bag, pieces = open_bag(c06.room, by=cast.mei, at=AT, random=store.random), list(taping.pieces.all())
    put_pieces(bag, pieces[:3], by=cast.mei, at=AT)
    close_bag(bag, counted=2, by=cast.mei, at=AT)
    assert Deviation.objects.get(code="bag-count").severity == "critical"
    with pytest.raises(Refused, match="was closed by Mei Okafor with 2 pieces"):
        put_pieces(bag, pieces[3:], by=cast.mei, at=AT)


def test_a_bag_belongs_to_its_room(store, taping, a05, cast):
    bag = open_bag(a05.room, by=cast.mei, at=AT, random=store.random)
    with pytest.raises(Refused, match="Use a bag there"):
        put_pieces(bag, list(taping.pieces.all()), by=cast.mei, at=AT)


def test_the_ledger_names_every_piece_on_rollers_in_bags_and_missing(store, taping, c06, cast):
    bag, pieces = open_bag(c06.room, by=cast.mei, at=AT, random=store.random), list(taping.pieces.all())
    put_pieces(bag, pieces[:2], by=cast.mei, at=AT)
    PieceFact.objects.create(piece=pieces[2], state="missing", at=AT, recorded_at=AT, by=cast.mei)
    found = lot_ledger(Lot.objects.get()).pieces
    assert (found.cut, found.on_rollers, found.in_bags, found.missing) == (4, 1, 2, 1)
    assert found.balances and room_ledger(c06.room).pieces == found
    assert ReelMove.objects.filter(kind="cut").get().length_m == found.length_m
