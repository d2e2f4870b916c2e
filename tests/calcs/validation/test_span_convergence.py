"""How the span solver converges, and how close it is over the whole range that it calls verified.

Compared with itself at a much higher degree (an independent method is in test_span_finite_elements.py). Seeded.
"""

import itertools

import numpy as np
import pytest

from calcs.materials import shear_modulus
from calcs.span import COMPANION_DEGREE, DEGREE, VERIFIED, Span, SpanLoad, SpanWeb, solve
from calcs.span_buckling import _critical, _guess, span_buckling
from calcs.span_modes import Stiffness, kept_modes, strip_modes
from calcs.span_profile import RollerProfile, TapedStrip, UnderWeb, relative_pieces
from calcs.span_solution import Solved, solve_loads

PLACES = np.array([-1.0, -0.95, -0.8, -0.5, -0.2, 0.0, 0.3, 0.5, 0.8, 0.95, 1.0])


def smooth_shift_errors(degrees: list[int]) -> np.ndarray:
    """Error of the entry shifts on an arc and on a cone, tilted, against degree 160."""
    span = Span(SpanWeb(1.0, 20e-6, 3.0e9, 2.0e9, 0.3), 0.8, 80.0)
    loads = [
        SpanLoad(RollerProfile.arc(0.06, 1.0, 60e-6), 1e-4),
        SpanLoad(RollerProfile.cone(0.06, 6e-5)),
    ]

    def shifts(degree: int) -> np.ndarray:
        return np.array(
            [
                (result.edge_shift_operator, result.edge_shift_drive, result.centre_shift)
                for result in solve(span, loads, degree)
            ]
        )

    best = shifts(160)
    return np.array([np.abs(shifts(degree) - best).max() / np.abs(best).max() for degree in degrees])


def test_shifts_of_a_smooth_profile_converge_with_the_third_power_of_the_degree() -> None:
    # Third order: the corners at the clamped end are singular, and that is what is left to resolve.
    errors = smooth_shift_errors([8, 16, 32, 64])
    orders = np.log2(errors[:-1] / errors[1:])
    assert errors[-1] < 1e-5
    assert ((orders > 2.8) & (orders < 3.8)).all()


def solved_at(degree: int, ratio: float, poisson: float, shear: float, ell: float, strips, slope: float) -> Solved:
    profile = RollerProfile.banded(1.0, strips)
    pieces = relative_pieces([UnderWeb(profile, 2.0, [0.0] * len(profile.steps))], degree + 1)
    modes = strip_modes(Stiffness.from_ratios(ratio, poisson, shear), degree)
    return solve_loads(modes, ell, [(pieces[0], slope)])[0]


def test_a_sharp_step_converges_although_the_field_is_singular_at_its_edge() -> None:
    strips = [TapedStrip(0.6, 1.2, 1.0), TapedStrip(-1.2, -0.7, 1.0)]
    best = solved_at(160, 1.3, 0.3, 0.45, 1.6, strips, 0.1).entry(PLACES[1:-1])
    errors = []
    for degree in (16, 32, 64):
        line = solved_at(degree, 1.3, 0.3, 0.45, 1.6, strips, 0.1).entry(PLACES[1:-1])
        errors.append(np.abs(line.v - best.v).max() / np.abs(best.v).max())
        if degree == 64:
            assert np.abs(line.stress.cd - best.stress.cd).max() < 2e-3 * np.abs(best.stress.cd).max()
    assert all(later < earlier for earlier, later in itertools.pairwise(errors))
    assert np.log2(errors[0] / errors[-1]) / 2.0 > 2.0
    assert errors[-1] < 1e-4


def random_questions(count: int):
    rng = np.random.default_rng(20)
    (short, long), (soft, stiff) = VERIFIED["span over width"], VERIFIED["CD over MD modulus"]
    for number in range(count):
        ratio = float(np.exp(rng.uniform(np.log(soft), np.log(stiff))))
        poisson = float(rng.uniform(0.0, 0.9) * min(0.6, ratio**-0.5))
        shear = shear_modulus(1.0, ratio, poisson) * float(rng.uniform(0.6, 1.5))
        slenderness = float(np.exp(rng.uniform(np.log(short), np.log(long))))
        if number < 4:  # the corners of the range
            slenderness, ratio = [(short, soft), (short, stiff), (long, soft), (long, stiff)][number]
            poisson = 0.5 * min(0.6, ratio**-0.5)
            shear = shear_modulus(1.0, ratio, poisson)
        band = float(rng.uniform(0.05, 0.4))
        strips = [TapedStrip(1.0 - 2.0 * band, 1.2, 1.0)]
        if rng.random() < 0.5:
            strips.append(TapedStrip(-1.2, 2.0 * band - 1.0, 1.0))
        yield ratio, poisson, shear, slenderness, band, strips


@pytest.mark.parametrize("question", list(random_questions(28)), ids=[f"question-{number}" for number in range(28)])
def test_the_usual_degree_is_within_one_per_cent_over_the_whole_verified_range(question) -> None:
    ratio, poisson, shear, slenderness, band, strips = question
    edge = 1.0 - 2.0 * band
    clear = PLACES[np.abs(np.abs(PLACES) - edge) > 0.03]
    lower = np.clip(np.array([-1.0, -0.5, -0.01, 0.4, edge - 0.05, edge + 0.02, 0.98]), -1.0, 0.98)
    stretch = min(0.02, slenderness / 4.0)
    answers = []
    for degree in (DEGREE, 128):
        solved = solved_at(degree, ratio, poisson, shear, 2.0 * slenderness, strips, 0.2)
        line, window = solved.entry(clear), solved.windows(lower, lower + 0.02, stretch)
        answers.append((line.v, line.stress.md, line.stress.cd, line.stress.shear, window.md, window.cd, window.shear))
        assert solved.residual() < 1e-9
    shift, *stresses = [np.abs(mine - best).max() / np.abs(best).max() for mine, best in zip(*answers, strict=True)]
    assert shift < 0.001
    assert max(stresses) < 0.01


def test_the_error_estimate_is_not_smaller_than_the_error() -> None:
    span = Span(SpanWeb(1.0, 25e-6, 4.5e9, 3.0e9, 0.3), 0.7, 129.3)
    strips = [TapedStrip(-0.6, -0.4, 72e-6), TapedStrip(0.35, 0.6, 72e-6)]
    load = SpanLoad(RollerProfile.banded(0.05, strips), 2e-4)
    usual, best = solve(span, [load])[0], solve(span, [load], 128)[0]
    assert (usual.sizes.degree, usual.sizes.companion_degree) == (DEGREE, COMPANION_DEGREE)
    for name in ("mean_shift", "edge_shift_drive", "md_stress_centre", "cd_stress_centre"):
        change = abs(getattr(usual, name) / getattr(best, name) - 1.0)
        assert change < max(usual.error_estimate, 1e-12), name


def test_the_near_field_of_a_step_is_the_one_of_a_much_finer_solution() -> None:
    # Degree 48 with its closed-form remainder against degree 200, a hundredth of a half width from the step.
    strips = [TapedStrip(0.7, 1.2, 1.0)]
    near = np.array([0.68, 0.69, 0.71, 0.72])
    for material in ((1.0, 0.3, 1.0 / 2.6), (0.3, 0.35, 0.2), (3.0, 0.2, 0.3), (1.0, 0.0, 0.2), (4.0, 0.1, 1.4)):
        usual, fine = (solved_at(degree, *material, 2.0, strips, 0.0) for degree in (DEGREE, 200))
        one, two = usual.entry(near).stress, fine.entry(near).stress
        for kind in ("md", "cd", "shear"):
            assert np.abs(getattr(one, kind) - getattr(two, kind)).max() < 1e-3, (material, kind)
        inside = np.array([1.9, 1.97])
        one, two = usual.field(inside, near)[2], fine.field(inside, near)[2]
        for kind in ("md", "cd", "shear"):
            assert np.abs(getattr(one, kind) - getattr(two, kind)).max() < 1e-3, (material, kind)


def test_the_trough_limit_has_converged_along_and_across() -> None:
    web = SpanWeb(0.64, 62e-6, 1.03e9, 1.03e9, 0.3)
    span = Span(web, 0.9, 110.0)
    strips = [TapedStrip(-0.356, -0.256, 90e-6), TapedStrip(0.256, 0.356, 90e-6)]
    taped = solve(span, [SpanLoad(RollerProfile.banded(0.075, strips))])[0]
    found = span_buckling(taped)
    assert found.change <= 0.01
    tilt = solve(span, [SpanLoad(RollerProfile(0.075), 1.0)])[0]
    more_terms = _critical(taped, tilt, found.terms + 8, found.splines - 3, _guess(span))
    more_splines = _critical(taped, tilt, found.terms, 2 * found.splines, _guess(span))
    # Longer series only lower the limit of a Rayleigh-Ritz calculation (to the width of the search).
    for better in (more_terms, more_splines):
        assert 0.97 * found.critical < better.least < 1.005 * found.critical


def test_one_material_is_factorised_once_for_every_length_and_profile() -> None:
    web = SpanWeb(1.0, 25e-6, 4.5e9, 3.1e9, 0.31)
    key = (web.modulus_cd / web.modulus_md, web.poisson_md, web.shear_or_estimate() / web.modulus_md)
    solve(Span(web, 0.7, 129.3), [SpanLoad(RollerProfile(0.05), 1e-4)])
    assert kept_modes(*key, DEGREE) is kept_modes(*key, DEGREE)
