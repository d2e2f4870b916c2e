"""Lines as CSV, with their tension zones in one cell."""

import re
from collections.abc import Iterator
from zoneinfo import ZoneInfo

from plant.floor.models import Line
from plant.floor.services import add_line
from plant.floor.services.lines import Zone
from rollers.services.files import cells
from rollers.services.files.cells import BadCell
from rollers.services.files.columns import Column, Row, quantity, shown_day, text, word, written, yes_no
from rollers.services.files.taking import Asked, Kind, Taking

MAX_SPEED = quantity("max_speed_m_per_min", "fastest speed of the line")


def read_zones(cell: str, zone: ZoneInfo) -> list[Zone]:
    """`1:tension:LC 1:2026-01-10 | 2:draw`.

    Raises
    ------
    BadCell
        When a part cannot be read.
    """
    zones = []
    for part in cells.several(cell):
        pieces = [piece.strip() for piece in part.split(":")] + ["", "", ""]
        if len(pieces) > 7 or not re.fullmatch(r"[0-9]{1,4}", pieces[0]):
            raise BadCell(f"{part!r}: write number:control:sensor:calibrated, for example 1:tension:LC 1:2026-01-10.")
        control = cells.choice(pieces[1] or "tension", ("tension", "draw", "none"))
        zones.append(Zone(int(pieces[0]), control, pieces[2], cells.day(pieces[3]) if pieces[3] else None))
    return zones


def zone_text(line: Line) -> str:
    parts = []
    for zone in line.zones.all():
        pieces = [str(zone.number), zone.control, zone.sensor, shown_day(zone.calibrated_on)]
        while not pieces[-1]:
            pieces.pop()
        parts.append(":".join(pieces))
    return " | ".join(parts)


COLUMNS = (
    text("code", "short code of the line, for example A", needed=True),
    text("name", "what people call it", needed=True),
    yes_no("reversing", "the web also runs backwards"),
    MAX_SPEED,
    Column(
        "zones",
        "tension zones as number:control:sensor:calibrated, separated by |; control is tension, draw or none",
        read=read_zones,
    ),
)


def take(rows: list[Row], taking: Taking) -> None:
    for row in rows:
        with taking.row(row):
            taking.once(row, "code", row["code"], "Line")
            line = add_line(
                code=row["code"],
                name=row["name"],
                reversing=bool(row["reversing"]),
                max_speed_m_per_min=row["max_speed"],
                zones=row["zones"] or [],
                by=taking.by,
                at=taking.at,
            )
            taking.made.append((row.line, f"line {line.code}, {line.name}"))


def give(asked: Asked) -> Iterator[dict[str, str]]:
    for line in Line.objects.order_by("code").prefetch_related("zones"):
        yield {
            "code": line.code,
            "name": line.name,
            "reversing": word(line.reversing),
            **written(MAX_SPEED, line),
            "zones": zone_text(line),
        }


KIND = Kind(
    "lines",
    "Lines",
    "A row per line. Rollers follow in a file of their own.",
    COLUMNS,
    take,
    give,
    (
        {
            "code": "S",
            "name": "Slitter",
            "reversing": "no",
            "max_speed": "300",
            "max_speed_unit": "m/min",
            "zones": "1:tension:LC 1:2026-01-10 | 2:draw",
        },
    ),
)
