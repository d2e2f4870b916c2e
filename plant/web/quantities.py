"""Figures with units: what was typed is kept to its digits, what is stored has the unit of its field's name.

`calcs.units` holds every factor; here the name of a field says which quantity and unit it is.
"""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from decimal import Decimal
from typing import Any

from calcs import units
from plant.errors import Refused

# Longest ending first: `_mm_per_m` also ends in `_per_m`.
_ENDINGS = (
    ("_n_per_m", "line tension", "N/m"),
    ("_m_per_min", "speed", "m/min"),
    ("_mm_per_m", "alignment", "mm/m"),
    ("_mpa", "pressure", "MPa"),
    ("_mm", "length", "mm"),
    ("_um", "length", "um"),
    ("_pct", "ratio", "%"),
    ("_deg", "angle", "deg"),
    ("_c", "temperature", "°C"),
    ("_kg", "mass", "kg"),
    ("_m", "length", "m"),
    ("_h", "time", "h"),
)
_SIGNS = {"um": "µm", "deg": "°", "1": ""}
# What a plant that thinks in inches types by preference.
_INCH = {
    "mm": "in",
    "um": "mil",
    "N/m": "pli",
    "m/min": "fpm",
    "MPa": "psi",
    "°C": "°F",
    "mm/m": "mil/ft",
    "m": "ft",
    "kg": "lb",
}


@dataclass(frozen=True)
class Typed:
    """A figure exactly as somebody typed it."""

    value: str
    unit: str


Figure = Typed | float | int | Decimal | None


def stored_unit(field: str) -> tuple[str, str]:
    """Quantity and unit of a stored field, told by the ending of its name; no ending: a plain ratio."""
    for ending, quantity, unit in _ENDINGS:
        if field.endswith(ending):
            return quantity, unit
    return "ratio", "1"


def unit_sign(unit: str) -> str:
    """The unit as printed."""
    return _SIGNS.get(unit, unit)


def usual_unit(field: str, system: str) -> str:
    """The unit offered first: the stored one, or its inch counterpart."""
    unit = stored_unit(field)[1]
    return _INCH.get(unit, unit) if system == "inch" else unit


def digits(number: float | Decimal) -> str:
    """A stored number as the shortest text that gives it back."""
    value = Decimal(repr(number) if isinstance(number, float) else number)
    text = format(value.normalize(), "f")
    return "0" if text in ("-0", "0") else text


def shown_digits(number: float) -> str:
    """A stored number for reading: up to seven digits, none of them invented."""
    return digits(float(f"{number:.7g}"))


def stored(field: str, figure: Figure) -> tuple[float | None, Typed | None]:
    """The number to store, in the field's unit, and what was typed.

    Raises
    ------
    Refused
        For something that is no finite number, or a unit of another quantity.
    """
    if figure is None:
        return None, None
    quantity, unit = stored_unit(field)
    if not isinstance(figure, Typed):
        figure = Typed(digits(figure) if _is_finite(figure) else str(figure), unit)
    typed = Typed(figure.value.strip(), figure.unit.strip() or unit)
    try:
        si = units.to_si(typed.value, typed.unit, quantity)
        same = units.unit_name(typed.unit, quantity) == unit
        number = float(Decimal(typed.value)) if same else float(units.from_si(si, unit, quantity))
    except units.UnitError as trouble:
        raise Refused("not-a-quantity", str(trouble), field=field) from None
    if not _is_finite(number):
        raise Refused("not-a-quantity", f"'{typed.value}' is too large to be a real figure.", field=field)
    return number, typed


def _is_finite(number: float | int | Decimal) -> bool:
    return Decimal(number).is_finite()


def taken(values: Mapping[str, Any], fields: Iterable[str]) -> tuple[dict[str, float | None], dict[str, Any]]:
    """All figures of a row: the numbers to store, and the `typed` value of the row."""
    numbers: dict[str, float | None] = {}
    typed: dict[str, Any] = {}
    for field in fields:
        if field not in values:
            continue
        numbers[field], as_typed = stored(field, values[field])
        if as_typed is not None:
            typed[field] = {"value": as_typed.value, "unit": as_typed.unit}
    return numbers, typed


def typed_of(row: Any, field: str) -> Typed | None:
    """What was typed for a field of a row; for rows without, the stored number in its unit."""
    kept = row.typed.get(field)
    if kept:
        return Typed(kept["value"], kept["unit"])
    number = getattr(row, field)
    return None if number is None else Typed(digits(number), stored_unit(field)[1])


def conversion(field: str, typed: Typed) -> str:
    """`5.5 in = 139.7 mm`; empty where nothing is converted. Shown to seven digits, ≈ where more are stored."""
    quantity, unit = stored_unit(field)
    if units.unit_name(typed.unit, quantity) == unit:
        return ""
    number, _ = stored(field, typed)
    exact = number or 0.0
    shown = shown_digits(exact)
    sign = "=" if float(shown) == exact else "≈"
    return f"{typed.value} {unit_sign(typed.unit)} {sign} {shown} {unit_sign(unit)}"
