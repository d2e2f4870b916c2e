"""What holds for every linear plane problem: mirror, scale, units, superposition, equilibrium.

No outside source is needed: these are properties of the boundary-value problem itself.
"""

from dataclasses import replace

import numpy as np
import pytest

from calcs.span import Span, SpanLoad, SpanResult, SpanWeb, field_map, half_wavelength, solve
from calcs.span_buckling import span_buckling
from calcs.span_entry import entry_indicator
from calcs.span_profile import RadiusStep, RollerProfile, TapedStrip

WEB = SpanWeb(1.2, 30e-6, 2.0e9, 3.0e9, 0.35)
SPAN = Span(WEB, 1.1, 90.0)
STAIRS = RollerProfile.banded(0.07, [TapedStrip(0.3, 0.65, 40e-6), TapedStrip(0.4, 0.65, 40e-6)])
UNEVEN = RollerProfile.banded(0.07, [TapedStrip(0.3, 0.65, 40e-6), TapedStrip(-0.7, -0.5, 90e-6)])


def mirrored(profile: RollerProfile) -> RollerProfile:
    steps = tuple(RadiusStep(-step.at, -step.rise) for step in reversed(profile.steps))
    knots = tuple((-place, rise) for place, rise in reversed(profile.knots))
    return replace(profile, steps=steps, knots=knots, taper=-profile.taper)


def close(one: np.ndarray, two: np.ndarray, share: float = 1e-9) -> None:
    assert np.abs(one - two).max() <= share * max(float(np.abs(two).max()), 1e-300)


def deviations(result: SpanResult) -> list[np.ndarray]:
    line = result.line
    level = result.span.tension / result.span.web.thickness
    return [
        line.shift,
        line.md_strain - line.md_strain.mean(),
        line.md_stress - level,
        line.cd_stress,
        line.shear_stress,
    ]


@pytest.mark.parametrize("profile", [STAIRS, UNEVEN, RollerProfile.cone(0.07, 1e-5)])
def test_the_mirrored_roller_gives_the_mirrored_web(profile: RollerProfile) -> None:
    one = solve(SPAN, [SpanLoad(profile, 2e-4)])[0]
    two = solve(SPAN, [SpanLoad(mirrored(profile), -2e-4)])[0]
    close(two.line.shift[::-1], -one.line.shift)
    close(two.line.md_stress[::-1], one.line.md_stress)
    close(two.line.cd_stress[::-1], one.line.cd_stress)
    close(two.line.shear_stress[::-1], -one.line.shear_stress)
    assert two.mean_shift == pytest.approx(-one.mean_shift, rel=1e-9)


def test_a_roller_with_equal_ends_gives_an_equal_web_to_rounding() -> None:
    even = RollerProfile.banded(0.07, [TapedStrip(0.4, 0.65, 60e-6), TapedStrip(-0.65, -0.4, 60e-6)])
    result = solve(SPAN, [SpanLoad(even)])[0]
    close(result.line.shift[::-1], -result.line.shift, 1e-11)
    close(result.line.cd_stress[::-1], result.line.cd_stress, 1e-11)
    assert abs(result.mean_shift) < 1e-12 * np.abs(result.line.shift).max()
    assert result.entry_shear_operator == pytest.approx(-result.entry_shear_drive, rel=1e-9)


def test_loads_add_up_and_scale() -> None:
    tilt = RollerProfile(0.07)
    both, shape, turn = solve(
        SPAN,
        [SpanLoad(UNEVEN, 3e-4, False), SpanLoad(UNEVEN, 0.0, False), SpanLoad(tilt, 3e-4)],
    )
    for total, one, two in zip(deviations(both), deviations(shape), deviations(turn), strict=True):
        close(one + two, total)
    tall = replace(UNEVEN, steps=tuple(RadiusStep(step.at, 3.0 * step.rise) for step in UNEVEN.steps))
    tripled = solve(SPAN, [SpanLoad(tall, 0.0, False)])[0]
    for big, small in zip(deviations(tripled), deviations(shape), strict=True):
        close(big, 3.0 * small)


def test_stairs_are_the_sum_of_their_steps() -> None:
    singles = [RollerProfile.banded(0.07, [TapedStrip(low, 0.65, 40e-6)]) for low in (0.3, 0.4)]
    whole, one, two = solve(SPAN, [SpanLoad(profile, 0.0, False) for profile in (STAIRS, *singles)])
    for total, first, second in zip(deviations(whole), deviations(one), deviations(two), strict=True):
        close(first + second, total)


def test_lengths_tension_and_moduli_scale_as_dimensions_ask() -> None:
    base = solve(SPAN, [SpanLoad(UNEVEN, 2e-4)])[0]
    factor = 0.37
    steps = tuple(RadiusStep(factor * step.at, factor * step.rise) for step in UNEVEN.steps)
    small = Span(replace(WEB, width=factor * 1.2, thickness=factor * 30e-6), factor * 1.1, factor * 90.0)
    shrunk = solve(small, [SpanLoad(replace(UNEVEN, radius=factor * 0.07, steps=steps), 2e-4)])[0]
    close(shrunk.line.shift, factor * base.line.shift)
    close(shrunk.line.cd_stress, base.line.cd_stress)
    assert half_wavelength(small) == pytest.approx(factor * half_wavelength(SPAN), rel=1e-12)
    stiff = Span(replace(WEB, modulus_md=2.0e10, modulus_cd=3.0e10), 1.1, 900.0)
    stiffer = solve(stiff, [SpanLoad(UNEVEN, 2e-4)])[0]
    close(stiffer.line.md_strain, base.line.md_strain)
    close(stiffer.line.cd_stress, 10.0 * base.line.cd_stress)


def test_indicators_mirror_with_the_roller_and_ignore_tape_beside_the_web() -> None:
    loads = [(UNEVEN, 2e-4), (mirrored(UNEVEN), -2e-4)]
    beside = RollerProfile(0.07, steps=(*UNEVEN.steps, RadiusStep(0.8, 1e-3), RadiusStep(0.9, -1e-3)))
    found = []
    for profile, tilt in [*loads, (beside, 2e-4)]:
        taped, bare = solve(SPAN, [SpanLoad(profile, tilt), SpanLoad(RollerProfile(0.07), tilt)])
        entry, trough = entry_indicator(taped, bare), span_buckling(taped)
        found.append((entry.minor_least, entry.cd_least, trough.critical, trough.critical_drive))
    assert found[1][:3] == pytest.approx(found[0][:3], rel=1e-6)
    assert found[2] == pytest.approx(found[0], rel=1e-9)


def test_force_moment_and_boundary_conditions_hold_to_rounding() -> None:
    profiles = [STAIRS, UNEVEN, RollerProfile.arc(0.07, 1.2, 1e-4), RollerProfile.bow_tie(0.07, 1.2, 1e-4)]
    for slenderness in (0.1, 0.5, 2.0, 20.0):
        span = Span(WEB, slenderness * 1.2, 90.0)
        for result in solve(span, [SpanLoad(profile, 3e-4) for profile in profiles]):
            assert result.residual < 1e-9


def test_the_net_md_force_stays_the_tension_at_every_station() -> None:
    result = solve(SPAN, [SpanLoad(UNEVEN, 2e-4)])[0]
    nodes, weights = np.polynomial.legendre.leggauss(400)
    stress = result.solved.field(np.linspace(0.05, 1.0, 5) * result.solved.ell, nodes)[2].md
    force, largest = np.abs(stress @ weights), np.abs(stress).max()
    assert force[:-1].max() < 1e-10 * largest
    # On the entry itself the stress jumps at the band edges, which this sum of points resolves to its spacing.
    assert force[-1] < 4.0 / nodes.size * largest


def test_stress_is_in_equilibrium_inside_the_web() -> None:
    # Differences of the stresses themselves, away from the entry: sigma_x,x + tau,y = 0 and tau,x + sigma_y,y = 0.
    result = solve(SPAN, [SpanLoad(UNEVEN, 2e-4)])[0]
    step = 1e-4
    for place in ((0.7, 0.1), (1.2, -0.4), (1.5, 0.55)):
        x = np.array([place[0] - step, place[0], place[0] + step])
        y = np.array([place[1] - step, place[1], place[1] + step])
        stress = result.solved.field(x, y)[2]
        along = (stress.md[2, 1] - stress.md[0, 1]) + (stress.shear[1, 2] - stress.shear[1, 0])
        across = (stress.shear[2, 1] - stress.shear[0, 1]) + (stress.cd[1, 2] - stress.cd[1, 0])
        size = np.abs(stress.md).max() * 2 * step
        assert abs(along) < 1e-3 * size
        assert abs(across) < 1e-3 * size


def test_the_map_ends_in_the_entry_line_and_begins_clamped() -> None:
    result = solve(SPAN, [SpanLoad(UNEVEN, 2e-4)])[0]
    found = field_map(result)
    assert np.abs(found.u[0]).max() < 1e-12 and np.abs(found.v[0]).max() < 1e-12
    inside = slice(4, -4)
    line = np.interp(found.y, result.line.y, result.line.cd_stress)
    edges = np.abs(found.y[:, None] - np.array([0.3, -0.5])).min(1) > 0.03
    chosen = np.flatnonzero(edges)[inside]
    assert found.cd_stress[-1, chosen] == pytest.approx(line[chosen], abs=0.01 * np.abs(line).max())
