"""Shear modulus estimates. St-Venant's is from memory; that it about holds for paper: Taylor and Craver 1965."""

from __future__ import annotations

import pytest

from calcs import materials


def test_st_venant_becomes_the_isotropic_modulus():
    assert materials.shear_modulus(3e9, 3e9, 0.3) == pytest.approx(1.15385e9, rel=1e-5)
    assert materials.shear_modulus(3e9, 3e9, 0.3) == pytest.approx(3e9 / 2.6, rel=1e-12)


def test_huber_becomes_the_isotropic_modulus_too():
    assert materials.shear_modulus_huber(3e9, 3e9, 0.3) == pytest.approx(3e9 / 2.6, rel=1e-12)


def test_the_paper_estimate_is_isotropic_at_its_own_poisson_ratio():
    assert materials.shear_modulus_paper(3e9, 3e9) == pytest.approx(3e9 / (2 * 1.293), rel=2e-3)


def test_the_two_plate_estimates_differ_for_an_orthotropic_web():
    assert materials.shear_modulus(6e9, 2e9, 0.3) != pytest.approx(materials.shear_modulus_huber(6e9, 2e9, 0.3))


def test_turning_the_web_by_ninety_degrees_keeps_its_shear_modulus():
    minor = materials.poisson_cd(6e9, 2e9, 0.3)
    assert materials.shear_modulus(2e9, 6e9, minor) == pytest.approx(materials.shear_modulus(6e9, 2e9, 0.3))


def test_a_web_that_cannot_exist_is_known():
    assert materials.stable(6e9, 2e9, 1.0)
    assert not materials.stable(2e9, 6e9, 1.0)


def test_width_loss():
    assert materials.width_loss(1.5, 0.4, 0.01) == pytest.approx(6e-3)
