"""The pages of the store: receive, release, issue, count, recall, and the way back; labels and files."""

import re
from datetime import timedelta

import pytest
from django.urls import reverse

from plant.reports.engine import html_of
from plant.reports.registry import builder_of
from rollers.models import Alert, Knife, Lot, Reconciliation, Reel
from rollers.services.bags import open_bag
from rollers.services.exporting import example, export
from rollers.services.files.kinds import kind_by_code
from rollers.services.importing import examine, take_in
from rollers.services.knives import enter_knife
from rollers.services.lots import measure_lot
from rollers.services.recalls import recall_lot
from rollers.services.store_watch import watch_store
from tests import make
from tests.rollers.store import AT, Store, ran, rolled, room_of, store_of

pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def clock(monkeypatch):
    monkeypatch.setattr("plant.web.clock.now", lambda: AT)


@pytest.fixture
def store(cast) -> Store:
    make.plant()
    return store_of(cast)


@pytest.fixture
def c06(cast):
    assert cast.mei
    return room_of("medical", "M1", "C", "C06", diameter_mm=150, face_mm=800)


def text(answer) -> str:
    return re.sub(r"\s+", " ", answer.content.decode())


def test_a_storekeeper_receives_qa_releases_and_the_storekeeper_issues(store, c06, cast, signed_in):
    store.stock()
    desk = signed_in(store.keeper)
    delivery = {"stock": "T5", "code": "2603-A", "count": "2", "length_m": "33", "length_m_unit": "m"}
    assert desk.post(reverse("rollers:receive-lot"), delivery).status_code == 302
    lot = Lot.objects.get()
    assert "quarantined" in text(desk.get(reverse("rollers:lot", args=[lot.pk])))
    measured = {"thickness_mm": "0.091", "thickness_mm_unit": "mm"}
    assert desk.post(reverse("rollers:measure-lot", args=[lot.pk]), measured).status_code == 302
    refused = desk.post(reverse("rollers:release-lot", args=[lot.pk]), {"secret": make.SECRET})
    assert refused.status_code == 403
    qa = signed_in(cast.yuki)
    wrong = qa.post(reverse("rollers:release-lot", args=[lot.pk]), {"secret": "no"})
    assert wrong.status_code == 422 and "This is not your password" in text(wrong)
    assert qa.post(reverse("rollers:release-lot", args=[lot.pk]), {"secret": make.SECRET}).status_code == 302
    reel = Reel.objects.first()
    act = reverse("rollers:reel-act", args=[reel.label, "issue"])
    given = {"room": "M1", "to": cast.mei.staff_no, "length_m": "", "length_m_unit": "m", "reason": ""}
    assert desk.post(act, given).status_code == 302
    assert "room M1" in text(desk.get(reverse("rollers:reel", args=[reel.label])))
    again = desk.post(act, given)
    assert again.status_code == 422 and "through the store" in text(again)


def test_a_length_in_feet_is_shown_in_metres_before_it_is_kept(store, signed_in):
    store.stock()
    desk = signed_in(store.keeper)
    delivery = {"stock": "T5", "code": "2603-A", "count": "1", "length_m": "108", "length_m_unit": "ft"}
    shown = desk.post(reverse("rollers:receive-lot"), delivery)
    assert shown.status_code == 200 and "32.9184" in text(shown) and not Lot.objects.exists()


def test_two_persons_release_tape_for_general_rooms_at_one_desk(store, cast, signed_in):
    lot = store.lot("C-1", store.stock("T1"))
    measure_lot(lot, 0.14, by=store.keeper, at=AT)
    desk, here = signed_in(store.keeper), reverse("rollers:release-lot", args=[lot.pk])
    alone = desk.post(here, {"secret": make.SECRET})
    assert alone.status_code == 422 and "second person" in text(alone)
    both = {"secret": make.SECRET, "other_staff_no": cast.ines.staff_no, "other_secret": make.SECRET}
    assert desk.post(here, both).status_code == 302
    assert Lot.objects.get().status == "released"


def test_whatever_carries_a_label_is_found_by_it_and_anything_else_gets_a_sentence(store, c06, cast, signed_in):
    lot = store.released()
    reel = store.reel(lot)
    bag = open_bag(c06.room, by=cast.mei, at=AT, random=store.random)
    enter_knife("K-1", snap_off=False, by=store.keeper, at=AT)
    rolled(ran(c06, "ML-62", AT, None), "C-1", AT, 30)
    desk = signed_in(store.keeper)
    for label, page in (
        (reel.label.lower(), f"/store/reels/{reel.label}/"),
        (bag.label, f"/store/bags/{bag.label}/"),
        ("k-1", "/store/knives/?number=K-1"),
        ("2602-b", f"/store/lots/{lot.pk}/"),
        ("C-1", "/store/rolls/C-1/"),
    ):
        assert desk.get(reverse("rollers:find-label"), {"label": label}).headers["Location"] == page
    nothing = desk.get(reverse("rollers:find-label"), {"label": "R-XXXX"})
    assert nothing.status_code == 404 and "is quarantined" in text(nothing)


def test_a_count_shows_the_ledger_only_afterwards_and_qa_closes_the_difference(store, c06, cast, signed_in):
    taping = store.taping(c06, store.issued(store.reel(store.released()), c06, cast.mei), cast.mei)
    floor = signed_in(cast.lena)
    here = reverse("rollers:new-count", args=["application", str(taping.pk)])
    assert "ledger</th>" not in text(floor.get(here))
    empty = floor.post(here, {"row-0": ""})
    assert empty.status_code == 422 and "0 where there is none" in text(empty)
    made = floor.post(here, {"row-0": "3", "cause": ""}, follow=True)
    assert "Differs" in text(made) and "QA closes a difference" in text(made)
    count = Reconciliation.objects.get()
    qa = signed_in(cast.yuki)
    closing = {"reason": "It was in the waste bag, seen by two", "secret": make.SECRET}
    assert qa.post(reverse("rollers:close-count", args=[count.pk]), closing).status_code == 302
    assert "Differed; closed by QA" in text(qa.get(reverse("rollers:count", args=[count.pk])))


def test_a_recall_stands_on_one_page_with_live_past_runs_rolls_and_reels(store, c06, cast, signed_in):
    lot = store.released()
    store.taping(c06, store.issued(store.reel(lot), c06, cast.mei), cast.mei, AT - timedelta(hours=5))
    run = ran(c06, "ML-62", AT - timedelta(hours=4), None)
    rolled(run, "C-1", AT - timedelta(hours=4), 60)
    shift = signed_in(cast.hanna)
    here = reverse("rollers:recall-lot", args=[lot.pk])
    unsaid = shift.post(here, {"reason": "Letter of the supplier, adhesive transfer"})
    assert unsaid.status_code == 422 and "Where nobody knows, choose yes" in text(unsaid)
    said = {"reason": "Letter of the supplier, adhesive transfer", "contaminating": "yes"}
    page = text(shift.post(here, said, follow=True))
    for word in ("Recalled: it contaminates", "on the roller now", "C-1", "ML-62", "room M1", "bring it back"):
        assert word in page, word
    assert "Hold its product" not in page  # only QA
    qa = signed_in(cast.yuki)
    assert "Hold its product" in text(qa.get(reverse("rollers:recall-page", args=[lot.pk])))
    assert "C-1" in text(qa.get(reverse("rollers:recall-tree", args=[lot.pk])))
    assert "2602-B" in text(qa.get(reverse("rollers:roll", args=["C-1"])))
    asked = {"line": "C", "since": "2026-03-25T05:00", "until": "2026-03-25T11:00"}
    assert "1 roll," in text(qa.get(reverse("rollers:rolls"), asked))
    asked["until"] = "2026-03-25T04:00"
    assert "later than the first" in text(qa.get(reverse("rollers:rolls"), asked))


def test_labels_carry_an_opaque_code_with_readable_text_at_least_twenty_millimetres_wide(store, c06, cast):
    lot = store.released()
    bag = open_bag(c06.room, by=cast.mei, at=AT, random=store.random)
    enter_knife("K-1", snap_off=True, by=store.keeper, at=AT)
    for kind, subject, words in (
        ("reel-labels", str(lot.pk), ["lot 2602-B", "use by 03 Jul 2026", lot.reels.first().label]),
        ("bag-label", bag.label, [bag.label, "room M1", "pieces: ____"]),
        ("knife-tags", "all", ["K-1", "snap-off: general rooms only"]),
    ):
        page = builder_of(kind)(subject, AT)
        printed = html_of(page, "a4")
        for word in words:
            assert word in printed, (kind, word)
        modules = [int(side) for side in re.findall(r'viewBox="0 0 (\d+) \1"', printed)]
        assert modules and all(32 * (side - 8) / side >= 20 for side in modules), (kind, modules)


@pytest.mark.pdf
def test_recall_and_count_and_labels_become_pdfs(store, c06, cast):
    from_engine = pytest.importorskip("plant.reports.engine")
    lot = store.released()
    store.taping(c06, store.issued(store.reel(lot), c06, cast.mei), cast.mei)
    recall_lot(lot, reason="Letter of the supplier", contaminating=True, by=cast.yuki, at=AT)
    for kind, paper in (("recall", "a4"), ("reel-labels", "letter")):
        made = from_engine.pdf_of(builder_of(kind)(str(lot.pk), AT), paper)
        assert made.startswith(b"%PDF")


def test_lots_come_in_by_file_in_quarantine_and_go_out_as_they_came(store, cast):
    store.stock("K1", thickness_mm=0.14, width_mm=48, roughness_um=25, room_kinds=["general"])
    kind = kind_by_code("lots")
    report = examine(kind, example(kind).encode(), by=store.keeper, at=AT)
    assert report.is_good and not Lot.objects.exists()
    take_in(kind, example(kind).encode(), file_name="lots.csv", by=store.keeper, at=AT)
    lot = Lot.objects.get()
    assert (lot.status, lot.reels.count()) == ("quarantined", 2)
    assert {round(reel.length_m, 3) for reel in lot.reels.all()} == {50, 49.987}
    out = export(kind, filters={}, by=store.keeper, at=AT)
    assert out.count("CR-0417") == 2 and "length_unit" in out
    again = examine(kind, out.encode(), by=store.keeper, at=AT)
    assert "received already" in again.bad[0].reason


def test_rows_of_one_lot_that_disagree_are_named_by_line(store):
    store.stock()
    kind = kind_by_code("lots")
    rows = "stock,lot,use_by,length,length_unit\nT5,X,2027-01-01,33,m\nT5,X,2027-02-01,33,m\n"
    bad = examine(kind, rows.encode(), by=store.keeper, at=AT).bad
    assert [(row.line, row.column) for row in bad] == [(3, "use_by")]


def test_the_clock_expires_lots_and_tells_of_dates_once_for_each_step(store):
    stock = store.stock(contact_statement_ends=AT.date() + timedelta(days=55))
    store.released(stock=stock)
    watch_store(AT)
    watch_store(AT)
    assert [alert.level for alert in Alert.objects.filter(key__startswith="statement")] == ["minor"]
    watch_store(AT + timedelta(days=30))
    assert {alert.level for alert in Alert.objects.filter(key__startswith="statement")} == {"minor", "major"}
    watch_store(AT + timedelta(days=80))
    assert Alert.objects.filter(key__startswith="use-by", for_role="storekeeper").count() == 1
    watch_store(AT + timedelta(days=101))
    assert Lot.objects.get().status == "expired"


LISTS = {
    "rollers:store": 22,
    "rollers:lots": 18,
    "rollers:knives": 14,
    "rollers:counts": 14,
    "rollers:recalls": 14,
}


def fill(store: Store, cast, place, many: int) -> None:
    for number in range(many):
        lot = store.released(f"L-{many}-{number}")
        store.taping(place, store.issued(store.reel(lot), place, cast.mei), cast.mei, pieces=2)
        place.mountings.get(removed_at=None).body.applications.exclude(state="removed").update(
            state="removed", ended_at=AT
        )
        enter_knife(f"K-{many}-{number}", snap_off=False, by=store.keeper, at=AT)


def test_every_page_of_the_store_asks_no_more_for_many_lots_than_for_few(
    store, c06, cast, signed_in, django_assert_max_num_queries
):
    client = signed_in(cast.yuki)
    for many in (2, 9):
        fill(store, cast, c06, many)
        for name, most in LISTS.items():
            with django_assert_max_num_queries(most):
                assert client.get(reverse(name)).status_code == 200
    assert Knife.objects.count() == 11


def test_a_roll_is_recorded_inside_its_run_once_and_never_over_another(store, c06, cast, signed_in):
    ran(c06, "ML-62", AT - timedelta(hours=5), None)
    desk, here = signed_in(cast.mei), reverse("rollers:new-roll")
    good = {
        "line": "C",
        "number": "C-1",
        "length_m": "6000",
        "length_m_unit": "m",
        "began_at": "2026-03-25T06:00",
        "ended_at": "2026-03-25T07:00",
    }
    assert desk.post(here, good).status_code == 302
    for change, sentence in (
        ({}, "recorded already"),
        ({"number": "C-2", "began_at": "2026-03-25T06:30", "ended_at": "2026-03-25T08:00"}, "do not overlap"),
        ({"number": "C-2", "began_at": "2026-03-25T04:00"}, "belongs to one run"),
        ({"number": "C-2", "ended_at": "2026-03-25T05:00"}, "must end after it began"),
        ({"number": "C-2", "began_at": "2026-03-25T07:00", "ended_at": "2026-03-25T23:00"}, "in the future"),
    ):
        answer = desk.post(here, good | change)
        assert answer.status_code == 422 and sentence in text(answer), change
