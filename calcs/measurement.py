"""How sure is a measured diameter or tape thickness: standard uncertainties by the GUM, and what they decide.

A reading becomes a :class:`Measured`, a value with its uncertainty budget; :meth:`Measured.as_spread` puts it into
a case as mean and sd, so that it flows into corners, verdict and drawn samples.

References
----------
JCGM 100:2008 (the GUM); clause numbers from memory, not checked.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from scipy.special import stdtrit

from calcs.case import CaseError, display_value
from calcs.readings import CANNOT_TELL, FITS, REFUSED

COVERAGE = 2.0
"""Factor k of an expanded uncertainty U = k u of about 95 % (BIPM uncertainty policy)."""
STEEL_EXPANSION = 11.5e-6
"""Thermal expansion of a steel measuring tape, 1/K (from memory, not checked)."""
REFERENCE_TEMPERATURE = 293.15
"""20 degrees Celsius, the reference temperature of dimensional measurement (ISO 1), K."""
PI_TAPE_LIMIT = 0.03e-3
"""Trade figure for the error of a metric pi tape, on the diameter, m (a public article on measuring diameters)."""


@dataclass(frozen=True, slots=True)
class Part:
    """One line of an uncertainty budget: what, its standard uncertainty as it counts in the result, its freedom."""

    name: str
    u: float
    freedom: float = math.inf


@dataclass(frozen=True, slots=True)
class Measured:
    """A value (SI) with its uncertainty budget."""

    value: float
    parts: tuple[Part, ...]

    @property
    def u(self) -> float:
        """Combined standard uncertainty, the root of the sum of squares (GUM 5.1.2)."""
        return math.sqrt(sum(part.u**2 for part in self.parts))

    @property
    def expanded(self) -> float:
        """U = 2 u, about 95 %."""
        return COVERAGE * self.u

    @property
    def freedom(self) -> float:
        """Effective degrees of freedom by Welch and Satterthwaite (GUM G.4.1)."""
        spread = sum(part.u**4 / part.freedom for part in self.parts if part.u)
        return self.u**4 / spread if spread else math.inf

    def expanded_at(self, level: float) -> float:
        """Expanded uncertainty for a two-sided level such as 0.99, with the t factor of the freedom.

        The freedom is cut to a whole number first (GUM G.4.1).
        """
        freedom = self.freedom
        freedom = math.floor(freedom) if math.isfinite(freedom) else 1e9
        return float(stdtrit(max(1.0, freedom), (1 + level) / 2)) * self.u

    def as_spread(self, key: str) -> dict[str, float]:
        """Mean and sd in the unit of a name of the case form, for example ``diameter_mm``."""
        unit = display_value(key, 1.0) - display_value(key, 0.0)
        return {"mean": display_value(key, self.value), "sd": self.u * unit}

    def plus(self, *parts: Part) -> Measured:
        """The same value with more lines in its budget."""
        return Measured(self.value, (*self.parts, *parts))


def from_resolution(step: float) -> float:
    """Standard uncertainty of a reading in steps of ``step``: step / sqrt(12), 0.29 step (GUM 4.3.7, F.2.2.1)."""
    return step / math.sqrt(12)


def from_limits(half_width: float) -> float:
    """Standard uncertainty when only bounds of the error are known: half width / sqrt(3) (GUM 4.3.7)."""
    return half_width / math.sqrt(3)


def from_expanded(expanded: float, factor: float = COVERAGE) -> float:
    """Standard uncertainty of a certificate that states an expanded uncertainty with its factor k (GUM 4.3.3)."""
    return expanded / factor


def from_readings(name: str, readings: Sequence[float]) -> Measured:
    """Mean of repeated readings with the standard deviation of the mean (GUM 4.2).

    Raises
    ------
    CaseError
        Fewer than two readings.
    """
    if len(readings) < 2:
        raise CaseError(name, f"{name} has {len(readings)} readings; repeat the measurement at least once.")
    values = np.asarray(readings, float)
    spread = float(values.std(ddof=1)) / math.sqrt(values.size)
    return Measured(float(values.mean()), (Part(f"{name}, repeated readings", spread, values.size - 1),))


@dataclass(frozen=True, slots=True)
class TapeReading:
    """How a circumference tape was used; temperatures K, lengths m, expansions 1/K.

    ``thickness`` is that of a tape which reads along its outer face and is not self-correcting, else 0.
    ``temperature_limit`` bounds how far roller and tape may be from the temperatures named.
    """

    resolution: float
    thickness: float = 0.0
    limit: float = PI_TAPE_LIMIT
    roller_temperature: float = REFERENCE_TEMPERATURE
    tape_temperature: float = REFERENCE_TEMPERATURE
    temperature_limit: float = 2.0
    roller_expansion: float = STEEL_EXPANSION
    tape_expansion: float = STEEL_EXPANSION


def diameter_from_circumference(readings: Sequence[float], tape: TapeReading) -> Measured:
    """Roller diameter at 20 degrees Celsius from a circumference tape.

    Parameters
    ----------
    readings
        Circumferences as read, m; one or more.
    tape
        The tape and the temperatures.

    Returns
    -------
    Measured
        With lines for resolution, tape, temperature and, from two readings on, repetition.

    Raises
    ------
    CaseError
        No reading, or one that leaves no diameter.

    Notes
    -----
    The tape bends about its own middle at D + t, so D = C/pi - t: its thickness comes off once. A warm tape reads
    short by its expansion, a warm roller is larger; of the same metal and temperature the two cancel.

    Examples
    --------
    >>> found = diameter_from_circumference([0.62832], TapeReading(resolution=0.1e-3))
    >>> round(found.value * 1e3, 3), round(found.expanded * 1e3, 3)
    (200.0, 0.04)
    """
    if not readings:
        raise CaseError("circumference", "circumference has no reading; wrap the tape once and read it.")
    repeated = from_readings("circumference", readings) if len(readings) > 1 else Measured(readings[0], ())
    warm_tape = 1 + tape.tape_expansion * (tape.tape_temperature - REFERENCE_TEMPERATURE)
    warm_roller = 1 + tape.roller_expansion * (tape.roller_temperature - REFERENCE_TEMPERATURE)
    diameter = (repeated.value / math.pi * warm_tape - tape.thickness) / warm_roller
    if not diameter > 0:
        raise CaseError("circumference", "circumference is too small for this tape; check the reading and its unit.")
    off = from_limits(tape.temperature_limit)
    parts = [
        Part("resolution", from_resolution(tape.resolution) / math.pi),
        Part("tape", from_limits(tape.limit)),
        Part("temperature of the roller", diameter * tape.roller_expansion * off),
        Part("temperature of the tape", diameter * tape.tape_expansion * off),
        *(Part(part.name, part.u / math.pi, part.freedom) for part in repeated.parts),
    ]
    return Measured(diameter, tuple(parts))


def at_temperature(measured: Measured, expansion: float, start: float, end: float) -> Measured:
    """A length measured at ``start`` K as it is at ``end`` K; expansion 1/K."""
    factor = (1 + expansion * (end - REFERENCE_TEMPERATURE)) / (1 + expansion * (start - REFERENCE_TEMPERATURE))
    return Measured(measured.value * factor, tuple(Part(p.name, p.u * factor, p.freedom) for p in measured.parts))


def thickness_from_stack(
    name: str, readings: Sequence[float], layers: int, resolution: float, limit: float
) -> Measured:
    """Thickness of one layer of tape from readings over a stack of layers.

    Parameters
    ----------
    name
        Of the field, for messages.
    readings
        Gauge readings over the stack, m, two or more.
    layers
        Layers in the stack.
    resolution, limit
        Step and error bound of the gauge, m.

    Returns
    -------
    Measured
        Reading, resolution and gauge error all shrink with the layers; a press-on gauge gives a lower bound of
        the layer under a web, which presses less.
    """
    if layers < 1:
        raise CaseError(name, f"{name} is measured over {layers} layers; lay at least one.")
    stack = from_readings(name, readings)
    parts = [*stack.parts, Part("resolution", from_resolution(resolution)), Part("gauge", from_limits(limit))]
    return Measured(stack.value / layers, tuple(Part(p.name, p.u / layers, p.freedom) for p in parts))


def diameter_over_tape(bare: Measured, layer: Measured, layers: int) -> Measured:
    """Diameter over ``layers`` layers: D + 2 n t, with u^2 = u_D^2 + (2 n u_t)^2 (all layers of one lot)."""
    grown = tuple(Part(f"layer: {part.name}", 2 * layers * part.u, part.freedom) for part in layer.parts)
    return Measured(bare.value + 2 * layers * layer.value, (*bare.parts, *grown))


def build_from_diameters(bare: Measured, over: Measured) -> Measured:
    """Height of the tape from diameters before and after, (D' - D)/2.

    Each diameter's budget counts in full, as for two gauges; with one and the same gauge its own error cancels, so
    this is on the safe side.
    """
    parts = (*bare.parts, *over.parts)
    return Measured((over.value - bare.value) / 2, tuple(Part(p.name, p.u / 2, p.freedom) for p in parts))


def decide(measured: Measured, limit: float, at_most: bool = True) -> tuple[str, str]:
    """Whether a measured value keeps a limit, with its uncertainty as a guard band.

    Returns
    -------
    tuple of str
        Word and sentence. *fits* and *refused* only where the margin exceeds U; between them *cannot tell*.

    Notes
    -----
    The guard-band idea of JCGM 106 (from memory, not checked).
    """
    margin = limit - measured.value if at_most else measured.value - limit
    expanded = measured.expanded
    if margin > expanded or (expanded == 0 and margin == 0):
        return FITS, f"Fits: the margin {margin:.3g} exceeds the uncertainty U = {expanded:.3g} (k = 2)."
    if margin < -expanded:
        return (
            REFUSED,
            f"Refused: past the limit by {-margin:.3g}, more than the uncertainty U = {expanded:.3g} (k = 2).",
        )
    return CANNOT_TELL, (
        f"Cannot tell: the value is {abs(margin):.3g} {'inside' if margin >= 0 else 'past'} the limit, the uncertainty "
        f"U = {expanded:.3g} (k = 2) is larger; repeat the reading or use a finer gauge."
    )
