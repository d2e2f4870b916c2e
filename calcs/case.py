"""The question asked of the calculation: one web, its state, one roller, the tape and its bands.

:func:`parse_case` reads the public CASE form (units in the names) into frozen SI dataclasses. Every number may
be a plain number, a range ``[low, high]`` or ``{"mean": m, "sd": s}`` (a normal spread, cut at 3 sd).
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, field
from functools import lru_cache
from typing import Any

from calcs import units


class CaseError(ValueError):
    """Input that cannot be used.

    Attributes
    ----------
    field : str
        Dotted name, for example ``web.thickness_um``.
    sentence : str
        What is wrong and what to do, naming the field.
    """

    def __init__(self, field: str, sentence: str) -> None:
        super().__init__(sentence)
        self.field = field
        self.sentence = sentence


@dataclass(frozen=True, slots=True)
class Interval:
    """A number with its range: lowest, nominal (midpoint or mean) and highest value, all SI.

    ``sd`` is set when the number was given as mean and standard deviation.
    """

    low: float
    nominal: float
    high: float
    sd: float | None = None

    @classmethod
    def point(cls, value: float) -> Interval:
        """An interval of no width."""
        return cls(value, value, value)

    @property
    def is_point(self) -> bool:
        """True when low and high are the same."""
        return self.low == self.high

    def __float__(self) -> float:
        return self.nominal


@dataclass(frozen=True, slots=True)
class Web:
    """The web. SI: m, Pa, 1, m; strains as a share (not percent)."""

    width: Interval
    thickness: Interval
    modulus_md: Interval
    modulus_cd: Interval
    poisson_md: Interval
    shear: Interval | None
    yield_strain: Interval | None
    roughness: Interval
    porous: bool
    wander: Interval


@dataclass(frozen=True, slots=True)
class State:
    """Operating state: tension per width N/m, speed m/s, air temperature K."""

    tension: Interval
    speed: Interval
    air_temp: Interval


@dataclass(frozen=True, slots=True)
class Roller:
    """The bare roller: m, rad, m, 1, m/m, K. ``kind`` is a word of ``ROLLER_KINDS`` or None."""

    diameter: Interval
    face: Interval
    wrap: Interval
    entry_span: Interval
    roughness: Interval
    friction: Interval
    misalignment: Interval
    kind: str | None
    surface_temp: Interval | None


@dataclass(frozen=True, slots=True)
class Tape:
    """One layer of tape as applied: m, m, m, 1 (None: same as the roller), K."""

    thickness: Interval
    width: Interval | None
    roughness: Interval
    friction: Interval | None
    max_temp: Interval | None


@dataclass(frozen=True, slots=True)
class Band:
    """A band of tape: end ``operator`` or ``drive``; edges from the roller centre, m; whole wraps."""

    end: str
    inner: float
    outer: float
    wraps: int


@dataclass(frozen=True, slots=True)
class Case:
    """One web on one roller with its tape, all SI."""

    web: Web
    state: State
    roller: Roller
    tape: Tape | None = None
    bands: tuple[Band, ...] = field(default=())


ROLLER_KINDS = (
    "idler",
    "nip",
    "coating",
    "print",
    "embossing",
    "laminating",
    "chill",
    "oven",
    "vacuum",
    "speed reference",
    "driven",
    "load cell",
    "steering",
    "winder drum",
    "bowed",
    "profiled",
)
"""Roller kinds that a case may name. Which of them are never taped is a limit, not fixed here."""

MOST_BANDS = 64
"""More than any roller carries; keeps a case from costing minutes (a default of ours, no source)."""

_ANY = (-math.inf, math.inf)
_WEB = {
    "width_mm": (30, 8000),
    "thickness_um": (5, 1000),
    "modulus_md_mpa": (1, 250_000),
    "modulus_cd_mpa": (1, 250_000),
    "poisson_md": (0, 5),
    "shear_mpa": (0.01, 250_000),
    "yield_strain_pct": (0.001, 1000),
    "roughness_um": (0, 60),
    "wander_mm": (0, 30),
}
_STATE = {"tension_n_per_m": (5, 1500), "speed_m_per_min": (1, 1500), "air_temp_c": (-50, 200)}
_ROLLER = {
    "diameter_mm": (30, 800),
    "face_mm": (30, 10_000),
    "wrap_deg": (10, 220),
    "entry_span_mm": (10, 50_000),
    "roughness_um": (0, 60),
    "friction": (0.05, 1),
    "misalignment_mm_per_m": (-50, 50),
    "surface_temp_c": (-100, 500),
}
_TAPE = {
    "thickness_mm": (0.03, 0.30),
    "width_mm": (6, 150),
    "roughness_um": (0, 60),
    "friction": (0.05, 1),
    "max_temp_c": (-100, 500),
}
_BAND = {"inner_mm": (0, 5000), "outer_mm": (0, 5000), "wraps": (0, 100)}
BOUNDS = {"web": _WEB, "state": _STATE, "roller": _ROLLER, "tape": _TAPE, "bands": _BAND}
"""Accepted ranges, in the units of the names: the field limits of the trade form (defaults, no source)."""

_SUFFIXES = (
    ("_n_per_m", 1.0, 0.0),
    ("_m_per_min", units.M_PER_MIN, 0.0),
    ("_mm_per_m", units.MM_PER_M, 0.0),
    ("_mpa", units.MPA, 0.0),
    ("_mm", units.MM, 0.0),
    ("_um", units.UM, 0.0),
    ("_pct", units.PCT, 0.0),
    ("_deg", units.DEG, 0.0),
    ("_c", 1.0, units.ZERO_CELSIUS),
)


@lru_cache(maxsize=256)
def _factor(key: str) -> tuple[float, float]:
    for suffix, factor, zero in _SUFFIXES:
        if key.endswith(suffix):
            return factor, zero
    return 1.0, 0.0


def display_value(key: str, si: float) -> float:
    """SI value in the unit that the CASE name ``key`` carries (``wrap_deg`` gives degrees)."""
    factor, zero = _factor(key)
    return (si - zero) / factor


def _plain(name: str, value: Any) -> float:
    if isinstance(value, bool) or not isinstance(value, int | float):
        shown = {dict: "a group", list: "a list", str: "text", bool: "yes or no", type(None): "empty"}
        kind = shown.get(type(value), "something else")
        raise CaseError(name, f"{name} must be a number but is {kind}; write digits without quotes or a unit.")
    try:
        number = float(value)
    except OverflowError:
        number = math.inf
    if not math.isfinite(number):
        raise CaseError(name, f"{name} is not a finite number; give the measured value or leave the case out.")
    return number


def _ends(name: str, value: Any) -> tuple[float, float, float, float | None]:
    if isinstance(value, list | tuple):
        if len(value) != 2:
            raise CaseError(name, f"{name} is a range with {len(value)} entries; write [low, high].")
        low, high = (_plain(name, entry) for entry in value)
        if low > high:
            raise CaseError(name, f"{name} runs from {low:g} down to {high:g}; write the lower value first.")
        return low, (low + high) / 2, high, None
    if isinstance(value, Mapping):
        if set(value) != {"mean", "sd"}:
            raise CaseError(name, f'{name} as a spread needs exactly "mean" and "sd".')
        mean, sd = _plain(f"{name}.mean", value["mean"]), _plain(f"{name}.sd", value["sd"])
        if sd < 0:
            raise CaseError(name, f"{name} has a negative sd; a standard deviation is zero or more.")
        return mean - 3 * sd, mean, mean + 3 * sd, sd
    number = _plain(name, value)
    return number, number, number, None


def _bounded(name: str, low: float, high: float, bounds: tuple[float, float], spread: bool = False) -> None:
    least, most = bounds
    if spread and (low < least or high > most):
        raise CaseError(
            name,
            f"{name} spreads from {low:g} to {high:g} at 3 sd, outside {least:g} to {most:g}; give a smaller sd "
            "or a [low, high] range.",
        )
    if low < 0 <= least:
        raise CaseError(name, f"{name} is negative ({low:g}); it must be {least:g} to {most:g}.")
    if low < least or high > most:
        outside = low if low < least else high
        raise CaseError(
            name,
            f"{name} is {outside:g}, outside {least:g} to {most:g}; check the number and its unit, "
            "the name of the field says which unit is meant.",
        )


class _Section:
    """Reads the keys of one part of the case, so that each refusal can name its field."""

    def __init__(self, name: str, content: Any, bounds: Mapping[str, tuple[float, float]], extra: str = "") -> None:
        if not isinstance(content, Mapping):
            raise CaseError(name, f"{name} must be a group of named values in braces.")
        known = [*bounds, *extra.split()]
        for key in content:
            if key not in known:
                raise CaseError(
                    f"{name}.{key}", f"{name}.{key} is not a known field; {name} takes: {', '.join(known)}."
                )
        self.name, self.content, self.bounds = name, content, bounds

    def interval(self, key: str) -> Interval:
        """A required number."""
        name = f"{self.name}.{key}"
        if self.content.get(key) is None:
            raise CaseError(name, f"{name} is missing; measure it or take it from the product or roller sheet.")
        low, nominal, high, sd = _ends(name, self.content[key])
        _bounded(name, low, high, self.bounds[key], sd is not None)
        factor, zero = _factor(key)
        spread = None if sd is None else sd * factor
        return Interval(low * factor + zero, nominal * factor + zero, high * factor + zero, spread)

    def optional(self, key: str) -> Interval | None:
        """A number that may be left out."""
        return None if self.content.get(key) is None else self.interval(key)

    def default(self, key: str, value: float) -> Interval:
        """A number that has a stated default (SI) when left out."""
        found = self.optional(key)
        return Interval.point(value) if found is None else found

    def single(self, key: str) -> float:
        """A number that may not be a range, as typed."""
        name = f"{self.name}.{key}"
        if isinstance(self.content.get(key), list | tuple | Mapping):
            raise CaseError(name, f"{name} must be one number: a recipe says where the band goes, not a range.")
        if self.content.get(key) is None:
            raise CaseError(name, f"{name} is missing; take it from the recipe.")
        value = _plain(name, self.content[key])
        _bounded(name, value, value, self.bounds[key])
        return value


def _web(content: Any) -> Web:
    part = _Section("web", content, _WEB, "porous")
    modulus = part.interval("modulus_md_mpa")
    porous = part.content.get("porous")
    if porous is not None and not isinstance(porous, bool):
        raise CaseError("web.porous", "web.porous must be true or false.")
    web = Web(
        width=part.interval("width_mm"),
        thickness=part.interval("thickness_um"),
        modulus_md=modulus,
        modulus_cd=part.optional("modulus_cd_mpa") or modulus,
        poisson_md=part.default("poisson_md", 0.3),
        shear=part.optional("shear_mpa"),
        yield_strain=part.optional("yield_strain_pct"),
        roughness=part.default("roughness_um", 0.0),
        porous=bool(porous),
        wander=part.default("wander_mm", 0.0),
    )
    if web.poisson_md.nominal**2 >= web.modulus_md.nominal / web.modulus_cd.nominal:
        raise CaseError(
            "web.poisson_md",
            "web.poisson_md is too large for these two moduli: its square must stay below "
            "modulus_md / modulus_cd, or no real web behaves so; check which direction is MD.",
        )
    return web


def _roller(content: Any) -> Roller:
    part = _Section("roller", content, _ROLLER, "kind")
    kind = part.content.get("kind")
    if kind is not None:
        spelled = str(kind).strip().lower().replace("_", " ").replace("-", " ")
        if not isinstance(kind, str) or spelled not in ROLLER_KINDS:
            raise CaseError("roller.kind", f"roller.kind '{kind}' is not known; use: {', '.join(ROLLER_KINDS)}.")
        kind = spelled
    return Roller(
        diameter=part.interval("diameter_mm"),
        face=part.interval("face_mm"),
        wrap=part.interval("wrap_deg"),
        entry_span=part.interval("entry_span_mm"),
        roughness=part.interval("roughness_um"),
        friction=part.interval("friction"),
        misalignment=part.default("misalignment_mm_per_m", 0.0),
        kind=kind,
        surface_temp=part.optional("surface_temp_c"),
    )


def _state(content: Any) -> State:
    part = _Section("state", content, _STATE)
    return State(
        tension=part.interval("tension_n_per_m"),
        speed=part.interval("speed_m_per_min"),
        air_temp=part.default("air_temp_c", 20 + units.ZERO_CELSIUS),
    )


def _tape(content: Any) -> Tape | None:
    if content is None or content == {}:
        return None
    part = _Section("tape", content, _TAPE)
    return Tape(
        thickness=part.interval("thickness_mm"),
        width=part.optional("width_mm"),
        roughness=part.interval("roughness_um"),
        friction=part.optional("friction"),
        max_temp=part.optional("max_temp_c"),
    )


def _band(name: str, content: Any) -> Band:
    part = _Section(name, content, _BAND, "end")
    end = part.content.get("end")
    if end in ("left", "right"):
        raise CaseError(
            f"{name}.end",
            f"{name}.end says '{end}', which depends on where one stands; write operator or drive.",
        )
    if end not in ("operator", "drive"):
        raise CaseError(f"{name}.end", f"{name}.end must be operator or drive.")
    wraps = part.single("wraps")
    if wraps != int(wraps):
        raise CaseError(f"{name}.wraps", f"{name}.wraps is {wraps:g}; tape goes on in whole wraps.")
    inner, outer = part.single("inner_mm"), part.single("outer_mm")
    if inner >= outer:
        raise CaseError(
            f"{name}.outer_mm",
            f"{name}.outer_mm must be larger than inner_mm: both are measured outward from the roller centre.",
        )
    return Band(end, inner * units.MM, outer * units.MM, int(wraps))


def parse_case(content: Any) -> Case:
    """Read a case in its public form.

    Parameters
    ----------
    content
        The decoded CASE: ``web``, ``state`` and ``roller`` required, ``tape`` and ``bands`` optional.
        Null stands for *left out*.

    Returns
    -------
    Case
        Frozen, SI.

    Raises
    ------
    CaseError
        Names the field and says what to do.
    """
    if not isinstance(content, Mapping):
        raise CaseError("case", "The case must be a group with web, state and roller in braces.")
    parts = ("web", "state", "roller", "tape", "bands")
    for key in content:
        if key not in parts:
            raise CaseError(str(key), f"{key} is not a known part of a case; it takes: {', '.join(parts)}.")
    for key in parts[:3]:
        if content.get(key) is None:
            raise CaseError(key, f"{key} is missing; a case needs web, state and roller.")
    rows = content.get("bands") or []
    if not isinstance(rows, list | tuple):
        raise CaseError("bands", "bands must be a list; write [] for a bare roller.")
    if len(rows) > MOST_BANDS:
        raise CaseError("bands", f"There are {len(rows)} bands; at most {MOST_BANDS} fit on a roller. Check the list.")
    bands = tuple(_band(f"bands[{number}]", row) for number, row in enumerate(rows))
    tape = _tape(content.get("tape"))
    if tape is None and any(band.wraps for band in bands):
        raise CaseError("tape", "tape is missing but bands carry wraps; say which tape, or set the wraps to 0.")
    return Case(_web(content["web"]), _state(content["state"]), _roller(content["roller"]), tape, bands)
