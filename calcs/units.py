"""Units: the only place in the project where a conversion factor is written down.

Two doors. Calculation code multiplies floats by the constants below. Forms and imports, which must give a
plant back the very digits it typed, use :func:`to_si` and :func:`from_si`, exact in decimal arithmetic.

Sources: international inch 0.0254 m and pound 0.45359237 kg (1959 agreement), standard gravity
9.80665 m/s2 (3rd CGPM 1901); all exact by definition.
"""

from __future__ import annotations

import math
from decimal import Decimal, InvalidOperation, localcontext
from fractions import Fraction

MM = 1e-3
UM = 1e-6
MPA = 1e6
GPA = 1e9
PCT = 1e-2
M_PER_MIN = 1 / 60
DEG = math.pi / 180
MM_PER_M = 1e-3
ZERO_CELSIUS = 273.15
"""0 degrees Celsius in kelvin."""

_INCH = Fraction("0.0254")
_POUND_FORCE = Fraction("0.45359237") * Fraction("9.80665")
_PSI = _POUND_FORCE / (_INCH * _INCH)
_PI = Fraction("3.14159265358979323846264338327950288419716939937511")
_ONE = Fraction(1)

_LENGTH = {
    "mm": Fraction(1, 1000),
    "um": Fraction(1, 10**6),
    "cm": Fraction(1, 100),
    "m": _ONE,
    "in": _INCH,
    "mil": _INCH / 1000,
    "ft": 12 * _INCH,
}
FACTORS: dict[str, dict[str, Fraction]] = {
    "length": _LENGTH,
    "line tension": {"N/m": _ONE, "N/mm": Fraction(1000), "pli": _POUND_FORCE / _INCH},
    "speed": {"m/s": _ONE, "m/min": Fraction(1, 60), "fpm": 12 * _INCH / 60},
    "pressure": {
        "Pa": _ONE,
        "kPa": Fraction(1000),
        "MPa": Fraction(10**6),
        "GPa": Fraction(10**9),
        "psi": _PSI,
        "kpsi": 1000 * _PSI,
    },
    "temperature": {"K": _ONE, "°C": _ONE, "°F": Fraction(5, 9)},
    "angle": {"rad": _ONE, "deg": _PI / 180},
    "ratio": {"1": _ONE, "%": Fraction(1, 100)},
    "alignment": {"m/m": _ONE, "mm/m": Fraction(1, 1000), "mil/ft": Fraction(1, 12000)},
    "mass": {"kg": _ONE, "g": Fraction(1, 1000), "t": Fraction(1000), "lb": Fraction("0.45359237")},
    "time": {"s": _ONE, "min": Fraction(60), "h": Fraction(3600)},
}
"""SI value of one unit, by quantity. SI units: m, N/m, m/s, Pa, K, rad, 1, m/m, kg, s."""

_ZERO_POINT = {"°C": Fraction("273.15"), "°F": Fraction("459.67") * Fraction(5, 9)}
_ALIASES = {
    "µm": "um",
    "μm": "um",
    "micron": "um",
    "microns": "um",
    "inch": "in",
    "inches": "in",
    '"': "in",
    "mils": "mil",
    "thou": "mil",
    "n/m": "N/m",
    "n/mm": "N/mm",
    "lbf/in": "pli",
    "lb/in": "pli",
    "ft/min": "fpm",
    "mpm": "m/min",
    "pa": "Pa",
    "kpa": "kPa",
    "mpa": "MPa",
    "n/mm2": "MPa",
    "n/mm²": "MPa",
    "gpa": "GPa",
    "ksi": "kpsi",
    "k": "K",
    "c": "°C",
    "degc": "°C",
    "°c": "°C",
    "f": "°F",
    "degf": "°F",
    "°f": "°F",
    "°": "deg",
    "degree": "deg",
    "degrees": "deg",
    "percent": "%",
    "pct": "%",
    "-": "1",
    "": "1",
}
_DIGITS = 34
_TYPED_DIGITS = 15
"""A binary double keeps 15 decimal digits; nobody types more on a shop floor."""


class UnitError(ValueError):
    """A unit, quantity or number that cannot be read; the message is a sentence for the person who typed it."""


def known_units(quantity: str) -> tuple[str, ...]:
    """Units accepted for a quantity, in the spelling that answers use.

    Raises
    ------
    UnitError
        If the quantity is not one of ``FACTORS``.
    """
    if quantity not in FACTORS:
        raise UnitError(f"The quantity '{quantity}' is not known; use one of: {', '.join(FACTORS)}.")
    return tuple(FACTORS[quantity])


def unit_name(unit: str, quantity: str) -> str:
    """Bring a typed unit to the spelling of :func:`known_units`.

    Raises
    ------
    UnitError
        If the unit is unknown for the quantity; the sentence lists the known ones.
    """
    known = known_units(quantity)
    text = unit.strip()
    for candidate in (text, text.lower(), _ALIASES.get(text.lower(), "")):
        if candidate in known:
            return candidate
    raise UnitError(
        f"The unit '{unit}' is not known for {quantity}; write one of: {', '.join(known)}. "
        "Your process engineer knows which unit the sheet uses."
    )


_FARTHEST = 30
"""Powers of ten beyond which a typed figure is a slip: an exact fraction of 1e999999 takes minutes to write down."""


def _number(value: str | Decimal | int | float) -> Decimal:
    text = value.strip() if isinstance(value, str) else repr(value) if isinstance(value, float) else value
    try:
        number = Decimal(text)
    except InvalidOperation:
        raise UnitError(f"'{value}' is not a number; type digits with a point, for example 12.5.") from None
    if not number.is_finite():
        raise UnitError(f"'{value}' is not a finite number; type digits with a point, for example 12.5.")
    if number and abs(number.adjusted()) > _FARTHEST:
        raise UnitError(f"'{value}' is no figure of this world; type digits with a point, for example 12.5.")
    return number


def _decimal(value: Fraction, digits: int) -> Decimal:
    with localcontext() as context:
        context.prec = digits
        return Decimal(value.numerator) / Decimal(value.denominator)


def to_si(value: str | Decimal | int | float, unit: str, quantity: str) -> Decimal:
    """Convert a typed value to SI.

    Parameters
    ----------
    value
        The number as typed (text keeps all digits).
    unit
        Typed unit; usual spellings and aliases are accepted.
    quantity
        A key of ``FACTORS``.

    Returns
    -------
    Decimal
        SI value with 34 digits.

    Raises
    ------
    UnitError
        For an unknown unit or quantity or something that is no number.

    Examples
    --------
    >>> to_si("1", "mil", "length")
    Decimal('0.0000254')
    >>> from_si(to_si("0.75", "pli", "line tension"), "pli", "line tension")
    Decimal('0.75')
    """
    name = unit_name(unit, quantity)
    exact = Fraction(_number(value)) * FACTORS[quantity][name] + _ZERO_POINT.get(name, Fraction(0))
    return _decimal(exact, _DIGITS)


def from_si(value: str | Decimal | int | float, unit: str, quantity: str) -> Decimal:
    """Convert an SI value back to a plant's unit, exact to the digits that were typed.

    The answer is rounded to 15 significant digits (for a temperature: of the SI value's size), which
    undoes the rounding of storage in a double and never touches a digit somebody typed.

    Raises
    ------
    UnitError
        For an unknown unit or quantity or something that is no number.
    """
    name = unit_name(unit, quantity)
    exact = (Fraction(_number(value)) - _ZERO_POINT.get(name, Fraction(0))) / FACTORS[quantity][name]
    if name in _ZERO_POINT:
        # The double holds so many places of the SI value; a place more on the way back is its rounding, not typed.
        whole = len(str(int(abs(_number(value)))))
        rounded = round(_decimal(exact, _DIGITS), _TYPED_DIGITS - 1 - whole)
    else:
        rounded = _decimal(exact, _TYPED_DIGITS)
    plain = rounded.normalize()
    if not plain:
        return Decimal(0)
    exponent = plain.as_tuple().exponent
    return plain.quantize(Decimal(1)) if isinstance(exponent, int) and exponent > 0 else plain
