"""When a flat web troughs in the span or wrinkles on the roller: closed forms of plate and shell buckling.

They rank webs and spans; absolute levels differ from what is published for misaligned rollers (README).
"""

from __future__ import annotations

import math


def plate_stiffness(modulus: float, thickness: float, poisson: float, poisson_other: float | None = None) -> float:
    """Bending stiffness per width, E h^3 / [12 (1 - nu12 nu21)], N m.

    For an orthotropic web give the CD modulus and both Poisson ratios (derived, approximate).
    """
    product = poisson * (poisson if poisson_other is None else poisson_other)
    return modulus * thickness**3 / (12 * (1 - product))


def trough_stress(modulus: float, thickness: float, poisson: float, span: float, stress: float) -> float:
    """Compressive CD stress that makes troughs in a span under MD tension.

    Parameters
    ----------
    modulus, thickness, poisson
        Pa, m, 1.
    span
        Span length, m.
    stress
        MD stress T/h, Pa.

    Returns
    -------
    float
        Pa (positive number, compression).

    Notes
    -----
    2 [s_e + sqrt(s_e^2 + s_e s_x)], s_e = pi^2 E h^2 / [12 (1 - nu^2) L^2]: a simply supported strip,
    minimised over the CD wavelength. Derived; the plate is classical (Timoshenko and Gere).
    """
    euler = math.pi**2 * modulus * thickness**2 / (12 * (1 - poisson**2) * span**2)
    return 2 * (euler + math.sqrt(euler * euler + euler * stress))


def trough_stress_thin(modulus: float, thickness: float, poisson: float, span: float, stress: float) -> float:
    """Thin limit of :func:`trough_stress`, (pi h / L) sqrt(E s_x / [3 (1 - nu^2)]), Pa."""
    return math.pi * thickness / span * math.sqrt(modulus * stress / (3 * (1 - poisson**2)))


def trough_wavelength(stiffness: float, span: float, tension: float) -> float:
    """CD wavelength of troughs, 2 sqrt(pi L) (D/T)^(1/4), m.

    References
    ----------
    Same form as Cerda and Mahadevan, Phys. Rev. Lett. 90 (2003) 074302 (coefficient from memory).
    """
    return 2 * math.sqrt(math.pi * span) * (stiffness / tension) ** 0.25


def cylinder_coefficient(poisson: float) -> float:
    """Classical buckling coefficient of a thin cylinder, 1 / sqrt(3 (1 - nu^2))."""
    return 1 / math.sqrt(3 * (1 - poisson**2))


def roller_wrinkle_stress(modulus: float, thickness: float, poisson: float, radius: float) -> float:
    """CD stress at which a web on a roller wrinkles, 0.605 E h / R at nu = 0.3, Pa.

    References
    ----------
    Classical cylinder load (Timoshenko and Gere, from memory); no knock-down for imperfections is applied.
    """
    return cylinder_coefficient(poisson) * modulus * thickness / radius


def shear_for(critical: float, stress: float) -> float:
    """Shear stress whose minor principal stress reaches ``critical`` under MD stress ``stress``, Pa."""
    return math.sqrt(critical * (critical + stress))


def misalignment_for(shear: float, span: float, modulus: float, width: float) -> float:
    """Misalignment that makes the average shear stress in a slender, isolated span, rad.

    Notes
    -----
    theta = 6 tau L^2 / (E w^2); derived from the beam. Use it for ranking.
    """
    return 6 * shear * span**2 / (modulus * width**2)
