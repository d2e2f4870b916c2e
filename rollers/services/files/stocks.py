"""Tape stocks as CSV."""

from collections.abc import Iterator

from rollers.models import TapeStock
from rollers.services.files.columns import (
    Row,
    day,
    quantity,
    ratio,
    several,
    shown_day,
    text,
    whole,
    word,
    written,
    yes_no,
)
from rollers.services.files.taking import Asked, Kind, Taking
from rollers.services.stocks import enter_stock

FIGURES = (
    quantity("thickness_mm", "thickness of one layer as applied", needed=True),
    quantity("thickness_min_mm", "thinnest lot"),
    quantity("thickness_max_mm", "thickest lot"),
    quantity("width_mm", "tape width", needed=True),
    quantity("roughness_um", "roughness Rq of the backing", needed=True),
    ratio("friction", "friction of the web on the tape (empty: as on the roller)"),
    quantity("max_temp_c", "hottest roller it stands"),
)
COLUMNS = (
    text("code", "code of the stock", needed=True),
    text("name", "what it is", needed=True),
    text("backing", "backing"),
    text("adhesive", "adhesive"),
    *FIGURES,
    text("colour", "colour in words"),
    yes_no("latex", "contains latex"),
    several("rooms", "room classes it may be used in: general, food, medical", needed=True),
    text("contact_statement", "contact statement for food or medical rooms"),
    day("contact_statement_ends", "last day of that statement"),
    whole("max_life_days", "longest life on a roller, in days"),
)
TEXTS = ("backing", "adhesive", "colour", "contact_statement")


def take(rows: list[Row], taking: Taking) -> None:
    for row in rows:
        with taking.row(row):
            taking.once(row, "code", row["code"], "Tape stock")
            values = row.figures(*FIGURES) | {name: row.text(name) for name in TEXTS}
            values |= {name: row[name] for name in ("latex", "contact_statement_ends", "max_life_days")}
            stock = enter_stock(
                code=row["code"],
                name=row["name"],
                values=values | {"room_kinds": [kind.lower() for kind in row["rooms"]]},
                by=taking.by,
                at=taking.at,
            )
            taking.made.append((row.line, f"tape stock {stock.code}, {stock.name}, for {', '.join(stock.room_kinds)}"))


def give(asked: Asked) -> Iterator[dict[str, str]]:
    for stock in TapeStock.objects.order_by("code"):
        row = {"code": stock.code, "name": stock.name} | {name: getattr(stock, name) for name in TEXTS}
        for column in FIGURES:
            row |= written(column, stock)
        yield row | {
            "latex": word(stock.latex),
            "rooms": " | ".join(stock.room_kinds),
            "contact_statement_ends": shown_day(stock.contact_statement_ends),
            "max_life_days": str(stock.max_life_days or ""),
        }


KIND = Kind(
    "stocks",
    "Tape stocks",
    "A row per kind of tape. Tape for food or medical rooms is brought in by QA.",
    COLUMNS,
    take,
    give,
    (
        {
            "code": "K1",
            "name": "Crepe, general",
            "backing": "crepe paper",
            "adhesive": "rubber",
            "thickness": "0.14",
            "thickness_unit": "mm",
            "width": "48",
            "width_unit": "mm",
            "roughness": "25",
            "roughness_unit": "um",
            "max_temp": "80",
            "max_temp_unit": "°C",
            "colour": "cream",
            "latex": "no",
            "rooms": "general",
            "max_life_days": "7",
        },
    ),
    aliases={"room_kinds": "rooms"},
)
