"""The trough limit of the span against the closed form of a plate strip under uniform compression.

A strip of length L, simply supported at both ends and endless across, under MD tension sigma_x buckles across at
sigma_cr = 2 [sigma_e + sqrt(sigma_e^2 + sigma_e sigma_x)], sigma_e = pi^2 E h^2 / [12 (1 - nu^2) L^2]: the classical
plate (Timoshenko and Gere) minimised over the wavelength. The same energies, matrices and search are put under that
load, in one sine along.
"""

import numpy as np
import pytest

from calcs.span import Span, SpanWeb
from calcs.span_buckling import _banded, _bending_and_tension, _block, _edge_of_stability, _grid
from calcs.wrinkle import trough_stress, trough_wavelength

CASES = [(0.6, 129.3), (0.3, 40.0)]


def critical_over_closed_form(length: float, tension: float, profile) -> float:
    """Compression of the given shape across the web at which the plate troughs, over the closed form."""
    thickness, modulus, poisson = 25e-6, 4.5e9, 0.3
    span = Span(SpanWeb(1.0, thickness, modulus, modulus, poisson), length, tension)
    stiffness = modulus * thickness**3 / (12.0 * (1.0 - poisson**2))
    grid = _grid(span, 2, int(10.0 / trough_wavelength(stiffness, length, tension)))
    terms = grid.number.size
    # The work of a compression across the web on the deflection: -1/2 integral h sigma (w,y)^2.
    work = -0.5 * length * thickness * grid.across * profile(grid.eta)
    one = _block(work[None, :], grid.first, grid.first)[0]
    load = np.zeros((terms, terms, *one.shape))
    load[np.arange(terms), np.arange(terms)] = one
    expected = trough_stress(modulus, thickness, poisson, length, tension / thickness)
    return _edge_of_stability(_banded(_bending_and_tension(span, grid)), _banded(load), expected) / expected


def fading(eta: np.ndarray) -> np.ndarray:
    """1 over most of the web, fading to nothing at its free edges, as a CD stress must."""
    outer = np.clip((np.abs(eta) - 0.6) / 0.4, 0.0, 1.0)
    return np.cos(0.5 * np.pi * outer) ** 2


@pytest.mark.parametrize(("length", "tension"), CASES)
def test_a_strip_compressed_in_its_middle_troughs_at_the_closed_form(length: float, tension: float) -> None:
    assert 0.99 < critical_over_closed_form(length, tension, fading) < 1.03


@pytest.mark.parametrize(("length", "tension"), CASES)
def test_a_strip_compressed_up_to_its_free_edges_troughs_at_half_of_it(length: float, tension: float) -> None:
    # A long beam on an elastic foundation buckles at half the load when its ends are free (Hetenyi, Beams on Elastic
    # Foundation, 1946; from memory). The tension along the web is that foundation.
    assert critical_over_closed_form(length, tension, np.ones_like) == pytest.approx(0.5, rel=0.02)
