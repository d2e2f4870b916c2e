"""From the plant's records to the case that calcs judges. Pure: records in, plain values out."""

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any, Protocol

from plant.floor.models import PathStep, ProductVersion
from rollers.models import Body, TapeStock


class BandShape(Protocol):
    """What makes a band: a stored `Band`, or one typed into the sizing page."""

    @property
    def end(self) -> str: ...
    @property
    def inner_mm(self) -> float: ...
    @property
    def outer_mm(self) -> float: ...
    @property
    def wraps(self) -> int: ...


@dataclass(frozen=True)
class TypedBand:
    """A band that is not stored yet; edges in mm from the roller centre."""

    end: str
    inner_mm: float
    outer_mm: float
    wraps: int


@dataclass(frozen=True)
class SetPoints:
    """Where the run is meant to run: N/m and m/min. The product's whole window is visited as well."""

    tension_n_per_m: float
    speed_m_per_min: float


def span(low: float, high: float, *more: float) -> float | list[float]:
    """A point, or the range that holds all the values."""
    low, high = min(low, high, *more), max(low, high, *more)
    return low if low == high else [low, high]


def web_of(version: ProductVersion) -> dict[str, Any]:
    """The `web` part: mm, µm, MPa, %."""
    web = {
        "width_mm": span(version.width_min_mm, version.width_max_mm),
        "thickness_um": version.thickness_um,
        "modulus_md_mpa": version.modulus_md_mpa,
        "roughness_um": version.roughness_um,
        "porous": version.porous,
        "wander_mm": version.wander_mm,
    }
    optional = {
        "modulus_cd_mpa": version.modulus_cd_mpa,
        "poisson_md": version.poisson_md,
        "yield_strain_pct": version.yield_strain_pct,
    }
    return web | {key: value for key, value in optional.items() if value is not None}


def state_of(version: ProductVersion, at: SetPoints | None = None) -> dict[str, Any]:
    """The `state` part: the product's window, widened to the set-points where they lie outside it."""
    tensions = [version.tension_min_n_per_m, version.tension_max_n_per_m]
    speeds = [version.speed_min_m_per_min, version.speed_max_m_per_min]
    if at is not None:
        tensions.append(at.tension_n_per_m)
        speeds.append(at.speed_m_per_min)
    return {"tension_n_per_m": span(*tensions), "speed_m_per_min": span(*speeds)}


def roller_of(version: ProductVersion, step: PathStep, body: Body, misalignment: float | None) -> dict[str, Any]:
    """The `roller` part. Friction is the product's, measured on such a face."""
    position = step.position
    roller = {
        "diameter_mm": body.diameter_mm,
        "face_mm": body.face_mm,
        "wrap_deg": step.wrap_deg,
        "entry_span_mm": step.entry_span_mm,
        "roughness_um": body.roughness_um,
        "friction": version.friction,
        "kind": position.kind.replace("-", " "),
    }
    if misalignment is not None:
        roller["misalignment_mm_per_m"] = misalignment
    if position.surface_temp_c is not None:
        roller["surface_temp_c"] = position.surface_temp_c
    return roller


def tape_of(stock: TapeStock) -> dict[str, Any]:
    """The `tape` part: the thickness with the range that lots may bring."""
    low, high = stock.thickness_min_mm or stock.thickness_mm, stock.thickness_max_mm or stock.thickness_mm
    tape = {
        "thickness_mm": span(low, high, stock.thickness_mm),
        "width_mm": stock.width_mm,
        "roughness_um": stock.roughness_um,
    }
    optional = {"friction": stock.friction, "max_temp_c": stock.max_temp_c}
    return tape | {key: value for key, value in optional.items() if value is not None}


def case_for(
    version: ProductVersion,
    step: PathStep,
    body: Body,
    *,
    stock: TapeStock | None = None,
    bands: Iterable[BandShape] = (),
    at: SetPoints | None = None,
    misalignment: float | None = None,
) -> dict[str, Any]:
    """One product on one roller with one set of bands, as `python -m calcs check` reads it."""
    case: dict[str, Any] = {
        "web": web_of(version),
        "state": state_of(version, at),
        "roller": roller_of(version, step, body, misalignment),
    }
    shapes = [
        {"end": str(band.end), "inner_mm": band.inner_mm, "outer_mm": band.outer_mm, "wraps": band.wraps}
        for band in sorted(bands, key=lambda band: (band.end, band.inner_mm))  # one order, whatever was typed
    ]
    if stock is not None and shapes:
        case |= {"tape": tape_of(stock), "bands": shapes}
    return case
