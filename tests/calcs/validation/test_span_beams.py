"""The span solver against what is known in closed form: uniform rollers, slender beams, the modes of a strip.

Sources: the beam results are Timoshenko's beam (bending plus shear) with the entry conditions of a web in
traction, solved here by hand; without shear they are the tensionless limits of J. J. Shelton's web beam (Lateral
Dynamics of a Moving Web, Oklahoma State University, 1968): 2/3 L theta for a misaligned roller, kappa L^2 / 6 for
a tapered one. The exponents of a free-edged isotropic strip are roots of sin 2z + 2z = 0 and sin 2z - 2z = 0
(Papkovich and Fadle; values known from any text on plane elasticity).
"""

import numpy as np
import pytest

from calcs.span import Span, SpanLoad, SpanWeb, solve
from calcs.span_modes import Stiffness, strip_modes
from calcs.span_profile import RollerProfile, TapedStrip

RADIUS, CURVATURE, TILT = 0.05, 1e-3, 2e-4
SHEAR_FACTOR = 5.0 / 6.0
"""Timoshenko's factor for a rectangular section."""
WEBS = [(1.0, 0.30), (0.5, 0.30), (1.5, 0.20)]


def web_of(ratio: float, poisson: float) -> SpanWeb:
    return SpanWeb(1.0, 25e-6, 4.0e9, 4.0e9 * ratio, poisson)


def tapered_and_tilted(ratio: float, poisson: float, slenderness: float):
    """One web of 1 m width on a cone (strain slope CURVATURE per m) and on a tilted cylinder."""
    span = Span(web_of(ratio, poisson), slenderness, 100.0)
    cone = SpanLoad(RollerProfile.cone(RADIUS, RADIUS * CURVATURE))
    return solve(span, [cone, SpanLoad(RollerProfile(RADIUS), TILT)])


def shear_number(ratio: float, poisson: float, slenderness: float) -> float:
    """2 E I / (k G A L^2) for a width of 1."""
    web = web_of(ratio, poisson)
    return 2.0 * web.modulus_md / (12.0 * SHEAR_FACTOR * web.shear_or_estimate() * slenderness**2)


@pytest.mark.parametrize("height", [0.0, 50e-6])
def test_a_uniform_roller_leaves_the_web_alone_to_rounding(height: float) -> None:
    whole = RollerProfile.banded(RADIUS, [TapedStrip(-0.7, 0.7, height)]) if height else RollerProfile(RADIUS)
    result = solve(Span(web_of(1.0, 0.3), 1.0, 100.0), [SpanLoad(whole)])[0]
    level = 100.0 / 25e-6
    assert np.abs(result.line.shift).max() < 1e-15
    assert np.abs(result.line.md_stress - level).max() < 1e-9 * level
    assert np.abs(result.line.cd_stress).max() < 1e-9 * level
    assert np.abs(result.line.shear_stress).max() < 1e-9 * level


@pytest.mark.parametrize(("ratio", "poisson"), WEBS)
def test_a_taper_tends_to_curvature_times_length_squared_over_six_plus_a_constant_for_shear(
    ratio: float, poisson: float
) -> None:
    lengths = np.array([2.0, 4.0, 8.0])
    shifts = np.array([tapered_and_tilted(ratio, poisson, length)[0].mean_shift for length in lengths]) / CURVATURE
    web = web_of(ratio, poisson)
    beam = 2.0 / 3.0 * web.modulus_md / (12.0 * SHEAR_FACTOR * web.shear_or_estimate())
    # shift = a L^2 + b + c / L^2: a is Shelton's 1/6, b the constant addition for shear.
    a, b, _ = np.linalg.solve(np.column_stack([lengths**2, np.ones(3), lengths**-2.0]), shifts)
    assert a == pytest.approx(1.0 / 6.0, rel=2e-3)
    assert b == pytest.approx(beam, rel=0.05)
    assert np.all(np.diff(np.abs(shifts / (lengths**2 / 6.0) - 1.0)) < 0.0)


@pytest.mark.parametrize(("ratio", "poisson"), WEBS)
def test_a_tilted_roller_tends_to_two_thirds_of_length_times_angle_with_the_shear_of_a_beam(
    ratio: float, poisson: float
) -> None:
    result = tapered_and_tilted(ratio, poisson, 16.0)[1]
    assert result.mean_shift / (16.0 * TILT) == pytest.approx(2.0 / 3.0, rel=1.5e-3)
    web = web_of(ratio, poisson)
    inertia = web.thickness / 12.0
    force = result.entry_shear_operator + result.entry_shear_drive
    assert force == pytest.approx(2.0 * web.modulus_md * inertia * TILT / 16.0**2, rel=0.01)
    # Parabolic shear, 1.5 times the mean in the middle, a width before the entry.
    y = np.array([-0.5, -0.25, 0.0, 0.25, 0.5]) * 2.0
    shear = result.solved.field(np.array([30.0]), y)[2].shear[0] * web.modulus_md
    assert shear == pytest.approx(1.5 * force / web.thickness * (1.0 - y**2), rel=0.01, abs=1e-3 * shear.max())


@pytest.mark.parametrize(("slenderness", "most"), [(4.0, 0.002), (2.0, 0.004), (1.0, 0.012), (0.5, 0.03), (0.25, 0.05)])
def test_the_short_span_leaves_the_shear_beam_slowly_and_the_bending_beam_soon(slenderness: float, most: float) -> None:
    for ratio, poisson in WEBS:
        found = tapered_and_tilted(ratio, poisson, slenderness)[1].mean_shift / (slenderness * TILT)
        phi = shear_number(ratio, poisson, slenderness)
        with_shear = (2.0 / 3.0 + phi) / (1.0 + phi)
        assert abs(found / with_shear - 1.0) < most
        assert found > 2.0 / 3.0
    if slenderness <= 1.0:
        assert found / (2.0 / 3.0) - 1.0 > 0.10


@pytest.mark.parametrize(("poisson", "share"), [(0.0, 0.002), (0.3, 0.01), (0.45, 0.025)])
def test_one_sided_tape_steers_a_long_web_like_its_mean_curvature(poisson: float, share: float) -> None:
    # The end zone turns the beam's axis a little, a share of about 0.13 w / L. Without Poisson's effect that is
    # all. With it the roller, which holds v,x, also holds some CD stress at the entry, and that changes the moment
    # by a per cent or two: a taper, whose field has no CD stress, does not feel it.
    width, band, height, length = 1.0, 0.2, 60e-6, 128.0
    profile = RollerProfile.banded(RADIUS, [TapedStrip(0.3, 0.6, height)])
    result = solve(Span(web_of(1.0, poisson), length, 100.0), [SpanLoad(profile)])[0]
    curvature = 6.0 * height / RADIUS * band * (width - band) / width**3
    assert result.mean_shift == pytest.approx(curvature * length**2 / 6.0, rel=share)


def test_the_exponents_of_an_isotropic_strip_are_the_roots_of_papkovich_and_fadle() -> None:
    modes = strip_modes(Stiffness.from_ratios(1.0, 0.3, 1.0 / 2.6), 48)
    for half, sign in zip(modes.halves, (1.0, -1.0), strict=True):
        z = half.exponent[:10]
        assert np.abs(np.sin(2.0 * z) + sign * 2.0 * z).max() < 1e-6 * np.abs(2.0 * z[-1])
    assert modes.halves[0].exponent[0] == pytest.approx(2.10619611 + 1.12536431j, abs=1e-7)
    assert modes.halves[1].exponent[0] == pytest.approx(3.74883814 + 1.38433914j, abs=1e-7)
