"""How sure the answer is: ranges round the figures of a case, and what follows from them. Pure."""

from dataclasses import dataclass
from typing import Any

from calcs.case import CaseError, parse_case
from calcs.limits import Limits
from calcs.uncertainty import Uncertainty, uncertainty
from plant.errors import Refused
from plant.web.svg import Lever, Tornado
from plant.web.svg.canvas import figure
from plant.web.svg.tornado import margin_pct

DRAWS = 4_000
SEED = 1


@dataclass(frozen=True)
class Spread:
    """An input that may be given a range, ± percent of its value; `usual` is a default of our own, no source."""

    name: str
    label: str
    part: str
    key: str
    usual: float


SPREADS = (
    Spread("modulus", "MD modulus", "web", "modulus_md_mpa", 10.0),
    Spread("thickness", "Web thickness", "web", "thickness_um", 3.0),
    Spread("tension", "Tension", "state", "tension_n_per_m", 5.0),
    Spread("friction", "Friction", "roller", "friction", 20.0),
    Spread("wrap", "Wrap angle", "roller", "wrap_deg", 3.0),
    Spread("roughness", "Roughness of the face", "roller", "roughness_um", 20.0),
    Spread("tape", "Tape thickness", "tape", "thickness_mm", 5.0),
)
LABELS = {f"{spread.part}.{spread.key}": spread.label for spread in SPREADS} | {
    "web.width_mm": "Web width",
    "state.speed_m_per_min": "Speed",
    "roller.diameter_mm": "Roller diameter",
    "tape.roughness_um": "Roughness of the tape",
    "tape.friction": "Friction of the tape",
}


@dataclass(frozen=True)
class Measured:
    """An expanded uncertainty (k = 2) of a measured value, in the unit of its field, and the gauge it comes from."""

    part: str
    key: str
    expanded: float
    gauge: str


def widened(case: dict[str, Any], percents: dict[str, float], measured: tuple[Measured, ...] = ()) -> dict[str, Any]:
    """The case with its figures as ranges: the percentages typed, and gauge uncertainties as mean and sd."""
    wide = {name: dict(part) if isinstance(part, dict) else part for name, part in case.items()}
    from_gauges = {(row.part, row.key): row for row in measured}
    for spread in SPREADS:
        part, share = wide.get(spread.part), percents.get(spread.name, 0.0) / 100
        if part is None or not share or spread.key not in part:
            continue
        value = part[spread.key]
        low, high = (value[0], value[1]) if isinstance(value, list) else (value, value)
        if high > 0:
            part[spread.key] = [low * (1 - share), high * (1 + share)]
    for (name, key), row in from_gauges.items():
        part = wide.get(name)
        if part is not None and isinstance(part.get(key), int | float):
            part[key] = {"mean": part[key], "sd": row.expanded / 2}
    return wide


def how_sure(case: dict[str, Any], limits: Limits) -> Uncertainty:
    """Chances, levers and best number of wraps.

    Raises
    ------
    Refused
        A range that leaves what can be computed; the sentence names the figure.
    """
    try:
        return uncertainty(parse_case(case), limits, seed=SEED, draws=DRAWS)
    except CaseError as trouble:
        key = trouble.field.split("[")[0]
        field = next((s.name for s in SPREADS if f"{s.part}.{s.key}" == key), "")
        raise Refused("range-too-wide", trouble.sentence, field=field) from None


def label_of(name: str) -> str:
    """An input in words."""
    return LABELS.get(name, name.rsplit(".", 1)[-1].replace("_", " "))


def tornado_picture(code: str, found: Uncertainty, key: str, audience: str = "tablet") -> Tornado:
    """What matters most."""
    return Tornado(
        title=f"What matters most for {code}",
        nominal_pct=margin_pct(found.nominal_margin),
        levers=tuple(
            Lever(
                label_of(lever.name),
                _end(lever.low, lever),
                _end(lever.high, lever) + _unit(lever.name),
                margin_pct(lever.at_low),
                margin_pct(lever.at_high),
                lever.tightest,
            )
            for lever in found.levers
        ),
        audience=audience,  # type: ignore[arg-type]
        key=key,
    )


def _end(value: float, lever: Any) -> str:
    """An end of a range, with as many digits as tell it from the other end."""
    close = abs(lever.high - lever.low) < 0.01 * abs(value)
    return figure(value, 2) if close else figure(float(f"{value:.3g}"))


def _unit(name: str) -> str:
    for ending, unit in (
        ("_n_per_m", "N/m"),
        ("_m_per_min", "m/min"),
        ("_mpa", "MPa"),
        ("_mm", "mm"),
        ("_um", "µm"),
        ("_deg", "°"),
    ):
        if name.endswith(ending):
            return unit if unit == "°" else f" {unit}"
    return ""


def sentences(found: Uncertainty) -> list[str]:
    """The sentences of the answer with inputs in words."""
    said = []
    for sentence in found.sentences:
        for lever in found.levers:
            if sentence.startswith(lever.name):
                sentence = label_of(lever.name) + sentence[len(lever.name) :]
        said.append(sentence)
    return said
