"""The roller as a body: feeding radius, deflection under the web, crown comparison."""

from __future__ import annotations

import math


def fed_length(length: float, strain: float) -> float:
    """Untensioned length of web that passes as ``length`` under tension, m.

    References
    ----------
    T. Walker, "Web length per roller revolution" (2010): 1000 in at 0.5 % strain is 995 in untensioned.
    """
    return length / (1 + strain)


def feeding_radius(radius: float, thickness: float) -> float:
    """Radius that sets web speed: the middle of the web, R + h/2, m (Walker 2010, as above)."""
    return radius + thickness / 2


def tube_inertia(outer: float, inner: float = 0.0) -> float:
    """Second moment of area of a tube, pi (OD^4 - ID^4) / 64, m^4."""
    return math.pi * (outer**4 - inner**4) / 64


def tension_resultant(tension: float, wrap: float) -> float:
    """Load per face width from web tension wrapped by ``wrap`` rad, 2 T sin(beta/2), N/m."""
    return 2 * tension * math.sin(wrap / 2)


def idler_deflection(load: float, width: float, span: float, modulus: float, inertia: float) -> float:
    """Mid-span deflection of a simply supported roller under a centred, evenly spread load.

    Parameters
    ----------
    load
        Load per width, N/m (add weight and tension as vectors).
    width, span
        Loaded width and distance of the supports, m; ``width`` at most ``span``.
    modulus, inertia
        Roller modulus, Pa, and second moment of area, m^4.

    Returns
    -------
    float
        m.

    Notes
    -----
    y = q w (8 s^3 - 4 s w^2 + w^3) / (384 E I); w = s gives 5 q s^4 / (384 E I), the beam table value
    (from memory, not checked).
    """
    return load * width * (8 * span**3 - 4 * span * width**2 + width**3) / (384 * modulus * inertia)


def crown_share(height: float, diameter: float) -> float:
    """Crown height over radius, the figure to compare a tape step with."""
    return 2 * height / diameter
