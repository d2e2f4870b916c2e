"""Metres, hours, waste, wrinkles and breaks as the plant counts them, brought in as CSV."""

from collections.abc import Iterator
from datetime import datetime

from plant.errors import Refused
from plant.floor.access import line_by_code, product_by_code
from plant.floor.rules import refuse_out_of_bounds
from plant.people.access import require_role
from plant.people.models import Role
from plant.web.quantities import taken
from rollers.causes.models import Exposure
from rollers.services.exporting import table_text
from rollers.services.files.columns import Row, moment, quantity, shown_moment, text, whole, written
from rollers.services.files.taking import Asked, Kind, Taking

COUNTERS = (Role.ENGINEER, Role.SUPERVISOR, Role.QA, Role.MANAGER)
LENGTH = quantity("length_m", "length of web that ran", needed=True, name="length")
HOURS = quantity("running_h", "running time", needed=True, name="running")
WASTE = quantity("waste_kg", "waste; empty where not weighed", name="waste")
MADE = quantity("made_kg", "weight made, waste included; empty where not weighed", name="made")
TENSION = quantity("tension_n_per_m", "tension set-point", name="tension")
SPEED = quantity("speed_m_per_min", "speed set-point", name="speed")
FIGURES = (LENGTH, HOURS, WASTE, MADE, TENSION, SPEED)
BOUNDS = {
    "length_m": (0.0, 1e7),
    "running_h": (0.0, 1000.0),
    "waste_kg": (0.0, 1e6),
    "made_kg": (0.0, 1e7),
    "tension_n_per_m": (1.0, 3000.0),
    "speed_m_per_min": (0.1, 3000.0),
}

COLUMNS = (
    text("roll", "number of the roll, or a name for the stretch of running; once per line", needed=True),
    text("line", "code of the line", needed=True),
    text("product", "code of the product", needed=True),
    moment("starts", "when it began", needed=True),
    moment("ends", "when it ended", needed=True),
    LENGTH,
    HOURS,
    WASTE,
    MADE,
    whole("wrinkles", "wrinkle events; empty where nobody counted, 0 where none came"),
    whole("breaks", "web breaks; empty where nobody counted, 0 where none came"),
    TENSION,
    SPEED,
)


def _refuse_times(row: Row, at: datetime) -> None:
    if row["ends"] <= row["starts"]:
        raise Refused("out-of-order", "The end comes after the start. Check both.", field="ends")
    if row["ends"] > at:
        raise Refused("future", "What ran lies in the past. Check the end.", field="ends")


def take(rows: list[Row], taking: Taking) -> None:
    """Each row as a stretch of running; a roll that is known already is refused by its row."""
    require_role(taking.by, *COUNTERS, at=taking.at, act="Bringing in what ran")
    for row in rows:
        with taking.row(row):
            line, product = taking.fetched(line_by_code, row["line"]), taking.fetched(product_by_code, row["product"])
            taking.once(row, "roll", f"{line.code} {row['roll']}", "Roll")
            _refuse_times(row, taking.at)
            if Exposure.objects.filter(line=line, roll=row["roll"]).exists():
                sentence = f"Roll {row['roll']} of line {line.code} is recorded already. Take the row out of the file."
                raise Refused("taken", sentence, field="roll")
            numbers, typed = taken(row.figures(*FIGURES), [column.field for column in FIGURES])
            refuse_out_of_bounds(numbers, BOUNDS)
            if numbers.get("waste_kg") is not None and (numbers.get("made_kg") or 0.0) < (numbers["waste_kg"] or 0.0):
                sentence = "The waste is more than what was made. Type the weight made, waste included."
                raise Refused("out-of-order", sentence, field="made_kg")
            Exposure.objects.create(
                line=line,
                product=product,
                roll=row["roll"][:40],
                starts_at=row["starts"],
                ends_at=row["ends"],
                **numbers,
                wrinkles=row["wrinkles"],
                breaks=row["breaks"],
                typed=typed,
                recorded_at=taking.at,
            )
            taking.made.append((row.line, f"roll {row['roll']} of line {line.code}"))


def give(asked: Asked) -> Iterator[dict[str, str]]:
    """What is recorded, as a file that could be brought in again."""
    rows = Exposure.objects.select_related("line", "product")
    if asked.filters.get("line"):
        rows = rows.filter(line__code=asked.filters["line"])
    for row in rows:
        cells = {"roll": row.roll, "line": row.line.code, "product": row.product.code}
        cells |= {
            "starts": shown_moment(row.starts_at, asked.zone),
            "ends": shown_moment(row.ends_at, asked.zone),
            "wrinkles": "" if row.wrinkles is None else str(row.wrinkles),
            "breaks": "" if row.breaks is None else str(row.breaks),
        }
        for column in FIGURES:
            cells |= written(column, row)
        yield cells


KIND = Kind(
    "exposure",
    "Metres, waste and breaks",
    "A row per roll, or per stretch of running. Empty counts mean that nobody counted; they are never taken as zero.",
    COLUMNS,
    take,
    give,
    (
        {
            "roll": "R-1001",
            "line": "S",
            "product": "LF-20",
            "starts": "2026-03-23 06:10",
            "ends": "2026-03-23 06:34",
            "length": "6000",
            "length_unit": "m",
            "running": "0.36",
            "running_unit": "h",
            "waste": "4.5",
            "waste_unit": "kg",
            "made": "155",
            "made_unit": "kg",
            "wrinkles": "2",
            "breaks": "0",
            "tension": "50",
            "tension_unit": "N/m",
            "speed": "280",
            "speed_unit": "m/min",
        },
    ),
    filters=("line",),
    aliases={"length_m": "length", "running_h": "running", "waste_kg": "waste", "made_kg": "made"},
)


def as_file(rows: list[dict[str, str]]) -> str:
    """Rows as the file that is taken in."""
    return table_text(KIND, rows)
