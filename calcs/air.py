"""Air carried between web and roller: viscosity, film height and the share of friction that is left."""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np
import numpy.typing as npt

Numbers = float | npt.NDArray[np.float64]
Array = npt.NDArray[np.float64]

FOIL_CONSTANT = 0.643
"""Film height of a perfectly flexible foil: 0.643 R (6 eta U / T)^(2/3), rounded from 0.64304."""


def viscosity(temperature: Numbers) -> Array:
    """Dynamic viscosity of air.

    Parameters
    ----------
    temperature
        Air temperature, K.

    Returns
    -------
    ndarray
        Pa s. Valid for about 100 K to 1900 K at ordinary pressure.

    Notes
    -----
    Sutherland's law, eta = 1.458e-6 T^1.5 / (T + 110.4).

    References
    ----------
    US Standard Atmosphere 1976 (288.15 K gives 1.7894e-5 Pa s).
    """
    kelvin = np.asarray(temperature, float)
    return 1.458e-6 * kelvin * np.sqrt(kelvin) / (kelvin + 110.4)


def film_height(radius: Numbers, speed_sum: Numbers, tension: Numbers, eta: Numbers) -> Array:
    """Height of the air film that a smooth, impermeable, wide web carries round a roller.

    Parameters
    ----------
    radius
        Roller radius, m.
    speed_sum
        Surface speed of web plus roller, m/s (twice the line speed for an idler that turns with the web).
    tension
        Tension per width, N/m.
    eta
        Air viscosity, Pa s.

    Returns
    -------
    ndarray
        m. Side leakage and a permeable web thin the film, so this is on the safe side.

    Notes
    -----
    h0 = 0.643 R [6 eta (V_web + V_roller) / T]^(2/3).

    References
    ----------
    Derived from the foil equation H''' = (H - 1)/H^3 (see the validation test, which integrates it). From
    memory, not checked: Eshel and Elrod, J. Basic Eng. 87 (1965) 831; Knox and Sweeney, Ind. Eng. Chem.
    Process Des. Dev. 10 (1971) 201.
    """
    number = 6 * np.asarray(eta) * speed_sum / tension
    return FOIL_CONSTANT * np.asarray(radius) * np.cbrt(number * number)


def combined_roughness(web: Numbers, surface: Numbers) -> Array:
    """Combined rms roughness of two faces, sqrt(web^2 + surface^2), m."""
    return np.sqrt(np.square(web) + np.square(surface))


def traction_kept(film: Numbers, roughness: Numbers) -> Array:
    """Share of the friction that the air film leaves, mu_eff / mu.

    Parameters
    ----------
    film, roughness
        Film height and combined rms roughness, m. Without a film all friction is kept.

    Returns
    -------
    ndarray
        1 up to one roughness, 0 from three roughnesses on, a straight line between.

    References
    ----------
    End points: T. Walker, "Are you rough enough?" (2006); Ducotey and Good, J. Tribol. 121 (1999) 618.
    The straight line between them is from memory, not checked.
    """
    film, roughness = np.asarray(film, float), np.asarray(roughness, float)
    room = np.where(roughness > 0, roughness, 1.0)
    kept = np.clip((3 - film / room) / 2, 0.0, 1.0)
    return np.where(roughness > 0, kept, np.where(film > 0, 0.0, 1.0))


def onset_speed(radius: float, tension: float, roughness: float, eta: float) -> float:
    """Line speed at which the film reaches one roughness and traction loss begins, m/s.

    Notes
    -----
    V1 = T / (12 eta) [sigma / (0.643 R)]^(3/2), film_height solved for the speed; traction is gone at
    3^1.5 = 5.2 times this speed.
    """
    return tension / (12 * eta) * (roughness / (FOIL_CONSTANT * radius)) ** 1.5


GAS_CONSTANT = 8314.32 / 28.9644
"""Specific gas constant of dry air, J/(kg K), with the constants of the US Standard Atmosphere 1976."""
SEA_LEVEL_PRESSURE = 101_325.0
_SEA_LEVEL_TEMPERATURE = 288.15
_LAPSE = 0.0065
_GRAVITY = 9.80665
_EARTH_RADIUS = 6_356_766.0
_COLLISION_DIAMETER = 3.65e-10
_BOLTZMANN = 1.380622e-23


class Air(NamedTuple):
    """State of the air: K, Pa, kg/m3, Pa s."""

    temperature: float
    pressure: float
    density: float
    viscosity: float


def pressure_at(altitude: float) -> float:
    """Standard air pressure at an altitude of -1000 to 11 000 m above sea level, Pa.

    Notes
    -----
    101 325 (1 - 0.0065 H/288.15)^5.2559 with the geopotential height H = r z/(r + z), r = 6356.766 km.

    Raises
    ------
    ValueError
        Outside the troposphere.

    References
    ----------
    US Standard Atmosphere 1976 (1000 m: 89 876 Pa).
    """
    if not -1000 <= altitude <= 11_000:
        raise ValueError(f"The altitude {altitude:g} m is outside -1000 to 11 000 m; enter metres above sea level.")
    height = _EARTH_RADIUS * altitude / (_EARTH_RADIUS + altitude)
    share = 1 - _LAPSE * height / _SEA_LEVEL_TEMPERATURE
    return SEA_LEVEL_PRESSURE * share ** (_GRAVITY / (GAS_CONSTANT * _LAPSE))


def standard_temperature(altitude: float) -> float:
    """Outdoor temperature of the standard atmosphere, K; a plant's room has its own."""
    height = _EARTH_RADIUS * altitude / (_EARTH_RADIUS + altitude)
    return _SEA_LEVEL_TEMPERATURE - _LAPSE * height


def air_at(temperature: float, altitude: float = 0.0) -> Air:
    """Air of a room at a temperature (K) and an altitude (m): density by p/(R T), viscosity by Sutherland.

    The film of :func:`film_height` depends on the viscosity alone, and that on the temperature alone: altitude thins
    the air but not the film. What altitude changes are density (:func:`film_inertia`) and free path.
    """
    pressure = pressure_at(altitude)
    return Air(temperature, pressure, pressure / (GAS_CONSTANT * temperature), float(viscosity(temperature)))


def mean_free_path(air: Air) -> float:
    """Mean free path of the molecules, k T/(sqrt(2) pi d^2 p), m; a film below ten of them leaks by slip.

    References
    ----------
    US Standard Atmosphere 1976, collision diameter 0.365 nm (sea level: 66.3 nm).
    """
    crossing = math.sqrt(2) * math.pi * _COLLISION_DIAMETER**2
    return _BOLTZMANN * air.temperature / (crossing * air.pressure)


def film_inertia(film: float, radius: float, speed: float, air: Air) -> float:
    """Inertia over viscous forces at the inlet of the film, rho V h/eta sqrt(h/R); small against 1 where the film
    formula holds (order of magnitude, derived: inlet length sqrt(h R))."""
    return air.density * speed * film / air.viscosity * math.sqrt(film / radius)


def speed_for_kept(kept: float, radius: float, tension: float, roughness: float, eta: float) -> float:
    """Line speed at which a share ``kept`` of the friction is left, m/s.

    Notes
    -----
    The film is then (3 - 2 kept) roughnesses; ``kept`` 1 gives :func:`onset_speed`, 0 the speed at which traction is
    gone.
    """
    return onset_speed(radius, tension, (3 - 2 * kept) * roughness, eta)


def slip_speed(
    need: float, friction: float, wrap: float, radius: float, tension: float, roughness: float, eta: float
) -> float:
    """Line speed at which the grip round the wrap falls to a needed logarithmic tension ratio, m/s.

    Parameters
    ----------
    need
        For example ln(edge ratio) plus the drag's share, see :func:`calcs.traction.hold_need`.
    friction, wrap, radius, tension, roughness, eta
        SI, as in the other functions.

    Returns
    -------
    float
        Zero when the need exceeds the grip even without air; without any need the speed at which traction is gone.
    """
    kept = need / (friction * wrap)
    return 0.0 if kept > 1 else speed_for_kept(max(0.0, kept), radius, tension, roughness, eta)


def permeance_from_gurley(seconds: float) -> float:
    """Air permeance of a web from its Gurley time for 100 ml, m/(s Pa).

    Notes
    -----
    100 ml through 6.42 cm^2 at 1.22 kPa (ISO 5636-5; area and pressure from memory, not checked): 127.7 um/(s Pa)
    over the seconds.
    """
    return 100e-6 / (6.42e-4 * 1.22e3 * seconds)


def film_after(film: Numbers, permeance: Numbers, tension: Numbers, speed: Numbers, angle: Numbers) -> Array:
    """Film height left after ``angle`` rad of wrap of a web that lets air through, m.

    Parameters
    ----------
    film
        Height at the start of the wrap for a tight web, m.
    permeance
        m/(s Pa), see :func:`permeance_from_gurley`.
    tension, speed
        N/m and m/s.

    Returns
    -------
    ndarray
        h0 - P T beta/V, not below zero. The pressure T/R pushes the air through the web along R beta, so the
        radius drops out.

    Notes
    -----
    Derived from the balance of volumes. The web also leaks before it touches, which is left out: on the safe side.
    Ducotey and Good, J. Tribol. 121 (1999) 618 treat permeable webs; their equations were not seen.
    """
    left = np.asarray(film, float) - np.asarray(permeance, float) * tension * angle / speed
    return np.maximum(left, 0.0)


def traction_kept_leaking(
    film: float, roughness: float, permeance: float, tension: float, speed: float, wrap: float
) -> float:
    """Share of the friction left over the whole wrap of a permeable web: :func:`traction_kept` averaged along it.

    Parameters as in :func:`film_after` and :func:`traction_kept`; ``wrap`` in rad.
    """
    drop = permeance * tension * wrap / speed
    if drop <= 0 or film <= 0:
        return float(traction_kept(film, roughness))
    end = max(0.0, film - drop)
    wet = min(1.0, film / drop)
    if film - end < 1e-9 * film:
        return float(traction_kept(film, roughness))
    mean = (_kept_up_to(film, roughness) - _kept_up_to(end, roughness)) / (film - end)
    return wet * mean + 1 - wet


def _kept_up_to(film: float, roughness: float) -> float:
    """Integral of :func:`traction_kept` over the film height."""
    if roughness == 0:
        return 0.0
    rough = min(film, roughness)
    some = min(max(film, roughness), 3 * roughness)
    return rough + 1.5 * (some - roughness) - (some**2 - roughness**2) / (4 * roughness)
