"""Lots and their reels as CSV: a row per reel. What is brought in waits in quarantine like any delivery."""

import secrets
from collections.abc import Iterator

from plant.errors import Refused
from plant.web.quantities import digits, stored
from rollers.access import stock_by_code
from rollers.models import Lot, Reel
from rollers.services.files.columns import Row, day, quantity, shown_day, text
from rollers.services.files.taking import Asked, Kind, Taking
from rollers.services.receiving import add_reels, receive_lot

LENGTH = quantity("length_m", "length on the reel as received", needed=True)
COLUMNS = (
    text("stock", "code of the tape stock", needed=True),
    text("lot", "supplier's lot number", needed=True),
    text("supplier", "supplier"),
    day("made_on", "day it was made"),
    day("use_by", "last day of use"),
    text("label", "label that is on the reel already (empty: a new one)"),
    LENGTH,
)
SAME = ("supplier", "made_on", "use_by")


def take(rows: list[Row], taking: Taking) -> None:
    """Rows of one lot belong together; its facts stand the same in each."""
    made: dict[tuple[str, str], tuple[Lot, Row]] = {}
    for row in rows:
        with taking.row(row):
            if row.text("label"):
                taking.once(row, "label", row.text("label"), "Label")
            key = (row["stock"].lower(), row["lot"].lower())
            if key in made:
                _add(row, taking, *made[key])
            else:
                made[key] = (_receive(row, taking), row)


def _length(row: Row) -> float:
    length, _ = stored("length_m", row["length"])
    return length or 0.0


def _receive(row: Row, taking: Taking) -> Lot:
    lot = receive_lot(
        stock=taking.fetched(stock_by_code, row["stock"]),
        code=row["lot"],
        lengths_m=[_length(row)],
        labels=[row.text("label")],
        supplier=row.text("supplier"),
        made_on=row["made_on"],
        use_by=row["use_by"],
        by=taking.by,
        at=taking.at,
        random=secrets.SystemRandom(),
    )
    taking.made.append((row.line, f"lot {lot.code} of {lot.stock}, in quarantine, reel of {_length(row):g} m"))
    return lot


def _add(row: Row, taking: Taking, lot: Lot, first: Row) -> None:
    for name in SAME:
        if (row[name] or None) != (first[name] or None):
            sentence = f"Lot {lot.code} has another {name.replace('_', ' ')} in line {first.line}. A lot has one."
            raise Refused("lot-facts", sentence, field=name)
    add_reels(
        lot,
        [_length(row)],
        labels=[row.text("label")],
        by=taking.by,
        at=taking.at,
        random=secrets.SystemRandom(),
    )
    taking.made.append((row.line, f"reel of {_length(row):g} m of lot {lot.code}"))


def give(asked: Asked) -> Iterator[dict[str, str]]:
    """Every reel as it was received."""
    reels = Reel.objects.select_related("lot__stock").order_by("lot__stock__code", "lot__code", "label")
    status = asked.filters.get("status")
    if status:
        reels = reels.filter(lot__status=status)
    for reel in reels:
        yield {
            "stock": reel.lot.stock.code,
            "lot": reel.lot.code,
            "supplier": reel.lot.supplier,
            "made_on": shown_day(reel.lot.made_on),
            "use_by": shown_day(reel.lot.use_by),
            "label": reel.label,
            "length": digits(reel.length_m),
            "length_unit": "m",
        }


KIND = Kind(
    "lots",
    "Lots and reels",
    "A row per reel. The storekeeper or QA brings them in; each lot waits in quarantine until it is released.",
    COLUMNS,
    take,
    give,
    (
        {
            "stock": "K1",
            "lot": "CR-0417",
            "supplier": "Invented Tapes",
            "made_on": "2026-01-12",
            "use_by": "2027-01-12",
            "label": "",
            "length": "50",
            "length_unit": "m",
        },
        {
            "stock": "K1",
            "lot": "CR-0417",
            "supplier": "Invented Tapes",
            "made_on": "2026-01-12",
            "use_by": "2027-01-12",
            "label": "",
            "length": "164",
            "length_unit": "ft",
        },
    ),
    filters=("status",),
    aliases={"code": "lot", "lengths": "length", "lot": "lot"},
)
