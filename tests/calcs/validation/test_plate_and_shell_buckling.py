"""Troughs and wrinkles: worked PET figures. Plate and shell are classical (Timoshenko and Gere, from memory);
the figures are derived from the stated closed forms, not from experiments."""

from __future__ import annotations

import pytest

from calcs import wrinkle

STRESS = 5.171e6


def test_the_cylinder_coefficient():
    assert wrinkle.cylinder_coefficient(0.3) == pytest.approx(0.60523, rel=1e-5)


def test_pet_wrinkles_on_a_hundred_millimetre_roller():
    assert wrinkle.roller_wrinkle_stress(4.5e9, 25e-6, 0.3, 0.05) == pytest.approx(1.3618e6, rel=1e-4)


def test_pet_troughs_in_a_span():
    assert wrinkle.trough_stress(4.5e9, 25e-6, 0.3, 0.6, STRESS) == pytest.approx(12.10e3, rel=1e-3)
    assert wrinkle.trough_stress_thin(4.5e9, 25e-6, 0.3, 0.6, STRESS) == pytest.approx(12.09e3, rel=1e-3)


def test_the_trough_stress_is_the_least_over_all_wavelengths():
    """Strip between simple supports: (D k^2 + T pi^2/(L^2 k^2) ...) minimised by brute force."""
    stiffness, thickness, span = wrinkle.plate_stiffness(4.5e9, 25e-6, 0.3), 25e-6, 0.6
    m = 3.141592653589793 / span
    waves = [m * (1 + 0.002 * step) for step in range(1, 200_000, 7)]
    least = min((stiffness * (m * m + k * k) ** 2 + STRESS * thickness * m * m) / (k * k) for k in waves) / thickness
    assert wrinkle.trough_stress(4.5e9, 25e-6, 0.3, 0.6, STRESS) == pytest.approx(least, rel=1e-4)


def test_a_shear_trough_from_misalignment():
    critical = wrinkle.trough_stress(4.5e9, 25e-6, 0.3, 0.6, STRESS)
    shear = wrinkle.shear_for(critical, STRESS)
    assert shear == pytest.approx(250.4e3, rel=1e-3)
    assert wrinkle.misalignment_for(shear, 0.6, 4.5e9, 1.0) == pytest.approx(1.202e-4, rel=1e-3)


def test_the_trough_wavelength_lies_where_the_field_sees_it():
    """Form after Cerda and Mahadevan, PRL 90 (2003) 074302; field: 1 to 3 inches (T. Walker, "The signs of shear
    wrinkle")."""
    wavelength = wrinkle.trough_wavelength(wrinkle.plate_stiffness(4.5e9, 25e-6, 0.3), 0.6, 129.3)
    assert 0.025 < wavelength < 0.076
