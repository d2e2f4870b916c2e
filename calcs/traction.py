"""Friction round the wrap: what the roller can hold and what the tape asks of it."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

Numbers = float | npt.NDArray[np.float64]
Array = npt.NDArray[np.float64]


def capstan_ratio(friction: Numbers, wrap: Numbers) -> Array:
    """Largest tension ratio before slip, exp(mu beta).

    Parameters
    ----------
    friction, wrap
        Friction coefficient and wrap angle in rad.

    Returns
    -------
    ndarray
        Ratio. Impending slip, constant friction, no bending stiffness; the radius does not matter.

    References
    ----------
    Euler; Eytelwein 1808. Five turns at 0.6 give 153 552 935 (encyclopaedia article "Capstan equation").
    """
    return np.exp(np.multiply(friction, wrap))


def share_of_grip(need: Numbers, grip: Numbers) -> Array:
    """Need divided by grip, where no need takes no share and no grip cannot meet any need (infinity)."""
    need, grip = np.asarray(need, float), np.asarray(grip, float)
    some = grip > 0
    share = need / np.where(some, grip, 1.0)
    return np.where(need > 0, np.where(some, share, np.inf), 0.0)


def hold_need(ratio: Numbers, loss: Numbers) -> tuple[Array, Array]:
    """Logarithmic tension ratios that tape and bare face must hold.

    Parameters
    ----------
    ratio
        Edge ratio, taped-lane strain over mean strain.
    loss
        Centre loss; 1 or more means a slack centre, which no friction can hold.

    Returns
    -------
    tuple of ndarray
        ln(ratio) for the tape and -ln(1 - loss) for the bare face.

    Notes
    -----
    A lane leaves the roller at the mean tension and meets it at its own, so each surface must shed the
    difference within the wrap: ln(ratio) <= mu_eff beta. Derived from the capstan equation.
    """
    left = 1 - np.asarray(loss, float)
    taut = left > 0
    return np.log(np.maximum(ratio, 1.0)), np.where(taut, -np.log(np.where(taut, left, 1.0)), np.inf)


def capped_strain(strain: float, friction: float, wrap: float) -> float:
    """Highest strain that a slipping taped lane can reach, mean strain times exp(mu_eff beta)."""
    return strain * float(capstan_ratio(friction, wrap))


def bearing_drag(load: float, coefficient: float, bore: float, radius: float) -> tuple[float, float]:
    """Friction moment of a rolling bearing and the web force it costs.

    Parameters
    ----------
    load
        Total bearing load, N.
    coefficient
        0.0010 to 0.0015 for deep groove balls; seals and start-up raise it, start-up about twice.
    bore, radius
        Bearing bore and roller radius, m.

    Returns
    -------
    tuple of float
        Moment, N m, and loss of web force over the roller, N.

    References
    ----------
    M = mu P d / 2 with the coefficients of a bearing maker's public table (JTEKT Koyo, bearing knowledge).
    """
    moment = coefficient * load * bore / 2
    return moment, moment / radius
