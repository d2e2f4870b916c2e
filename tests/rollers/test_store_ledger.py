"""Whatever hands do with reels and pieces, the ledgers of lots and rooms balance; two hands cut no metre twice."""

import threading
from datetime import timedelta
from random import Random

import pytest
from django.db import connection, transaction
from hypothesis import HealthCheck, given, seed, settings
from hypothesis import strategies as some

from plant.errors import Refused
from rollers.models import Lot, Piece, PieceFact, Reel, ReelMove
from rollers.queries_store import lot_ledgers, reel_now, room_ledger
from rollers.services.bags import close_bag, open_bag, open_bag_in, put_pieces
from rollers.services.issuing import count_length, issue, scrap, take_back
from rollers.services.receiving import add_reels
from rollers.services.reels import cut
from tests import make
from tests.rollers.store import AT, fact, put_on, room_of, store_of

ACTS = (
    "issue",
    "back",
    "cut",
    "cut",
    "cut",
    "scrap",
    "count",
    "bag",
    "bag",
    "lose",
    "find",
    "receive",
    "close",
    "report",
)


class Hands:
    """Random hands in the store, in a medical and in a general room. Each act is tried; a refusal changes nothing."""

    def __init__(self, cast):
        self.cast, self.store = cast, store_of(cast)
        self.places = [
            room_of("medical", "M1", "C", "C06", diameter_mm=150, face_mm=800),
            room_of("general", "G2", "D", "D04", diameter_mm=80, face_mm=400),
        ]
        self.lots = [self.store.released("A"), self.store.released("B", lengths=(5,))]
        self.jobs = [self.store.job(place, cast.mei) for place in self.places]
        self.begin(Random(0))

    def begin(self, dice: Random) -> None:
        """A new sequence from the same store."""
        self.dice, self.now, self.done, self.refused = dice, AT, 0, 0
        self.made = {lot.pk: lot.reels.count() for lot in self.lots}

    def act(self, what: str) -> None:
        self.now += timedelta(minutes=1)
        reel = self.dice.choice(list(Reel.objects.select_related("lot__stock").order_by("pk")))
        number = self.dice.randrange(len(self.places))
        place, job = self.places[number], self.jobs[number]
        try:
            with transaction.atomic():
                getattr(self, what)(reel, place, job)
            self.done += 1
        except Refused:
            self.refused += 1

    @property
    def keeper(self):
        return {"by": self.store.keeper, "at": self.now}

    def issue(self, reel, place, job):
        issue(reel, place.room, to=self.cast.mei, **self.keeper)

    def back(self, reel, place, job):
        take_back(reel, **self.keeper)

    def cut(self, reel, place, job):
        pieces = self.dice.randint(1, 4)
        cut(reel, 0.5 * pieces, application=job, room=place.room, by=self.cast.mei, at=self.now)
        put_on(job, reel, pieces, self.cast.mei, self.now)

    def report(self, reel, place, job):
        """Done already, whatever the rules said: it is kept, and the ledger still balances."""
        cut(reel, 0.5, application=job, room=place.room, by=self.cast.mei, at=self.now, reported=True)
        put_on(job, reel, 1, self.cast.mei, self.now)

    def scrap(self, reel, place, job):
        length = self.dice.choice([None, 0.25, 1.0, 40.0])
        scrap(reel, length, reason="dirty outer turns", **self.keeper)

    def count(self, reel, place, job):
        length = max(0.0, reel_now(reel).left_m + self.dice.uniform(-1, 1))
        count_length(reel, length, reason="by weight", **self.keeper)

    def receive(self, reel, place, job):
        add_reels(reel.lot, [self.dice.choice([3.0, 7.5])], random=self.dice, **self.keeper)
        self.made[reel.lot_id] += 1

    def bag(self, reel, place, job):
        bag = open_bag_in(place.room) or open_bag(place.room, by=self.cast.mei, at=self.now, random=self.dice)
        pieces = list(job.pieces.order_by("?")[:2]) if self.dice.random() < 0.2 else list(job.pieces.all()[:2])
        put_pieces(bag, pieces, by=self.cast.mei, at=self.now)

    def close(self, reel, place, job):
        bag = open_bag_in(place.room)
        if bag is None:
            raise Refused("none", "no bag")
        close_bag(bag, counted=self.dice.randint(0, 9), by=self.cast.mei, at=self.now)

    def lose(self, reel, place, job):
        piece = Piece.objects.filter(application=job).order_by("-pk").first()
        if piece is None or piece.facts.last().state != PieceFact.State.ON:
            raise Refused("none", "no piece on the roller")
        fact(piece, PieceFact.State.MISSING, self.cast.mei, self.now)

    def find(self, reel, place, job):
        lost = [piece for piece in Piece.objects.filter(application=job) if piece.facts.last().state == "missing"]
        if not lost:
            raise Refused("none", "nothing is missing")
        fact(lost[0], PieceFact.State.FOUND, self.cast.mei, self.now)

    def look(self) -> None:
        """Everything is accounted for, by lot and by room, in metres and in pieces."""
        ledgers = lot_ledgers(Lot.objects.all())
        for key, ledger in ledgers.items():
            assert ledger.length.balances, ledger
            assert ledger.pieces.balances, ledger
            assert ledger.length.on_reels >= 0
            assert Reel.objects.filter(lot=key).count() == self.made[key]
        rooms = [room_ledger(place.room) for place in self.places]
        assert all(ledger.length.balances and ledger.pieces.balances for ledger in rooms), rooms
        assert sum(ledger.pieces.cut for ledger in rooms) == Piece.objects.count()
        assert sum(ledger.pieces.cut for ledger in ledgers.values()) == Piece.objects.count()
        reported = 0.5 * PieceFact.objects.filter(state="on roller").count()
        assert sum(ledger.length.cut for ledger in ledgers.values()) == pytest.approx(reported)


SEQUENCES, LONG = 12, 40


@pytest.mark.django_db
def test_the_ledger_of_every_lot_and_room_balances_after_any_sequence_of_acts(cast, soak_factor):
    make.plant()
    hands = Hands(cast)
    tried = {"done": 0, "refused": 0}

    @seed(7)
    @settings(
        max_examples=SEQUENCES * soak_factor,
        deadline=None,
        database=None,
        suppress_health_check=list(HealthCheck),
    )
    @given(acts=some.lists(some.sampled_from(ACTS), min_size=LONG // 2, max_size=LONG), start=some.integers(0, 2**32))
    def sequence(acts, start):
        with transaction.atomic():
            hands.begin(Random(start))
            hands.act("issue")
            for what in acts:
                hands.act(what)
            hands.look()
            tried["done"] += hands.done
            tried["refused"] += hands.refused
            transaction.set_rollback(True)

    sequence()
    print(f"{SEQUENCES * soak_factor} sequences: {tried['done']} acts done, {tried['refused']} refused")
    assert tried["done"] > SEQUENCES * soak_factor and tried["refused"] > SEQUENCES * soak_factor


def together(*acts) -> list[object]:
    """Run the acts in threads that start at one moment; give back results or refusals."""
    gate, outcomes = threading.Barrier(len(acts)), [None] * len(acts)

    def run(place: int, act) -> None:
        gate.wait(timeout=20)
        try:
            outcomes[place] = act()
        except Refused as refusal:
            outcomes[place] = refusal
        finally:
            connection.close()

    threads = [threading.Thread(target=run, args=pair) for pair in enumerate(acts)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join(timeout=60)
    return outcomes


@pytest.mark.db_both
@pytest.mark.django_db(transaction=True)
def test_two_people_who_cut_the_same_reel_at_once_cannot_both_take_the_last_metre(cast):
    make.plant()
    store = store_of(cast)
    c06 = room_of("medical", "M1", "C", "C06", diameter_mm=150, face_mm=800)
    c07 = room_of("medical", "M1", "C", "C07", diameter_mm=100, face_mm=800)
    reel = store.issued(store.reel(store.released(lengths=(1.5,))), c06, cast.mei)
    jobs = [store.job(c06, cast.mei), store.job(c07, cast.lena)]
    outcomes = together(
        *(
            lambda job=job, by=by: cut(reel, 1.0, application=job, room=job.position.room, by=by, at=AT)
            for job, by in zip(jobs, (cast.mei, cast.lena), strict=True)
        )
    )
    refused = [one for one in outcomes if isinstance(one, Refused)]
    assert len(refused) == 1, outcomes
    assert refused[0].code == "too-long"
    assert "has 0.50 m by the ledger" in refused[0].sentence
    assert ReelMove.objects.filter(kind="cut").count() == 1
    assert store.left(reel) == pytest.approx(0.5)


@pytest.mark.db_both
@pytest.mark.django_db(transaction=True)
def test_a_reel_given_to_two_rooms_at_once_goes_to_one(cast):
    make.plant()
    store = store_of(cast)
    places = [
        room_of("medical", "M1", "C", "C06", diameter_mm=150, face_mm=800),
        room_of("general", "G2", "D", "D04", diameter_mm=80, face_mm=400),
    ]
    reel, mei = store.reel(store.released()), cast.mei
    outcomes = together(
        *(lambda place=place: issue(reel, place.room, to=mei, by=store.keeper, at=AT) for place in places)
    )
    refused = [one for one in outcomes if isinstance(one, Refused)]
    assert [one.code for one in refused] == ["not-in-store"]
    assert ReelMove.objects.filter(kind="issued").count() == 1
