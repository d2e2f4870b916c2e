"""Air through the web and speeds at which traction goes: derived from the balance of volumes and the foil film.

No worked published example is at hand (Ducotey and Good 1999 treat permeable webs; equations not seen).
"""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.integrate import quad

from calcs import air, traction

STATE = {"radius": 0.05, "tension": 175.127, "roughness": 5e-6, "eta": 1.81e-5}


def test_onset_and_end_of_traction_loss():
    """1.564 m/s for these figures (derived); gone at 3^1.5 times it."""
    assert air.speed_for_kept(1.0, **STATE) == pytest.approx(1.564, rel=1e-3)
    assert air.speed_for_kept(0.0, **STATE) == pytest.approx(3**1.5 * air.speed_for_kept(1.0, **STATE), rel=1e-12)


@given(st.floats(0, 1))
def test_the_speed_for_a_share_leaves_that_share(kept):
    speed = air.speed_for_kept(kept, **STATE)
    film = air.film_height(STATE["radius"], 2 * speed, STATE["tension"], STATE["eta"])
    assert air.traction_kept(film, STATE["roughness"]) == pytest.approx(kept, abs=1e-9)


def test_the_slip_speed_is_where_the_hold_is_used_up():
    need = math.log(1.3)
    speed = air.slip_speed(need, 0.3, 1.6, **STATE)
    film = air.film_height(STATE["radius"], 2 * speed, STATE["tension"], STATE["eta"])
    grip = 0.3 * 1.6 * float(air.traction_kept(film, STATE["roughness"]))
    assert float(traction.share_of_grip(need, grip)) == pytest.approx(1.0, rel=1e-9)
    assert air.slip_speed(1.0, 0.3, 1.6, **STATE) == 0
    assert air.slip_speed(0.0, 0.3, 1.6, **STATE) == air.speed_for_kept(0.0, **STATE)


@given(st.floats(0, 60e-6), st.floats(0.5e-6, 30e-6), st.floats(1e-9, 1e-4), st.floats(0.2, 20), st.floats(0.2, 3.8))
def test_the_share_over_a_leaking_wrap_is_the_average_along_it(film, roughness, permeance, speed, wrap):
    def kept(angle):
        return float(air.traction_kept(air.film_after(film, permeance, 150.0, speed, angle), roughness))

    drop = permeance * 150.0 / speed
    kinks = sorted({min(wrap, max(0.0, (film - level) / drop)) for level in (0.0, roughness, 3 * roughness)})
    pieces = zip([0.0, *kinks], [*kinks, wrap], strict=True)
    total = sum(quad(kept, low, high)[0] for low, high in pieces if high > low)
    found = air.traction_kept_leaking(film, roughness, permeance, 150.0, speed, wrap)
    assert found == pytest.approx(total / wrap, abs=2e-6)


def test_a_tight_web_keeps_its_film_and_an_open_one_has_none():
    tight = air.traction_kept_leaking(12e-6, 5e-6, 0.0, 150.0, 3.0, 1.6)
    assert tight == float(air.traction_kept(12e-6, 5e-6))
    assert air.traction_kept_leaking(12e-6, 5e-6, 1e-3, 150.0, 3.0, 1.6) > 0.999


def test_volume_is_conserved_while_the_web_leaks():
    """What the film carries less of after an angle has gone through the web: P T/R over an arc of R beta."""
    film, permeance, tension, speed, angle, radius = 20e-6, 5e-8, 150.0, 4.0, 1.2, 0.07
    carried = speed * (film - float(air.film_after(film, permeance, tension, speed, angle)))
    assert carried == pytest.approx(permeance * tension / radius * radius * angle, rel=1e-12)


def test_more_gurley_seconds_are_a_tighter_web():
    """127.7 um/(s Pa) over the seconds (area and pressure of ISO 5636-5 from memory, not checked)."""
    assert air.permeance_from_gurley(1.0) == pytest.approx(127.7e-6, rel=1e-3)
    shares = [
        air.traction_kept_leaking(14e-6, 5e-6, air.permeance_from_gurley(s), 150.0, 4.0, 1.6)
        for s in np.geomspace(1, 1e6, 12)
    ]
    assert shares == sorted(shares, reverse=True)
    assert shares[0] > 0.9 and shares[-1] == pytest.approx(float(air.traction_kept(14e-6, 5e-6)), abs=0.01)
