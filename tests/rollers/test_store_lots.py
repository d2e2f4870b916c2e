"""Lots: quarantine, thickness, release, hold, expiry, tape without a label."""

from datetime import timedelta

import pytest

from plant.audit.models import Event, Signature
from plant.errors import Forbidden, Refused
from rollers.cases import tape_of
from rollers.models import Lot, LotAct, TapeStock
from rollers.services.lots import close_used_up, expire_lots, hold_lot, measure_lot, release_lot
from rollers.services.receiving import add_reels, receive_lot, take_in_unlabelled
from tests import make
from tests.rollers.store import AT, Store, store_of

pytestmark = pytest.mark.django_db


@pytest.fixture
def store(cast) -> Store:
    make.plant()
    return store_of(cast)


def test_a_received_lot_is_in_quarantine_and_each_reel_has_a_label_that_says_nothing(store):
    lot = store.lot(lengths=(33, 33, 20))
    assert lot.status == Lot.Status.QUARANTINED
    labels = list(lot.reels.values_list("label", flat=True))
    assert len(set(labels)) == 3
    assert not any("2602" in label or "T5" in label for label in labels)


def test_the_same_lot_is_not_received_twice_and_later_reels_join_it(store):
    lot = store.lot()
    with pytest.raises(Refused, match="received already"):
        store.lot(code="2602-b")
    assert len(add_reels(lot, [10.0], by=store.keeper, at=AT, random=store.random)) == 1
    assert lot.reels.count() == 3


def test_a_lot_is_released_only_after_it_was_measured(store, cast):
    lot = store.lot()
    with pytest.raises(Refused, match="Measure the thickness"):
        release_lot(lot, confirmation=make.confirmation(cast.yuki))


def test_a_lot_whose_thickness_is_more_than_ten_in_a_hundred_off_is_held(store, cast):
    lot = measure_lot(store.lot(), 0.1, by=store.keeper, at=AT)  # 0.09 mm stock: 11 %
    assert lot.status == Lot.Status.HELD
    assert "11.1 % off" in Event.objects.filter(action="measure-lot").get().sentence
    with pytest.raises(Refused, match="stays on hold"):
        release_lot(lot, confirmation=make.confirmation(cast.yuki), reason="It looks fine to me")


def test_a_lot_exactly_ten_in_a_hundred_off_is_inside(store):
    assert measure_lot(store.lot(), 0.099, by=store.keeper, at=AT).status == Lot.Status.QUARANTINED


def test_within_ten_in_a_hundred_new_sizings_use_the_measured_thickness(store):
    stock = store.stock()
    assert tape_of(stock)["thickness_mm"] == 0.09
    measure_lot(store.lot(), 0.095, by=store.keeper, at=AT)
    measure_lot(store.lot("2603-A"), 0.088, by=store.keeper, at=AT)
    measure_lot(store.lot("2603-B"), 0.091, by=store.keeper, at=AT)
    assert tape_of(TapeStock.objects.get(pk=stock.pk))["thickness_mm"] == [0.088, 0.095]
    assert tape_of(stock)["thickness_mm"] == 0.09  # what was read before is as it was


def test_qa_releases_tape_for_food_and_medical_rooms_and_the_signature_names_what_was_seen(store, cast):
    lot, qa = store.lot(), make.confirmation(cast.yuki)
    measure_lot(lot, 0.09, by=store.keeper, at=AT)
    with pytest.raises(Forbidden, match="takes the role QA") as refused:
        release_lot(lot, confirmation=make.confirmation(store.keeper))
    assert "Yuki Sandoval" in refused.value.sentence
    assert release_lot(lot, confirmation=qa).status == Lot.Status.RELEASED
    signature = Signature.objects.get(meaning="lot released")
    assert "2602-B" in signature.content
    assert signature.digest in LotAct.objects.filter(lot=lot).last().details["signatures"]


def test_tape_for_general_rooms_is_released_by_the_storekeeper_and_a_second_person(store, cast):
    lot = store.lot("C-1", store.stock("T1"))
    measure_lot(lot, 0.14, by=store.keeper, at=AT)
    with pytest.raises(Refused, match="second person"):
        release_lot(lot, confirmation=make.confirmation(store.keeper))
    with pytest.raises(Refused, match="second person"):
        release_lot(lot, confirmation=make.confirmation(store.keeper), second=make.confirmation(store.keeper))
    second = make.confirmation(cast.ines)
    assert release_lot(lot, confirmation=make.confirmation(store.keeper), second=second).status == "released"


def test_a_lot_on_hold_is_released_by_qa_with_a_reason(store, cast):
    lot = store.released("C-1", store.stock("T1"))
    hold_lot(lot, reason="Edges of the tape are frayed", by=cast.hanna, at=AT)
    with pytest.raises(Forbidden):
        release_lot(lot, confirmation=make.confirmation(store.keeper), second=make.confirmation(cast.ines))
    with pytest.raises(Refused, match="why the hold may end"):
        release_lot(lot, confirmation=make.confirmation(cast.yuki))
    reason = "The frayed turns were scrapped, the rest looked at"
    assert release_lot(lot, confirmation=make.confirmation(cast.yuki), reason=reason).status == "released"


def test_a_lot_past_its_use_by_date_expires_by_the_clock_once(store):
    lot = store.released()
    on_the_day = AT + timedelta(days=100)
    assert expire_lots(on_the_day) == []
    assert [one.pk for one in expire_lots(on_the_day + timedelta(days=1))] == [lot.pk]
    assert expire_lots(on_the_day + timedelta(days=1)) == []
    assert Lot.objects.get().status == Lot.Status.EXPIRED
    assert Event.objects.filter(action="expire-lot").count() == 1


def test_a_reel_without_a_label_is_quarantined_and_never_released(store, cast):
    lot = take_in_unlabelled(store.stock(), 12, where="shelf 3", by=store.keeper, at=AT, random=store.random)
    assert lot.status == Lot.Status.QUARANTINED
    measure_lot(lot, 0.09, by=store.keeper, at=AT)
    with pytest.raises(Refused, match="never released"):
        release_lot(lot, confirmation=make.confirmation(cast.yuki))


def test_receiving_takes_the_storekeeper_or_qa_and_names_who_can(store, cast):
    with pytest.raises(Forbidden, match="Edda Solberg"):
        receive_lot(stock=store.stock(), code="X", lengths_m=[5], by=cast.ines, at=AT, random=store.random)


@pytest.mark.parametrize(
    ("change", "field"),
    [
        ({"code": " "}, "code"),
        ({"lengths_m": []}, "lengths"),
        ({"lengths_m": [0]}, "lengths"),
        ({"lengths_m": [6000]}, "lengths"),
        ({"made_on": (AT + timedelta(days=2)).date()}, "made_on"),
        ({"made_on": AT.date(), "use_by": AT.date()}, "use_by"),
    ],
)
def test_a_delivery_with_an_impossible_figure_names_the_field(store, change, field):
    good = {"stock": store.stock(), "code": "X", "lengths_m": [5], "by": store.keeper, "at": AT, "random": store.random}
    with pytest.raises(Refused) as refused:
        receive_lot(**(good | change))
    assert refused.value.field == field


def test_a_lot_is_closed_as_used_up_only_when_its_reels_are_empty(store):
    lot = store.released(lengths=(5,))
    with pytest.raises(Refused, match=r"5.00 m are on its reels"):
        close_used_up(lot, by=store.keeper, at=AT)
