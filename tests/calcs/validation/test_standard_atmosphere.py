"""Air viscosity against the US Standard Atmosphere 1976."""

from __future__ import annotations

import pytest

from calcs import air


def test_sea_level_viscosity_is_that_of_the_standard_atmosphere():
    """1.7894e-5 Pa s at 288.15 K, US Standard Atmosphere 1976."""
    assert air.viscosity(288.15) == pytest.approx(1.7894e-5, rel=1e-4)


def test_room_temperature_viscosity_follows_sutherland():
    """1.8460e-5 Pa s at 300 K by Sutherland's law; a handbook's 1.846e-5 is from memory, not checked."""
    assert air.viscosity(300.0) == pytest.approx(1.8460e-5, rel=1e-4)
