"""The rows of the cause sheet: what else makes wrinkles, how it looks, how it is checked, by which limits."""

from dataclasses import dataclass

PAPERLIKE = ("paper", "nonwoven", "board", "tissue")


@dataclass(frozen=True)
class CauseRow:
    """One cause. `unit` is that of the stored value; `limits` are names in the plant's signed limits."""

    code: str
    title: str
    sign: str
    check: str
    unit: str
    quantity: str
    limits: tuple[str, ...]
    order: str = ""
    paper_only: bool = False


ROWS: tuple[CauseRow, ...] = (
    CauseRow(
        "misalignment",
        "Misaligned roller",
        "Diagonal, always the same way",
        "Level and tram against the roller before it, at both ends, web off",
        "mm/m",
        "alignment",
        ("alignment",),
        "align",
    ),
    CauseRow(
        "deflection",
        "Deflecting roller",
        "Ridges along the web in the centre, worse with more tension",
        "Sag of the face at full load, over the face width",
        "mm/m",
        "alignment",
        ("cause_sag",),
        "bearings",
    ),
    CauseRow(
        "diameter",
        "Cone or worn roller",
        "Web walks, ridges at one side",
        "Diameter at operator end, centre and drive end; the largest less the smallest",
        "mm",
        "length",
        ("cause_diameter_spread", "cause_diameter_strain"),
        "regrind",
    ),
    CauseRow(
        "lane",
        "Baggy lane or gauge band",
        "Stays in one lane at every roller, moves with the parent roll",
        "Lay out a length, slit it into lanes, compare their lengths",
        "%",
        "ratio",
        ("cause_lane_film", "cause_lane_paper"),
    ),
    CauseRow(
        "air",
        "Air film",
        "Appears above a speed, floats, wanders",
        "Film height over the combined roughness, worked out at the highest speed and the lowest tension",
        "1",
        "ratio",
        ("cause_air_film",),
        "clean",
    ),
    CauseRow(
        "tension",
        "Tension off its set-point",
        "At all rollers",
        "Tension measured on the web against the set-point",
        "%",
        "ratio",
        ("cause_tension_off",),
    ),
    CauseRow(
        "swing",
        "Tension swings",
        "Comes and goes with the dancer",
        "Half of highest less lowest over a minute, as a share of the mean",
        "%",
        "ratio",
        ("cause_tension_swing",),
        "balance",
    ),
    CauseRow(
        "temperature",
        "Temperature across the face",
        "Waves at the exit of a hot or chill roller",
        "Surface temperature at operator end, centre and drive end; the highest less the lowest",
        "K",
        "",
        ("cause_temperature",),
    ),
    CauseRow(
        "moisture",
        "Moisture change",
        "Ridges after the oven or over night",
        "Moisture before and after, percentage points",
        "%",
        "ratio",
        ("cause_moisture",),
        paper_only=True,
    ),
    CauseRow(
        "drag",
        "Roller drag or bearing",
        "Slip marks, squeal",
        "Breakaway pull at the web path with a spring scale, over tension times width",
        "%",
        "ratio",
        ("cause_drag",),
        "bearings",
    ),
)
BY_CODE = {row.code: row for row in ROWS}


def is_paperlike(family: str) -> bool:
    """Whether moisture moves this web (told by the product's family)."""
    return any(word in family.lower() for word in PAPERLIKE)


def rows_for(family: str) -> tuple[CauseRow, ...]:
    """The causes that a product can have."""
    return tuple(row for row in ROWS if not row.paper_only or is_paperlike(family))
