"""A store with released lots, and tapings cut from its reels, for tests of the ledger."""

from dataclasses import dataclass
from datetime import datetime, timedelta
from random import Random

from plant.floor.models import Position, Run
from plant.people.models import Person
from rollers.models import Application, Lot, Piece, PieceFact, Reel, Roll, TapeStock
from rollers.queries_store import reel_now
from rollers.services.issuing import issue
from rollers.services.lots import measure_lot, release_lot
from rollers.services.receiving import receive_lot
from rollers.services.reels import cut
from tests import make
from tests.conftest import Cast

AT = make.AT
STATEMENT = AT.date() + timedelta(days=200)


@dataclass
class Store:
    """The invented store: who keeps it, and short words for what happens there."""

    cast: Cast
    keeper: Person
    random: Random

    def stock(self, code: str = "T5", **fields: object) -> TapeStock:
        statement = {"contact_statement": "Statement of the supplier", "contact_statement_ends": STATEMENT}
        clean = {} if code in ("T1", "T2") else statement
        return make.stock(code, **(clean | fields))

    def lot(self, code: str = "2602-B", stock: TapeStock | None = None, lengths: tuple[float, ...] = (33, 33)) -> Lot:
        return receive_lot(
            stock=stock or self.stock(),
            code=code,
            lengths_m=lengths,
            supplier="Invented Tapes",
            use_by=AT.date() + timedelta(days=100),
            by=self.keeper,
            at=AT,
            random=self.random,
        )

    def released(
        self, code: str = "2602-B", stock: TapeStock | None = None, lengths: tuple[float, ...] = (33, 33)
    ) -> Lot:
        lot = self.lot(code, stock, lengths)
        measure_lot(lot, lot.stock.thickness_mm, by=self.keeper, at=AT)
        return release_lot(lot, confirmation=make.confirmation(self.cast.yuki))

    def reel(self, lot: Lot, number: int = 0) -> Reel:
        return Reel.objects.select_related("lot__stock").filter(lot=lot).order_by("pk")[number]

    def issued(self, reel: Reel, position: Position, to: Person, at: datetime = AT) -> Reel:
        issue(reel, position.room, to=to, by=self.keeper, at=at)
        return reel

    def left(self, reel: Reel) -> float:
        return reel_now(reel).left_m

    def taping(self, position: Position, reel: Reel, by: Person, at: datetime = AT, pieces: int = 4) -> Application:
        """A taping by the ledger: cut from a reel, its pieces on the roller."""
        made = self.job(position, by, at)
        cut(reel, 0.5 * pieces, application=made, room=position.room, by=by, at=at)
        put_on(made, reel, pieces, by, at)
        return made

    def job(self, position: Position, by: Person, at: datetime = AT) -> Application:
        body = position.mountings.get(removed_at=None).body
        return Application.objects.create(
            body=body,
            position=position,
            state=Application.State.APPLIED,
            planned_by=by,
            planned_at=at,
            applier=by,
            applied_at=at,
        )


def put_on(application: Application, reel: Reel | None, pieces: int, by: Person, at: datetime) -> None:
    """Pieces of half a metre on the roller."""
    first = application.pieces.count() + 1
    for number in range(first, first + pieces):
        piece = Piece.objects.create(
            application=application, number=number, end="drive", lane=number, length_mm=500, reel=reel
        )
        fact(piece, PieceFact.State.ON, by, at)


def fact(piece: Piece, state: str, by: Person, at: datetime, **fields: object) -> PieceFact:
    return PieceFact.objects.create(piece=piece, state=state, at=at, recorded_at=at, by=by, **fields)


def ran(position: Position, product: str, since: datetime, until: datetime | None, speed: float = 100) -> Run:
    """A run that passed a roller."""
    version = make.product(
        product, position.line, width=640, thickness=62, modulus=1030, tension=110, speed=speed, friction=0.3
    )
    return Run.objects.create(
        line=position.line,
        path=position.steps.get().path,
        product_version=version,
        state=Run.State.ENDED if until else Run.State.RELEASED,
        tension_n_per_m=110,
        speed_m_per_min=speed,
        planned_at=since,
        planned_by=Person.objects.first(),
        starts_at=since,
        released_at=since,
        ended_at=until,
    )


def rolled(run: Run, number: str, since: datetime, minutes: float) -> Roll:
    return Roll.objects.create(
        run=run,
        number=number,
        began_at=since,
        ended_at=since + timedelta(minutes=minutes),
        length_m=run.speed_m_per_min * minutes,
    )


def room_of(kind: str, code: str, line: str, position: str, **fields: object) -> Position:
    """One roller of a line in a room of this class."""
    make.plant()
    path = make.web_path(make.line(line))
    return make.position(position, path=path, room=make.room(code, kind), **fields)


def store_of(cast: Cast) -> Store:
    keeper = make.person("Edda Solberg", "storekeeper", skills="aware")
    return Store(cast, keeper, Random(7))
