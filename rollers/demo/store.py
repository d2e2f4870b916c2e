"""The store of the works: lots of the five tapes, reels in the rooms, knives, a drill, and the recall of one lot."""

from collections.abc import Callable
from datetime import datetime, timedelta
from random import Random

from plant.floor.models import Run
from rollers.demo.acts import World, signed
from rollers.models import Knife, Lot, Reel
from rollers.queries_counting import to_count
from rollers.queries_store import reel_now, reels_in
from rollers.services.counting import record_count
from rollers.services.issuing import issue, take_back
from rollers.services.knives import enter_knife, take_out
from rollers.services.lots import measure_lot, release_lot
from rollers.services.recalls import begin_drill, finish_drill, recall_lot
from rollers.services.receiving import receive_lot, take_in_unlabelled
from rollers.services.rolls import record_roll

Scene = tuple[int, str, Callable[[datetime], object]]
SUPPLIER = "Haldenrain Tapes (invented)"
RECALLED, NEXT = "2602-B", "2603-A"
# What the recipes of the demo rest on is measured as its supplier says; other lots differ a little, as lots do.
# Lot, tape, reels and their length in m, measured thickness in mm, days until it is to be used.
LOTS = (
    ("CR-0117", "T1", 4, 50.0, 0.14, 240),
    ("VN-0931", "T2", 2, 33.0, 0.148, 300),
    ("SP-0455", "T3", 3, 33.0, 0.055, 400),
    ("GC-0208", "T4", 2, 33.0, 0.182, 500),
    (RECALLED, "T5", 5, 33.0, 0.09, 150),
)
# Where the first reels went, and to whom.
ISSUED = (("CR-0117", "G1", "ines"), (RECALLED, "F1", "tomas"), (RECALLED, "M1", "mei"), (RECALLED, "G2", "rui"))
KNIVES = (("K-01", False), ("K-02", False), ("K-03", False), ("K-04", False), ("K-07", True))
REASON = "Letter of the supplier by telephone: adhesive of this lot goes over to the film and stays there"


def _random(world: World) -> Random:
    return Random(world.week.monday.toordinal())  # noqa: S311  (labels, no secrets)


def _receive(world: World, row: tuple[str, str, int, float, float, int], at: datetime, dice: Random) -> Lot:
    code, tape, count, length, _, days = row
    return receive_lot(
        stock=world.works.stocks[tape],
        code=code,
        lengths_m=[length] * count,
        supplier=SUPPLIER,
        made_on=(at - timedelta(days=40)).date(),
        use_by=(at + timedelta(days=days)).date(),
        by=world.people["edda"],
        at=at,
        random=dice,
    )


def _release(world: World, lot: Lot, thickness: float, at: datetime) -> None:
    """Measured by the storekeeper; QA signs, or for general rooms the storekeeper and a second person."""
    measure_lot(lot, thickness, by=world.people["edda"], at=at)
    if set(lot.stock.room_kinds) - {"general"}:
        release_lot(lot, confirmation=signed(world.people["yuki"], at))
    else:
        second = signed(world.people["ines"], at)
        release_lot(lot, confirmation=signed(world.people["edda"], at), second=second)


def _give(world: World, code: str, room: str, to: str, at: datetime) -> None:
    """The next full reel of a lot from the store to a room."""
    reels = Reel.objects.filter(lot__code=code).select_related("lot__stock").order_by("label")
    reel = next(reel for reel in reels if reel_now(reel).room is None)
    issue(reel, world.works.rooms[room], to=world.people[to], by=world.people["edda"], at=at)


def fill_store(world: World) -> None:
    """What was in the store when records began, and what went out before the first taping."""
    at, dice = world.week.at(-21, "13:30"), _random(world)
    for row in LOTS:
        _release(world, _receive(world, row, at, dice), row[4], at)
    thick = _receive(world, ("GC-0212", "T4", 1, 33.0, 0.0, 500), at, dice)
    measure_lot(thick, 0.204, by=world.people["edda"], at=at)  # held: too thick for its stock
    for stock in world.works.stocks.values():
        stock.refresh_from_db()  # what was measured on a lot stands in its stock's range
    for number, snap_off in KNIVES:
        enter_knife(number, snap_off=snap_off, by=world.people["edda"], at=at)
    for code, room, to in ISSUED:
        _give(world, code, room, to, world.week.at(-20, "14:30"))


def store_before(world: World) -> list[Scene]:
    """The weeks before: the next lot of the same tape comes, a count, a mock recall, a reel that nobody knows."""
    dice = _random(world)
    dice.seed(dice.random() + 1)

    def comes(at: datetime) -> None:
        _release(world, _receive(world, (NEXT, "T5", 4, 33.0, 0.09, 170), at, dice), 0.09, at)

    def count(at: datetime) -> None:
        counted = {row.key: row.expected for row in to_count("room", "M1")[1]}
        record_count("room", "M1", counted=counted, by=world.people["yuki"], at=at)

    def drill(at: datetime) -> None:
        lot = Lot.objects.get(code="SP-0455")
        begin_drill(lot, by=world.people["yuki"], at=at)
        found = "Three reels on shelf 2, all full; no taping of it on any roller, as the ledger has it."
        finish_drill(lot, found=found, by=world.people["yuki"], at=at + timedelta(minutes=38))

    def unknown(at: datetime) -> None:
        where = "tool cabinet of line B, core without a label"
        stock = world.works.stocks["T5"]
        take_in_unlabelled(stock, 6.0, where=where, by=world.people["edda"], at=at, random=dice)

    def renew(at: datetime) -> None:
        _back(world, "F1", at)
        _give(world, NEXT, "F1", "tomas", at)

    def rolls(at: datetime) -> None:
        _wind(world, "BO-35", at)

    def knife(at: datetime) -> None:
        taken = Knife.objects.get(number="K-01")
        take_out(taken, room=world.works.rooms["G1"], by=world.people["ines"], at=at)

    return [
        (-11, "09:00", comes),
        (-10, "09:00", drill),
        (-6, "12:00", renew),
        (-5, "10:30", count),
        (-4, "11:00", unknown),
        (-3, "06:15", knife),
        (-1, "23:00", rolls),
    ]


def _wind(world: World, product: str, until: datetime) -> None:
    """The winder's list of a product's run up to a moment: big rolls, one after the other."""
    run = Run.objects.filter(product_version__product__code=product, released_at__lt=until).latest("released_at")
    if run.released_at is None or run.ended_at is not None:
        return
    began, length, number = run.released_at, timedelta(minutes=100), 0
    while began + length <= until:
        number += 1
        record_roll(
            run.line,
            number=f"{product}-{run.released_at:%d%m}-{number:03d}",
            began_at=began,
            ended_at=began + length,
            length_m=run.speed_m_per_min * 100,
            by=world.people["tomas"],
            at=until,
        )
        began += length


def _back(world: World, room: str, at: datetime) -> None:
    """Every reel of the recalled lot in a room goes back to the store."""
    for now in reels_in(world.works.rooms[room]):
        if now.reel.lot.code == RECALLED:
            take_back(now.reel, by=world.people["edda"], at=at)


def supplier_recall(world: World) -> list[Scene]:
    """Thursday at night the supplier takes a lot back; in the morning its reels come back and the next lot goes out."""

    def recall(at: datetime) -> None:
        lot = Lot.objects.get(code=RECALLED)
        recall_lot(lot, reason=REASON, contaminating=True, by=world.people["babak"], at=at)

    def exchange(at: datetime) -> None:
        for room, to in (("F1", "tomas"), ("M1", "mei"), ("G2", "rui")):
            _back(world, room, at)
            if not any(now.reel.lot.code == NEXT for now in reels_in(world.works.rooms[room])):
                _give(world, NEXT, room, to, at)

    return [(3, "23:55", recall), (4, "06:20", exchange)]
