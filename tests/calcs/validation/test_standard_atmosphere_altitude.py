"""The US Standard Atmosphere 1976 over altitude: table values as repeated in public code."""

from __future__ import annotations

import pytest

from calcs import air


@pytest.mark.parametrize(
    ("altitude", "temperature", "pressure", "density"),
    [
        (0, 288.150, 101_325.0, 1.22500),
        (1000, 281.651, 89_876.3, 1.11166),
        (5000, 255.676, 54_048.3, 0.73643),
        (10_000, 223.252, 26_499.9, 0.41351),
    ],
)
def test_table_values_over_altitude(altitude, temperature, pressure, density):
    kelvin = air.standard_temperature(altitude)
    found = air.air_at(kelvin, altitude)
    assert kelvin == pytest.approx(temperature, abs=1e-3)
    assert found.pressure == pytest.approx(pressure, rel=1e-5)
    assert found.density == pytest.approx(density, rel=1e-4)


def test_viscosity_at_five_kilometres():
    """1.6282e-5 Pa s at 255.676 K (from memory, not checked)."""
    assert air.air_at(255.676, 5000).viscosity == pytest.approx(1.6282e-5, rel=1e-4)


def test_free_path_at_sea_level():
    """66.3 nm (from memory, not checked)."""
    assert air.mean_free_path(air.air_at(288.15)) == pytest.approx(66.3e-9, rel=1e-3)


def test_altitude_thins_the_air_but_not_the_film():
    low, high = air.air_at(293.15, 0), air.air_at(293.15, 1500)
    assert high.density < 0.86 * low.density
    assert high.viscosity == low.viscosity
    assert air.mean_free_path(high) / air.mean_free_path(low) == pytest.approx(low.pressure / high.pressure)


def test_the_film_of_a_fast_line_is_viscous():
    """5 m/s, 10.85 um on R 50 mm: inertia is a few hundredths of viscosity."""
    assert air.film_inertia(10.85e-6, 0.05, 10.0, air.air_at(293.15)) < 0.15


@pytest.mark.parametrize("altitude", [-2000, 20_000])
def test_outside_the_troposphere_is_refused(altitude):
    with pytest.raises(ValueError, match="metres above sea level"):
        air.pressure_at(altitude)
