"""The verdict on one web over one roller with its tape: every check, in numbers and in a plain sentence."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache
from types import MappingProxyType
from typing import Any, NamedTuple

from calcs import VERSION, corners, units
from calcs.case import Case, display_value
from calcs.corners import Field
from calcs.limits import DEFAULT, Limit, Limits
from calcs.notices import Notice, bridging, notices_for
from calcs.readings import (
    CANNOT_TELL,
    CAUTION,
    FITS,
    NOT_EVALUATED,
    REFUSED,
    Reading,
    judge,
)
from calcs.sizing import formula_wraps, start_wraps

STANDING = (
    "Start value. Not a safety or product-release decision. Valid for a steady, tension-controlled, elastic web "
    "of small strain, uniform across its width and in traction; first order, no Poisson coupling. The trial on "
    "the line decides. Follow plant lockout, machine maker limits and product specification."
)
"""Shown with every result."""

Where = Mapping[str, float | str]


class Check(NamedTuple):
    """One check. ``value`` is nominal, ``worst`` the worst of all corners, ``where`` that corner.

    ``limit`` is the refuse limit (the caution limit where nothing is refused), ``margin`` how far ``worst`` stays
    inside it (negative: past it), ``uncertainty`` how far the property ranges move the worst value. Values are in
    ``unit``; infinite where nothing holds. A check that is *not evaluated* has no numbers and names in
    ``missing`` the input it lacks or what does not apply.
    """

    id: str
    title: str
    verdict: str
    sentence: str
    unit: str
    value: float | None
    worst: float | None
    where: Where
    caution: float | None
    limit: float | None
    margin: float | None
    uncertainty: float | None
    missing: str | None
    formula: str
    source: str
    limit_source: str
    why_worst: str

    def as_dict(self) -> dict[str, Any]:
        """Plain form for JSON: what is infinite becomes null, its sentence says so."""
        return {name: _finite(value) for name, value in self._asdict().items()} | {"where": dict(self.where)}


@dataclass(frozen=True, slots=True)
class Verdict:
    """Overall word, checks, notices and the numbers of the answer."""

    overall: str
    checks: tuple[Check, ...]
    notices: tuple[Notice, ...]
    numbers: dict[str, float | int | bool | None]
    version: str
    limits_version: str

    @property
    def worst_check(self) -> Check:
        """The check that decides: the first of those with the overall word."""
        return next(check for check in self.checks if check.verdict == self.overall)

    def as_dict(self) -> dict[str, Any]:
        """The answer in its public form."""
        return {
            **{name: _finite(value) for name, value in self.numbers.items()},
            "verdict": self.overall,
            "checks": [check.as_dict() for check in self.checks],
            "notices": [notice.as_dict() for notice in self.notices],
            "standing": STANDING,
            "version": self.version,
            "limits_version": self.limits_version,
        }


def _finite(value: Any) -> Any:
    return None if isinstance(value, float) and not math.isfinite(value) else value


def check(case: Case, limits: Limits = DEFAULT, *, material: str | None = None) -> Verdict:
    """Judge one case at all its corners.

    Parameters
    ----------
    case
        From :func:`calcs.case.parse_case`.
    limits
        The plant's limits.
    material
        Web family of ``calcs.materials.MATERIALS`` for the notice about usual tension; None leaves it out.

    Returns
    -------
    Verdict
        Numbers are given for every geometry that can be computed; a refusal is a verdict, not an error.
    """
    return check_many([case], limits, materials=[material])[0]


def check_many(
    cases: Sequence[Case], limits: Limits = DEFAULT, *, materials: Sequence[str | None] | None = None
) -> list[Verdict]:
    """Judge many cases together: the same answers as :func:`check`, much faster than one by one."""
    if not cases:
        return []
    judged = judge(cases, limits)
    formula = [formula_wraps(case, limits) for case in cases]
    suggested = start_wraps(judged, formula)
    corner_values = _CornerValues(judged.field)
    families = materials or [None] * len(cases)
    return [
        Verdict(
            overall=judged.overall[number],
            checks=tuple(_check(reading, case, corner_values, number) for reading in judged.readings(number)),
            notices=tuple(notices_for(case, judged.field, number, judged.ends[number], limits, families[number])),
            numbers=_numbers(case, judged.field, number)
            | {"formula_wraps": formula[number], "suggested_wraps": suggested[number]},
            version=VERSION,
            limits_version=limits.version,
        )
        for number, case in enumerate(cases)
    ]


def _numbers(case: Case, field: Field, number: int) -> dict[str, float | int | bool | None]:
    at = (number, corners.NOMINAL, 0)
    mean, ratio, loss = float(field.mean[at]), float(field.ratio[at]), float(field.loss[at])
    operating = [corners.NOMINAL, corners.PULL]
    peak = float((field.ratio[number, operating] * field.mean[number, operating]).max())
    taped = case.tape is not None
    layers = float(field.lanes.highest[number, 0])
    height = layers * case.tape.thickness.nominal if case.tape else 0.0
    return {
        "strain_pct": mean / units.PCT,
        "step_pct": float(field.step[at]) / units.PCT,
        "engaged_share": float(field.lanes.covered[number, 0]),
        "edge_ratio": ratio,
        "centre_loss": loss,
        "slack": loss >= 1,
        "edge_strain_pct": ratio * mean / units.PCT,
        "centre_strain_pct": max(0.0, 1 - loss) * mean / units.PCT,
        "peak_strain_pct": peak / units.PCT,
        "air_film_um": float(field.film[at]) / units.UM,
        "traction_tape": float(field.kept_tape[at]) if taped else None,
        "traction_bare": float(field.kept_bare[at]),
        "hold_need": float(field.hold_need[at]),
        "hold_tape": float(field.grip_tape[at]) if taped else None,
        "hold_bare": float(field.grip_bare[at]),
        "hold_used": float(field.hold[at]),
        "lateral_hold_used": float(field.lateral[at]),
        "steer_mm": float(field.shift[at]) / units.MM,
        "misalignment_shift_mm": 2 / 3 * float(case.roller.entry_span) * float(case.roller.misalignment) / units.MM,
        "bridging_mm": bridging(case, height) / units.MM,
    }


_SHOWN = {
    "state.tension_n_per_m": "tension {:.4g} N/m",
    "state.speed_m_per_min": "speed {:.4g} m/min",
    "state.air_temp_c": "air {:.3g} °C",
    "web.modulus_md_mpa": "modulus {:.4g} MPa",
    "web.thickness_um": "thickness {:.4g} µm",
    "web.yield_strain_pct": "yield strain {:.3g} %",
    "web.roughness_um": "web roughness {:.3g} µm",
    "roller.diameter_mm": "diameter {:.5g} mm",
    "roller.wrap_deg": "wrap {:.4g}°",
    "roller.entry_span_mm": "span {:.5g} mm",
    "roller.roughness_um": "roller roughness {:.3g} µm",
    "roller.friction": "friction {:.3g}",
    "roller.misalignment_mm_per_m": "misalignment {:.3g} mm/m",
    "tape.thickness_mm": "tape {:.3g} mm",
    "tape.roughness_um": "tape roughness {:.3g} µm",
    "tape.friction": "tape friction {:.3g}",
    "web.width_mm": "width {:.5g} mm",
    "web.offset_mm": "web {:+.3g} mm toward the drive end",
}


class _CornerValues:
    """Input values at the corners as plain lists, read once for many cases."""

    def __init__(self, field: Field) -> None:
        self.values: list[list[list[float]]] = field.values.tolist()
        self.ranged: list[list[bool]] = (field.values.min(axis=1) < field.values.max(axis=1)).tolist()
        self.width: list[list[float]] = field.lanes.width.tolist()
        self.offset: list[list[float]] = field.lanes.offset.tolist()
        self._absent: dict[tuple[str, str, str | None], Check] = {}

    def not_evaluated(self, reading: Reading) -> Check:
        """The check of a reading without numbers; it says the same in every case."""
        key = (reading.spec.id, reading.limit.title, reading.measure.missing)
        if key not in self._absent:
            self._absent[key] = _absent(reading)
        return self._absent[key]


def _where(reading: Reading, case: Case, field: _CornerValues, number: int) -> Where:
    """The worst corner, as far as its inputs have a range; names as in the case form."""
    if reading.corner is None:
        return {"place": reading.measure.where} if reading.measure.where else {}
    row, place = reading.corner
    ranged, here = field.ranged[number], field.values[number][row]
    found: dict[str, float | str] = {
        name: display_value(name, here[_AT[name]]) for name in reading.spec.affected_by if ranged[_AT[name]]
    }
    if case.tape is not None and case.tape.friction is None:
        found.pop("tape.friction", None)  # it is the roller's, already named
    if not reading.spec.id.startswith("traction"):
        if not case.web.width.is_point:
            found["web.width_mm"] = field.width[number][place] / units.MM
        if case.web.wander.high:
            found["web.offset_mm"] = field.offset[number][place] / units.MM
    return found


_AT = {name: number for number, name in enumerate(corners.VARIABLES)}


def _figure(value: float, unit: str) -> str:
    if math.isinf(value):
        return "more than there is"
    if unit == "1":
        return f"{value:.2f}"
    return f"{value:.3g}{'°' if unit == 'deg' else ' ' + unit}"


def _named(where: Where) -> str:
    shown = (_SHOWN.get(name, "{}").format(value) for name, value in where.items() if value != 0)
    return ", ".join(shown)


@lru_cache(maxsize=1024)
def _limit_words(word: str, sense: str, touching: bool, caution: float | None, refuse: float | None, unit: str) -> str:
    past = "above" if sense == "max" else "at or below" if touching else "below"
    first = "" if caution is None else _figure(caution, unit)
    second = "" if refuse is None else _figure(refuse, unit)
    if word == REFUSED:
        return f"refused {past} {second}"
    if word == CANNOT_TELL:
        return f"it passes with the nominal properties but not over their whole range (refused {past} {second})"
    if word == CAUTION:
        return f"past the caution limit {first}" + (f", refused {past} {second}" if second else "")
    parts = (f"caution {past} {first}" if first else "", f"refused {past} {second}" if second else "")
    return "limits: " + ", ".join(part for part in parts if part)


def _sentence(reading: Reading, where: Where) -> str:
    spec, measure, limit, word = reading.spec, reading.measure, reading.limit, reading.word
    if spec.id == "kind":
        if word == FITS:
            return f"A roller of kind {measure.where} may carry tape."
        return f"A roller of kind {measure.where} is bare by type and may not carry tape. {spec.remedy}"
    nominal, worst = measure.shown or (measure.nominal, measure.worst)
    if math.isinf(nominal) and spec.id in ("wraps", "build", "symmetry"):
        first = "The bands of the two ends differ in their layers"
    elif spec.id == "wraps":
        first = f"The tape has {nominal:.0f} {'wrap' if nominal == 1 else 'wraps'}"
    else:
        first = spec.wording.format(value=_figure(nominal, limit.unit))
    if not math.isclose(worst, nominal, rel_tol=1e-9, abs_tol=1e-9):
        places = _named(where)
        first += f", at worst {_figure(worst, limit.unit)}" + (f" ({places})" if places else "")
    rule = _limit_words(word, limit.sense, limit.touching, limit.caution, limit.refuse, limit.unit)
    parts = [f"{first}; {rule}.", spec.direction]
    if word in (REFUSED, CANNOT_TELL):
        parts.append("Measure the property more closely, or: " * (word == CANNOT_TELL) + spec.remedy)
    return " ".join(parts)


def _margin(limit: Limit, worst: float) -> float | None:
    level = limit.caution if limit.refuse is None else limit.refuse
    if level is None:
        return None
    return level - worst if limit.sense == "max" else worst - level


def _check(reading: Reading, case: Case, field: _CornerValues, number: int) -> Check:
    spec, measure, limit, word = reading.spec, reading.measure, reading.limit, reading.word
    if word == NOT_EVALUATED:
        return field.not_evaluated(reading)
    where = _where(reading, case, field, number)
    nominal, worst = measure.shown or (measure.nominal, measure.worst)
    return Check(
        id=spec.id,
        title=limit.title,
        verdict=word,
        sentence=_sentence(reading, where),
        unit=limit.unit,
        value=nominal,
        worst=worst,
        where=where,
        caution=limit.caution,
        limit=limit.caution if limit.refuse is None else limit.refuse,
        margin=_margin(limit, measure.worst),
        uncertainty=0.0 if measure.worst == measure.operating else abs(measure.worst - measure.operating),
        missing=None,
        formula=spec.formula,
        source=spec.source or limit.source,
        limit_source=limit.source,
        why_worst=spec.why_worst,
    )


def _absent(reading: Reading) -> Check:
    """A check that is not evaluated: no numbers, and what is missing."""
    spec, limit, missing = reading.spec, reading.limit, reading.measure.missing or ""
    entered = f"Not evaluated: {missing} is not given. Enter it to have this checked."
    return Check(
        id=spec.id,
        title=limit.title,
        verdict=NOT_EVALUATED,
        sentence=entered if "." in missing else f"Not evaluated: {missing}.",
        unit=limit.unit,
        value=None,
        worst=None,
        where=MappingProxyType({}),
        caution=limit.caution,
        limit=limit.caution if limit.refuse is None else limit.refuse,
        margin=None,
        uncertainty=None,
        missing=missing,
        formula=spec.formula,
        source=spec.source or limit.source,
        limit_source=limit.source,
        why_worst=spec.why_worst,
    )


__all__ = [
    "CANNOT_TELL",
    "CAUTION",
    "FITS",
    "NOT_EVALUATED",
    "REFUSED",
    "STANDING",
    "Check",
    "Verdict",
    "check",
    "check_many",
]
