"""The foil film: its constant from the differential equation, worked figures, published end points of traction."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.integrate import solve_ivp

from calcs import air


def test_the_foil_constant_follows_from_the_differential_equation():
    """H''' = (H - 1)/H^3 leaves H = 1 on the growing mode e^x; its curvature far away is the constant.

    Derived; the value 0.643 is that of Bretherton, J. Fluid Mech. 10 (1961) (from memory, not checked).
    """
    start = [1 + 1e-6, 1e-6, 1e-6]
    path = solve_ivp(
        lambda _, h: [h[1], h[2], (h[0] - 1) / h[0] ** 3], (0, 400), start, method="DOP853", rtol=1e-11, atol=1e-13
    )
    assert path.y[2, -1] == pytest.approx(0.6430, abs=5e-4)
    assert path.y[2, -1] == pytest.approx(air.FOIL_CONSTANT, rel=5e-4)


def test_a_worked_film_height():
    """R 50 mm, both surfaces at 5 m/s, 175.127 N/m, 1.81e-5 Pa s: 10.85 um (derived from the formula)."""
    assert air.film_height(0.05, 10.0, 175.127, 1.81e-5) == pytest.approx(10.85e-6, rel=1e-3)


def test_a_stationary_bar_carries_less_air_than_a_turning_roller():
    turning, still = (float(air.film_height(0.05, sum_, 175.0, 1.8e-5)) for sum_ in (10.0, 5.0))
    assert turning / still == pytest.approx(2 ** (2 / 3))


@pytest.mark.parametrize(("film", "kept"), [(0.5, 1.0), (1.0, 1.0), (2.0, 0.5), (3.0, 0.0), (4.0, 0.0)])
def test_friction_falls_from_one_to_three_roughnesses(film, kept):
    """End points: T. Walker, "Are you rough enough?" (2006), and Ducotey and Good, J. Tribol. 121 (1999) 618.

    The middle (half at two roughnesses) is the straight line between them, from memory, not checked.
    """
    assert air.traction_kept(film * 4e-6, 4e-6) == kept


def test_the_speed_of_first_loss():
    """Roughness 5 um, R 50 mm, 175.127 N/m, 1.81e-5 Pa s: 1.564 m/s; gone at 3^1.5 times it (derived)."""
    speed = air.onset_speed(0.05, 175.127, 5e-6, 1.81e-5)
    assert speed == pytest.approx(1.564, rel=1e-3)
    films = air.film_height(0.05, 2 * speed * np.array([1, 3**1.5]), 175.127, 1.81e-5)
    assert films == pytest.approx([5e-6, 15e-6], rel=1e-9)


def test_smooth_faces_hold_only_without_a_film():
    assert air.traction_kept(1e-9, 0.0) == 0
    assert air.traction_kept(0.0, 0.0) == 1
