"""Limits are settings: each has a value, a unit and a source tag, and the whole set has a version.

A plant keeps its own set (``Limits.from_dict`` of what ``as_dict`` gave); nothing in the checks is hard-wired.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Any, TypeAlias

Numbers: TypeAlias = Any
"""A float or an array of floats; the answer has the same shape, of booleans."""


class LimitError(ValueError):
    """A limit set that cannot be used; the message names the limit."""


@dataclass(frozen=True, slots=True)
class Limit:
    """A caution and a refuse limit in ``unit``; None where there is none.

    ``sense`` is ``max`` (the value may not exceed it) or ``min`` (may not fall below it).
    ``target`` is what sizing aims at, never a limit. ``touching``: the refuse limit itself already fails.
    """

    title: str
    unit: str
    caution: float | None
    refuse: float | None
    source: str
    sense: str = "max"
    target: float | None = None
    touching: bool = False

    def breaks(self, value: Numbers, level: float | None) -> Numbers:
        """Whether ``value`` (a number or an array) is past ``level``, one of the two limits; None never is."""
        if level is None:
            return False
        past = value > level + ROUNDING if self.sense == "max" else value < level - ROUNDING
        return past | (value == level) if self.touching else past


ROUNDING = 1e-9
"""A value on its limit passes; converting units must not turn it into a failure."""

_DEFAULT = "our default, the plant may change it"
_TRADE = "common practice of the trade, no source"
_DERIVED = "worked out from elementary mechanics, see README"
_WALKER = "T. Walker 2006 and Ducotey and Good 1999: loss begins at one combined roughness, no grip from three"
_SAG = "T. Walker, roller deflection (2 mil/ft); 0.10: " + _TRADE

_LIMITS: dict[str, Limit] = {
    "edge_ratio": Limit("Edge ratio", "1", 1.6, 2.0, _DEFAULT, target=1.3),
    "centre_loss": Limit("Centre loss", "1", 0.25, 0.40, _DEFAULT, target=0.15),
    "hold": Limit("Hold used round the wrap", "1", 0.8, 1.0, _DEFAULT, target=0.7),
    "lateral_hold": Limit("Lateral hold used", "1", 0.5, 1.0, _DERIVED),
    "hold_and_drag": Limit("Hold and drag together", "1", 1.0, None, _DEFAULT),
    "drag_share": Limit("Idler drag assumed, share of tension", "1", None, 0.05, _TRADE),
    "traction_tape": Limit("Traction left on the tape", "1", None, 0.0, _DERIVED, "min", touching=True),
    "traction_bare": Limit("Traction left on the bare face", "1", None, 0.0, _DERIVED, "min", touching=True),
    "peak_strain": Limit("Peak strain, share of yield strain", "1", 0.5, 0.8, _DEFAULT, target=0.4),
    "wraps": Limit("Wraps", "1", 4, 8, _DEFAULT),
    "build": Limit("Build on the roller", "mm", None, 1.0, _DEFAULT),
    "share_two_low": Limit("Share of web on tape, two ends", "1", 0.10, 0.05, _DEFAULT, "min", target=0.20),
    "share_two_high": Limit("Share of web on tape, two ends", "1", 0.30, 0.40, _DEFAULT, target=0.20),
    "share_one_low": Limit("Share of web on tape, one end", "1", None, 0.03, _DEFAULT, "min", target=0.06),
    "share_one_high": Limit("Share of web on tape, one end", "1", None, 0.15, _DEFAULT, target=0.06),
    "engaged": Limit("Web over the step at its edge", "mm", None, 30, _DEFAULT, "min", target=50),
    "clear_of_step": Limit("Beyond the wander, clear of an untouched step", "mm", None, 5, _DEFAULT, "min"),
    "overhang": Limit("Tape past the web edge, beyond the wander", "mm", None, 5, _DEFAULT, "min", target=20),
    "web_on_face": Limit("Face end past the web edge", "mm", None, 0, _DERIVED, "min"),
    "face_margin": Limit("Tape edge to face end", "mm", None, 3, _DEFAULT, "min"),
    "symmetry": Limit("Difference of the two ends", "mm", 2, None, _DEFAULT),
    "kind": Limit("Roller that is bare by type", "1", None, 0, _DEFAULT),
    "wrap_angle": Limit("Wrap angle", "deg", 60, 45, _DEFAULT, "min"),
    "entry_span": Limit("Entry span over web width", "1", 0.5, None, _TRADE, "min"),
    "temperature_margin": Limit("Tape limit above surface", "K", None, 20, _DEFAULT, "min"),
    "bare_below": Limit("Formula wraps below which the answer is bare", "1", None, 0.5, _DEFAULT, "min"),
    "alignment": Limit(
        "Misalignment (a notice)", "mm/m", 0.10, 0.17, "T. Walker 2009 (0.17 = 2 mil/ft); 0.10: " + _TRADE
    ),
    "line_strain": Limit("Line strain, share of yield (a notice)", "1", 0.20, None, _TRADE),
    # Rows of the cause sheet: what is looked for before tape.
    "cause_sag": Limit("Deflection at full load, per face width", "mm/m", 0.10, 0.17, _SAG),
    "cause_diameter_spread": Limit("Diameter spread across the face", "mm", None, 0.03, _TRADE),
    "cause_diameter_strain": Limit(
        "Diameter spread over diameter, share of the line strain",
        "1",
        None,
        0.1,
        _DERIVED + "; the smaller limit counts",
    ),
    "cause_lane_film": Limit("Baggy lane, film: difference in lay-out length", "%", None, 0.03, _TRADE),
    "cause_lane_paper": Limit("Baggy lane, paper: difference in lay-out length", "%", None, 0.01, _TRADE),
    "cause_air_film": Limit("Air film over combined roughness", "1", 1.0, 3.0, _WALKER),
    "cause_tension_off": Limit("Measured tension off its set-point", "%", None, 10, _DEFAULT),
    "cause_tension_swing": Limit("Swing of the tension", "%", None, 10, _DEFAULT),
    "cause_temperature": Limit("Temperature difference over the face", "K", None, 5, _TRADE),
    "cause_moisture": Limit("Moisture change over the line", "%", None, 1.0, _TRADE),
    "cause_drag": Limit(
        "Idler breakaway drag, share of tension times width",
        "%",
        5,
        100,
        _DEFAULT + "; never more than the wrap carries",
    ),
}
_NEVER = (
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


@dataclass(frozen=True)
class Limits:
    """A versioned set of limits.

    Attributes
    ----------
    version : str
        Name of the set; a stored verdict keeps it.
    values : Mapping of str to Limit
        By name, see ``DEFAULT``.
    never_kinds : tuple of str
        Roller kinds that are bare by type.
    """

    version: str
    values: Mapping[str, Limit]
    never_kinds: tuple[str, ...] = _NEVER

    def __getitem__(self, name: str) -> Limit:
        return self.values[name]

    def refuse(self, name: str) -> float:
        """The refuse limit of ``name``, which must have one."""
        value = self.values[name].refuse
        if value is None:
            raise LimitError(f"The limit {name} needs a refuse value.")
        return value

    def as_dict(self) -> dict[str, Any]:
        """Plain form for storage; :meth:`from_dict` reads it back equal."""
        fields = ("title", "unit", "caution", "refuse", "source", "sense", "target")
        return {
            "version": self.version,
            "never_kinds": list(self.never_kinds),
            "limits": {name: {field: getattr(limit, field) for field in fields} for name, limit in self.values.items()},
        }

    @classmethod
    def from_dict(cls, stored: Mapping[str, Any]) -> Limits:
        """Read a stored set; what it leaves out is as in ``DEFAULT``.

        Parameters
        ----------
        stored
            ``version`` (text), optional ``limits`` {name: {caution, refuse, target, source}} and
            ``never_kinds``.

        Raises
        ------
        LimitError
            Unknown name or key, no number, or a caution limit beyond its refuse limit.
        """
        unknown = set(stored) - {"version", "limits", "never_kinds"}
        version = stored.get("version")
        if unknown or not isinstance(version, str) or not version.strip():
            raise LimitError("A limit set takes version (text), limits and never_kinds, and nothing else.")
        values = dict(_LIMITS)
        for name, change in dict(stored.get("limits") or {}).items():
            if name not in values:
                raise LimitError(f"The limit {name} is not known; known are: {', '.join(_LIMITS)}.")
            values[name] = _changed(name, values[name], change)
        return cls(version, values, tuple(stored.get("never_kinds", _NEVER)))


def _changed(name: str, limit: Limit, change: Mapping[str, Any]) -> Limit:
    fixed = {"title": limit.title, "unit": limit.unit, "sense": limit.sense}
    for key, value in change.items():
        if key in fixed:
            if value != fixed[key]:
                raise LimitError(f"{name}.{key} is fixed as {fixed[key]!r}; only the numbers and the source change.")
        elif key == "source":
            if not isinstance(value, str) or not value.strip():
                raise LimitError(f"{name}.source must say where the number comes from.")
        elif key not in ("caution", "refuse", "target"):
            raise LimitError(f"{name}.{key} is not known; a limit takes caution, refuse, target and source.")
        elif value is not None and (
            isinstance(value, bool) or not isinstance(value, int | float) or not math.isfinite(value) or value < 0
        ):
            raise LimitError(f"{name}.{key} must be a number of zero or more, or null for none.")
    new = replace(limit, **{key: change[key] for key in change if key not in fixed})
    if new.refuse is None and limit.refuse is not None:
        raise LimitError(f"{name}.refuse cannot be taken away; give it a number.")
    if new.caution is not None and new.refuse is not None:
        wrong = new.caution > new.refuse if new.sense == "max" else new.caution < new.refuse
        if wrong:
            raise LimitError(f"{name}: the caution limit must be reached before the refuse limit.")
    return new


DEFAULT = Limits("default 1", _LIMITS)
"""The limits the project ships; every one is a starting point for the plant to review."""
