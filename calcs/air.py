"""Air carried between web and roller: viscosity, film height and the share of friction that is left."""

from __future__ import annotations

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
