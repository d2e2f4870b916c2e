"""Pure rules of the floor: codes, the running window of a product, shifts in plant time."""

import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta
from zoneinfo import ZoneInfo

from plant.errors import Refused
from plant.web.quantities import digits, stored_unit, unit_sign

CODE = re.compile(r"[A-Za-z0-9][A-Za-z0-9.\-]*")
SIDES = re.compile(r"\b(left|right|links|rechts|lh|rh)\b", re.IGNORECASE)
STRAIN_PCT = (0.005, 10.0)  # outside: confirm (default of the trade form, no source)
MODULUS_LIFE = timedelta(days=730)  # 24 months (default, no source)

# Accepted ranges in stored units: what a web line can have at all (defaults of the trade form, no source).
PRODUCT_BOUNDS: dict[str, tuple[float, float]] = {
    "modulus_md_mpa": (1, 250_000),
    "modulus_cd_mpa": (1, 250_000),
    "poisson_md": (0, 5),
    "thickness_um": (5, 1000),
    "width_min_mm": (30, 8000),
    "width_max_mm": (30, 8000),
    "wander_mm": (0, 30),
    "tension_min_n_per_m": (5, 1500),
    "tension_set_n_per_m": (5, 1500),
    "tension_max_n_per_m": (5, 1500),
    "speed_min_m_per_min": (1, 1500),
    "speed_set_m_per_min": (1, 1500),
    "speed_max_m_per_min": (1, 1500),
    "friction": (0.05, 1),
    "roughness_um": (0, 60),
    "yield_strain_pct": (0.001, 1000),
    "max_contact_temp_c": (-50, 500),
}
STEP_BOUNDS = {"wrap_deg": (10.0, 220.0), "entry_span_mm": (10.0, 50_000.0)}
POSITION_BOUNDS = {"surface_temp_c": (-100.0, 500.0)}
LINE_BOUNDS = {"max_speed_m_per_min": (1.0, 3000.0)}
IN_ORDER = (
    ("width_min_mm", "width_max_mm"),
    ("tension_min_n_per_m", "tension_set_n_per_m"),
    ("tension_set_n_per_m", "tension_max_n_per_m"),
    ("speed_min_m_per_min", "speed_set_m_per_min"),
    ("speed_set_m_per_min", "speed_max_m_per_min"),
)


def words(field: str) -> str:
    """A field's name in words, without its unit: `tension_min_n_per_m` is *tension min*."""
    for ending in ("_n_per_m", "_m_per_min", "_mm_per_m", "_mpa", "_mm", "_um", "_pct", "_deg", "_c"):
        if field.endswith(ending):
            field = field.removesuffix(ending)
            break
    return field.replace("_", " ")


def checked_code(text: str, *, what: str, most: int, field: str = "code") -> str:
    """A code without blanks: letters, digits, dots and hyphens.

    Raises
    ------
    Refused
        For anything else.
    """
    text = text.strip()
    if not text:
        raise Refused("empty", f"Type a code for the {what}.", field=field)
    if len(text) > most or not CODE.fullmatch(text):
        sentence = f"{text!r} does not do as a code: up to {most} letters, digits, dots and hyphens, no blanks."
        raise Refused("bad-code", sentence, field=field)
    return text


def checked_name(text: str, *, what: str, most: int = 120, field: str = "name") -> str:
    """A name that is there and fits.

    Raises
    ------
    Refused
        When empty or too long.
    """
    text = text.strip()
    if not text:
        raise Refused("empty", f"Type a name for the {what}.", field=field)
    if len(text) > most:
        raise Refused("too-long", f"The name of the {what} is longer than {most} characters.", field=field)
    return text


def refuse_sides(text: str, *, field: str) -> None:
    """Left and right depend on where one stands; ends have names.

    Raises
    ------
    Refused
        When the text says left or right.
    """
    if SIDES.search(text):
        sentence = (
            f"{text!r}: left and right depend on where one stands. Write operator end or drive end; "
            "the operator or maintenance knows which is which."
        )
        raise Refused("left-right", sentence, field=field)


def refuse_out_of_bounds(numbers: Mapping[str, float | None], bounds: Mapping[str, tuple[float, float]]) -> None:
    """Every number inside the range of its field.

    Raises
    ------
    Refused
        Naming field, value and range.
    """
    for field, value in numbers.items():
        if value is None or field not in bounds:
            continue
        low, high = bounds[field]
        if not low <= value <= high:
            unit = unit_sign(stored_unit(field)[1])
            sentence = (
                f"The {words(field)} of {digits(value)} {unit} lies outside {digits(low)} to {digits(high)} "
                f"{unit}. Check figure and unit; the process engineer knows the value."
            )
            raise Refused("out-of-range", " ".join(sentence.replace(" .", ".").split()), field=field)


def refuse_out_of_order(numbers: Mapping[str, float | None]) -> None:
    """Lowest, set and highest value in this order.

    Raises
    ------
    Refused
        Naming the pair.
    """
    for low, high in IN_ORDER:
        first, second = numbers[low], numbers[high]
        if first is not None and second is not None and first > second:
            unit = stored_unit(low)[1]
            sentence = (
                f"The {words(low)} ({digits(first)} {unit}) is above the {words(high)} ({digits(second)} {unit}). "
                "Lowest, set and highest value come in this order."
            )
            raise Refused("out-of-order", sentence, field=low)


def line_strain_pct(tension_n_per_m: float, modulus_mpa: float, thickness_um: float) -> float:
    """Tension over modulus times thickness, in percent (elementary mechanics; N/m over MPa·µm is exactly 1)."""
    return 100 * tension_n_per_m / (modulus_mpa * thickness_um)


def strain_doubt(numbers: Mapping[str, float | None]) -> str:
    """Why the line strain looks mistyped; empty when it does not."""
    modulus, thickness = numbers["modulus_md_mpa"], numbers["thickness_um"]
    low, high = numbers["tension_min_n_per_m"], numbers["tension_max_n_per_m"]
    if not (modulus and thickness and low and high):
        return ""
    strains = line_strain_pct(low, modulus, thickness), line_strain_pct(high, modulus, thickness)
    if STRAIN_PCT[0] <= strains[0] and strains[1] <= STRAIN_PCT[1]:
        return ""
    return (
        f"The line strain would be {strains[0]:.3g} % to {strains[1]:.3g} %; usual is {STRAIN_PCT[0]} % to "
        f"{STRAIN_PCT[1]:g} %. Check modulus, thickness and tension with their units, or confirm that it is so."
    )


def product_notes(modulus_direction: str, modulus_on: date | None, today: date) -> list[str]:
    """What an approver should know about the modulus."""
    notes = []
    if modulus_direction != "MD":
        notes.append("The direction of the modulus is not stated; only MD counts here. Ask the process engineer.")
    if modulus_on is None:
        notes.append("It is not recorded when the modulus was measured.")
    elif today - modulus_on > MODULUS_LIFE:
        notes.append(f"The modulus was measured on {modulus_on}, more than 24 months ago. Have it measured again.")
    return notes


@dataclass(frozen=True)
class Stretch:
    """One shift: the date it belongs to, its name, and its ends in UTC."""

    date: date
    name: str
    starts_at: datetime
    ends_at: datetime


def moment(day: date, clock_time: time, zone: ZoneInfo) -> datetime:
    """A plant-time moment in UTC. A time that the spring change skips means the moment just after the gap."""
    return datetime.combine(day, clock_time, zone).astimezone(UTC)


def shift_on(day: date, name: str, starts: time, ends: time, zone: ZoneInfo) -> Stretch:
    """The shift that starts on this day; it ends on the next when its end is not after its start.

    Length follows from UTC, so a night of the clock change lasts an hour less or more.
    """
    last_day = day if ends > starts else day + timedelta(days=1)
    return Stretch(day, name, moment(day, starts, zone), moment(last_day, ends, zone))


def day_start(day: date, zone: ZoneInfo) -> datetime:
    """Midnight in plant time at which a date begins, in UTC."""
    return moment(day, time(0), zone)


def day_end(day: date, zone: ZoneInfo) -> datetime:
    """The first moment after 23:59:59 plant time of a date, in UTC; right in days of 23 and 25 hours too."""
    return day_start(day + timedelta(days=1), zone)


def refuse_overlapping_patterns(patterns: Iterable[tuple[str, time, time]]) -> None:
    """No two shifts of a day at the same time, no name twice, none of no length.

    Raises
    ------
    Refused
        Naming the shifts.
    """
    seen: dict[int, str] = {}
    names: set[str] = set()
    for name, starts, ends in patterns:
        if name in names:
            raise Refused("name-twice", f"Two shifts are called {name}. Give each its own name.", field="name")
        names.add(name)
        if starts == ends:
            raise Refused("no-length", f"Shift {name} starts and ends at {starts:%H:%M}.", field="ends")
        first, last = starts.hour * 60 + starts.minute, ends.hour * 60 + ends.minute
        for minute in range(first, last if last > first else last + 1440):
            other = seen.setdefault(minute % 1440, name)
            if other != name:
                sentence = f"Shifts {other} and {name} overlap at {minute % 1440 // 60:02d}:{minute % 60:02d}."
                raise Refused("shifts-overlap", sentence + " Change one of them.", field="starts")
