"""The web as a beam under tension; equation after J. J. Shelton, Lateral Dynamics of a Moving Web (1968).

The figures are derived from that equation and its boundary conditions, solved again here numerically.
"""

from __future__ import annotations

import numpy as np
import pytest
from scipy.integrate import solve_bvp

from calcs import strain


@pytest.mark.parametrize(("kl", "factor"), [(0.01, 0.66667), (1.0, 0.67739)])
def test_shift_at_a_misaligned_roller(kl, factor):
    assert strain.misaligned_shift_factor(kl) == pytest.approx(factor, rel=1e-4)


@pytest.mark.parametrize(("kl", "factor"), [(0.1, 0.99983), (1.0, 0.98372)])
def test_shift_at_a_tapered_roller_over_the_slender_limit(kl, factor):
    assert strain.tapered_shift_factor(kl) == pytest.approx(factor, rel=1e-4)


def _shift(kl, slope, curvature):
    """y(1) of y'''' = KL^2 y'' on unit length with y(0) = y'(0) = 0 and given slope and curvature at 1."""
    grid = np.linspace(0, 1, 41)
    solution = solve_bvp(
        lambda _, y: np.vstack([y[1], y[2], y[3], kl**2 * y[2]]),
        lambda a, b: np.array([a[0], a[1], b[1] - slope, b[2] - curvature]),
        grid,
        np.zeros((4, grid.size)),
        tol=1e-8,
    )
    return solution.y[0, -1]


@pytest.mark.parametrize("kl", [0.5, 1.0, 3.0])
def test_closed_forms_agree_with_the_boundary_value_problem(kl):
    assert _shift(kl, 1.0, 0.0) == pytest.approx(strain.misaligned_shift_factor(kl), rel=1e-6)
    # the fibres on the large side are longer, so y'' at the roller points to the small side
    assert _shift(kl, 0.0, -1.0) == pytest.approx(strain.tapered_shift_factor(kl) / 6, rel=1e-6)


def test_a_long_or_tight_span_reaches_the_full_misalignment():
    assert strain.misaligned_shift_factor(200.0) == pytest.approx(1, abs=0.01)
