"""The modulus a web really has at its line strain: from a pulled strip, or from a table and then flagged.

A strip's curve is text, values by name in lines that start with ``#``, then two columns::

    # direction: MD
    # temperature_c: 23
    # date: 2026-03-10
    # gauge_length_mm: 100
    # width_mm: 15
    # thickness_um: 20
    extension_mm,force_n
    0,0
    0.05,0.31

Semicolons with decimal commas are read too. Optional names: preload_n, force_error_pct, extension_error_pct,
gauge_length_error_mm, width_error_mm, thickness_error_um (bounds of the error).
"""

from __future__ import annotations

import csv
import math
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from itertools import pairwise

import numpy as np

from calcs import units
from calcs.case import CaseError, Interval
from calcs.materials import MATERIALS
from calcs.measurement import Measured, Part, from_limits, from_readings

DIRECTIONS = ("MD", "CD")
TABLE_BAND = (0.7, 1.3)
"""A table's range is widened to this share of its ends before it stands for a product (default, no source)."""
TEMPERATURE_ROOM = 10.0
"""A curve taken further than this from the line's web temperature is flagged, K (default, no source)."""
MOST_AGE = 365
"""A curve older than this is flagged, days (default, no source)."""
_NEEDED = ("direction", "temperature_c", "date", "gauge_length_mm", "width_mm", "thickness_um")
_ERRORS = {
    "force_error_pct": 1.0,
    "extension_error_pct": 1.0,
    "gauge_length_error_mm": 0.5,
    "width_error_mm": 0.1,
    "thickness_error_um": 1.0,
}
"""Bounds assumed when not given: machine class 1 of ISO 7500-1 and 9513, 1 um by ISO 4593 (from memory), 0.5 and
0.1 mm for a cut strip (default, no source)."""
_LEAST_ROWS = 4


@dataclass(frozen=True, slots=True)
class Strip:
    """One pulled strip: lengths m, temperature K, ``errors`` as bounds by name, curve as strain and N."""

    name: str
    direction: str
    temperature: float
    day: date
    gauge_length: float
    width: float
    thickness: float
    preload: float
    errors: dict[str, float]
    assumed: tuple[str, ...]
    extension: tuple[float, ...]
    force: tuple[float, ...]


@dataclass(frozen=True, slots=True)
class WebModulus:
    """A modulus for a case, Pa.

    ``strain`` is the line strain it holds at; ``table`` says that nothing was measured on this product. ``flags``
    are sentences that belong beside every result made with it.
    """

    direction: str
    table: bool
    measured: Measured | None
    span: Interval
    strain: float | None
    temperature: float | None
    day: date | None
    flags: tuple[str, ...]

    def as_input(self) -> dict[str, float] | list[float]:
        """Value for ``modulus_md_mpa``: mean and sd when measured, a range from a table."""
        if self.measured is not None:
            return self.measured.as_spread("modulus_md_mpa")
        return [self.span.low / units.MPA, self.span.high / units.MPA]


def _number(name: str, key: str, text: str) -> float:
    try:
        value = float(text.strip().replace(",", "."))
    except ValueError:
        value = math.nan
    if not math.isfinite(value):
        raise CaseError(f"{name}.{key}", f"{name}: {key} is '{text.strip()}', which is no number; write digits only.")
    return value


def _header(name: str, lines: Sequence[str]) -> dict[str, str]:
    found = {}
    for line in lines:
        key, colon, value = line.lstrip("#").partition(":")
        if colon:
            found[key.strip().lower()] = value.strip()
    known = {*_NEEDED, *_ERRORS, "preload_n"}
    for key in found:
        if key not in known:
            raise CaseError(f"{name}.{key}", f"{name}: {key} is not known; it takes {', '.join(sorted(known))}.")
    for key in _NEEDED:
        if not found.get(key):
            raise CaseError(
                f"{name}.{key}", f"{name}: {key} is missing; add the line '# {key}: ...' from the test sheet."
            )
    return found


def _rows(name: str, lines: Sequence[str]) -> tuple[list[float], list[float]]:
    if not lines:
        raise CaseError(name, f"{name} has no columns; it needs extension_mm and force_n.")
    mark = ";" if ";" in lines[0] else ","
    table = [[cell.strip() for cell in row] for row in csv.reader(lines, delimiter=mark)]
    head = [cell.lower() for cell in table[0]]
    for column in ("extension_mm", "force_n"):
        if column not in head:
            raise CaseError(
                f"{name}.{column}", f"{name}: the column {column} is missing; name both columns in one line."
            )
    at = head.index("extension_mm"), head.index("force_n")
    for row in table[1:]:
        if len(row) != len(head):
            raise CaseError(
                name, f"{name} has a row with {len(row)} entries under {len(head)} columns; check that row."
            )
    pairs = [(_number(name, "extension_mm", row[at[0]]), _number(name, "force_n", row[at[1]])) for row in table[1:]]
    extension, force = [pair[0] for pair in pairs], [pair[1] for pair in pairs]
    if len(pairs) < _LEAST_ROWS:
        raise CaseError(name, f"{name} has {len(pairs)} rows; a curve needs at least {_LEAST_ROWS}.")
    if any(later <= before for before, later in pairwise(extension)):
        raise CaseError(f"{name}.extension_mm", f"{name}: extension_mm must rise from row to row; keep the pull only.")
    return extension, force


def read_strip(text: str, name: str = "curve") -> Strip:
    """Read one force-extension curve.

    Parameters
    ----------
    text
        As in the module's example.
    name
        For messages, for example the file name.

    Raises
    ------
    CaseError
        Names what is missing or wrong.
    """
    lines = [line for line in text.lstrip("\ufeff").splitlines() if line.strip()]
    found = _header(name, [line for line in lines if line.startswith("#")])
    extension, force = _rows(name, [line for line in lines if not line.startswith("#")])
    direction = found["direction"].upper()
    if direction not in DIRECTIONS:
        raise CaseError(f"{name}.direction", f"{name}: direction is '{found['direction']}'; write MD or CD.")
    try:
        day = date.fromisoformat(found["date"])
    except ValueError:
        raise CaseError(f"{name}.date", f"{name}: date is '{found['date']}'; write year-month-day.") from None
    sizes = {key: _number(name, key, found[key]) for key in ("gauge_length_mm", "width_mm", "thickness_um")}
    for key, value in sizes.items():
        if value <= 0:
            raise CaseError(f"{name}.{key}", f"{name}: {key} must be above zero; measure the strip.")
    errors = {key: _number(name, key, found[key]) if key in found else usual for key, usual in _ERRORS.items()}
    return Strip(
        name=name,
        direction=direction,
        temperature=_number(name, "temperature_c", found["temperature_c"]) + units.ZERO_CELSIUS,
        day=day,
        gauge_length=sizes["gauge_length_mm"] * units.MM,
        width=sizes["width_mm"] * units.MM,
        thickness=sizes["thickness_um"] * units.UM,
        preload=_number(name, "preload_n", found["preload_n"]) if "preload_n" in found else 0.0,
        errors=errors,
        assumed=tuple(key for key in _ERRORS if key not in found),
        extension=tuple(value * units.MM for value in extension),
        force=tuple(force),
    )


def _extension_at(strip: Strip, force: float, what: str) -> float:
    """Extension at which the curve first reaches a force, straight between its rows."""
    forces, places = strip.force, strip.extension
    if force <= forces[0]:
        return places[0]
    for before in range(len(forces) - 1):
        low, high = forces[before], forces[before + 1]
        if low <= force <= high and high > low:
            return places[before] + (force - low) / (high - low) * (places[before + 1] - places[before])
    raise CaseError(
        f"{strip.name}.force_n",
        f"{strip.name} ends at {max(forces):.3g} N but the {what} needs {force:.3g} N; pull the strip further.",
    )


def _secant(strip: Strip, tension: float) -> tuple[float, float]:
    """Secant modulus and strain of one strip at a line tension, N/m."""
    force = tension * strip.width
    start = max(strip.preload, strip.force[0])
    if force <= 2 * start:
        raise CaseError(
            f"{strip.name}.preload_n",
            f"{strip.name} starts at {start:.3g} N, too near the {force:.3g} N of the line; use a smaller preload.",
        )
    strain = (_extension_at(strip, force, "line tension") - _extension_at(strip, start, "preload")) / strip.gauge_length
    modulus = (force - start) / (strip.width * strip.thickness) / strain
    return modulus, strain * force / (force - start)


def _budget(strip: Strip, modulus: float, strain: float) -> list[Part]:
    errors = strip.errors
    relative = {
        "force": errors["force_error_pct"] * units.PCT,
        "extension": errors["extension_error_pct"] * units.PCT,
        "gauge length": errors["gauge_length_error_mm"] * units.MM / strip.gauge_length,
        "width": errors["width_error_mm"] * units.MM / strip.width,
        "thickness": errors["thickness_error_um"] * units.UM / strip.thickness,
    }
    return [Part(name, modulus * from_limits(share)) for name, share in relative.items()]


def secant_modulus(
    strips: Sequence[Strip],
    tension: Interval,
    *,
    direction: str = "MD",
    web_temperature: float | None = None,
    at: date | None = None,
) -> WebModulus:
    """Secant modulus at the line strain.

    Parameters
    ----------
    strips
        Curves of one product in one direction, one or more.
    tension
        Line tension, N/m; a range widens the answer by how much the secant changes over it.
    direction
        Direction wanted.
    web_temperature
        Of the web on the line, K, to be compared with the test's.
    at
        Today, to tell the age of the curve.

    Returns
    -------
    WebModulus
        Mean over the strips. Its budget: the errors of force, extension, gauge length, width and thickness (common
        to all strips), the scatter of the strips, and the tension range.

    Raises
    ------
    CaseError
        Wrong direction, or a curve that does not reach the line tension.

    Notes
    -----
    E = (s_line - s_0)/(e_line - e_0), s = F/(w h), e = extension/gauge length, 0 at the preload. The line pulls a
    web so little that a modulus from the steep start or from yield would mislead.
    """
    if not strips:
        raise CaseError("curve", "There is no curve; add the force-extension file of at least one strip.")
    for strip in strips:
        if strip.direction != direction:
            raise CaseError(
                f"{strip.name}.direction",
                f"{strip.name} was pulled in {strip.direction}; the {direction} modulus needs strips cut along it.",
            )
    values = [_secant(strip, tension.nominal) for strip in strips]
    mean = sum(value for value, _ in values) / len(values)
    strain = sum(found for _, found in values) / len(values)
    measured = Measured(mean, tuple(_budget(strips[0], mean, strain)))
    if len(strips) > 1:
        measured = measured.plus(*from_readings("strips", [value for value, _ in values]).parts)
    if not tension.is_point:
        ends = [_secant(strip, pull)[0] for strip in strips for pull in (tension.low, tension.high)]
        measured = measured.plus(Part("tension range", from_limits((max(ends) - min(ends)) / 2)))
    span = Interval(mean - 3 * measured.u, mean, mean + 3 * measured.u, measured.u)
    flags = tuple(_flags(strips, web_temperature, at))
    first = strips[0]
    return WebModulus(direction, False, measured, span, strain, first.temperature, first.day, flags)


def _flags(strips: Sequence[Strip], web_temperature: float | None, at: date | None) -> list[str]:
    said = []
    test = strips[0].temperature
    if web_temperature is not None and abs(web_temperature - test) > TEMPERATURE_ROOM:
        said.append(
            f"The strip was pulled at {test - units.ZERO_CELSIUS:.0f} °C but the web runs at "
            f"{web_temperature - units.ZERO_CELSIUS:.0f} °C: pull strips at the temperature of the line."
        )
    oldest = min(strip.day for strip in strips)
    if at is not None and (at - oldest).days > MOST_AGE:
        said.append(f"The curve is of {oldest.isoformat()}, older than a year: pull new strips.")
    if len(strips) == 1:
        said.append("One strip only: the scatter of the product is not in the uncertainty; pull at least five.")
    assumed = sorted({key for strip in strips for key in strip.assumed})
    if assumed:
        said.append(f"Assumed, not given: {', '.join(assumed)}.")
    return said


def table_modulus(material: str) -> WebModulus:
    """Modulus of a web family from the table: a wide band, and flagged.

    Raises
    ------
    CaseError
        A family that the table does not have.
    """
    found = MATERIALS.get(material)
    if found is None:
        raise CaseError("material", f"'{material}' is not in the table; it has: {', '.join(MATERIALS)}.")
    low, high = found.modulus[0] * TABLE_BAND[0], found.modulus[1] * TABLE_BAND[1]
    flag = (
        f"Table value for {material}, not measured on this product ({found.source}): the band is wide, so a verdict "
        "may be *cannot tell*. Pull strips at line strain and temperature to settle it."
    )
    return WebModulus("MD", True, None, Interval(low, (low + high) / 2, high), None, None, None, (flag,))


def line_strain_rows(strip: Strip, tensions: Sequence[float]) -> list[tuple[float, float, float]]:
    """(tension N/m, strain, secant modulus Pa) over line tensions, to see how far from straight the curve is."""
    rows = [(tension, *reversed(_secant(strip, float(tension)))) for tension in np.asarray(tensions, float)]
    return [(float(tension), strain, modulus) for tension, strain, modulus in rows]
