"""From a proven tape recipe to a profile cut in metal: arc, bow-tie or dog-bone, for every product of the roller.

The profile gives the same mean cross-direction stress over the middle half of the web, where it enters the roller,
as the tape does (:mod:`calcs.span`). It cannot be taken off between products, so the first question is whether to
cut at all.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from calcs import checks, corners, profile, traction, units
from calcs.case import Case, CaseError
from calcs.corners import Field
from calcs.limits import DEFAULT, Limits
from calcs.placing import Measure
from calcs.readings import CANNOT_TELL, ORDER, REFUSED, word_for, worst_word
from calcs.span import SpanLoad, SpanRefused, SpanResult, solve
from calcs.span_profile import RollerProfile
from calcs.span_report import span_of

SHAPES = ("arc", "bow-tie", "dog-bone")
MOST_STRAIN_RATIO = 2.0
"""Largest over smallest line strain of a roller's products above which no profile is cut (default, no source)."""
TOLERANCE_SHARE = 0.1
"""Unintended change of radius across the face, as a share of the line strain (derived, see README)."""
LATHE_FINEST = 10e-6
"""A band of diameters below this needs grinding, m (common practice of the trade, no source)."""
STANDING = (
    "A profile is cut for good: cut only after the same recipe has stood 90 days and three re-applications (our "
    "default, the plant may change it), with its build measured. Start value; nominal width, web centred, roller in "
    "line, steady, in traction, elastic; the trial on the line decides. Not a safety or product-release decision: "
    "plant lockout procedure, machine maker and licensed practice come first."
)


@dataclass(frozen=True, slots=True)
class ProductWord:
    """One product on the cut roller: worst word, the check that gives it, and the two-dimensional numbers."""

    name: str
    verdict: str
    because: str
    words: dict[str, str]
    line_strain: float
    edge_ratio: float
    centre_loss: float
    edge_strain: float


@dataclass(frozen=True, slots=True)
class Cut:
    """One shape.

    Attributes
    ----------
    rise : float
        Radius at the proven web's edge above that in the centre, m.
    knots : tuple of (float, float)
        Corners of the profile (place, height), m; empty for an arc.
    cd_mean : float
        Mean CD stress over the middle half at the entry, Pa: that of the tape.
    edge_strain, centre_loss : float
        Of the proven product: total MD strain at the web edge; share of the MD stress lost in the centre.
    cd_rms, strain_rms : float
        Root mean square difference from the tape over the web at the entry, of CD stress (Pa) and MD strain.
    products : tuple of ProductWord
    """

    shape: str
    rise: float
    knots: tuple[tuple[float, float], ...]
    cd_mean: float
    edge_strain: float
    centre_loss: float
    cd_rms: float
    strain_rms: float
    products: tuple[ProductWord, ...]

    @property
    def verdict(self) -> str:
        """Worst word over all products."""
        return worst_word(product.verdict for product in self.products)


@dataclass(frozen=True, slots=True)
class Metal:
    """The answer: the tape's own numbers, the three cuts, which one, and what speaks against cutting."""

    proven: Case
    tape_cd_mean: float
    tape_edge_strain: float
    tape_centre_loss: float
    cuts: tuple[Cut, ...]
    tolerance: float
    against: tuple[str, ...]
    remarks: tuple[str, ...]

    @property
    def best(self) -> Cut:
        """Cut with the best word; of equal ones the one nearest to the tape."""
        return min(self.cuts, key=lambda cut: (ORDER.index(cut.verdict), cut.cd_rms))

    @property
    def verdict(self) -> str:
        """Word of the best cut, *refused* where anything speaks against cutting."""
        return REFUSED if self.against else self.best.verdict

    def cut(self, shape: str) -> Cut:
        """The cut of one shape.

        Raises
        ------
        CaseError
            Not one of ``SHAPES``.
        """
        for found in self.cuts:
            if found.shape == shape:
                return found
        raise CaseError("--shape", f"--shape is '{shape}'; use {', '.join(SHAPES)}.")


def tape_to_metal(
    proven: Case, others: Sequence[Case] = (), limits: Limits = DEFAULT, *, names: Sequence[str] | None = None
) -> Metal:
    """Profiles in metal that stand for a proven recipe, judged over all products of the roller.

    Parameters
    ----------
    proven
        The product and recipe that have proved themselves; tape at both ends.
    others
        The other products of the same roller; what tape they carry does not matter.
    limits
        The plant's limits.
    names
        Of all products, the proven one first.

    Returns
    -------
    Metal

    Raises
    ------
    CaseError
        No tape at both ends, other rollers, or a span that cannot be worked out.

    Notes
    -----
    The span answers linearly to the height of a smooth profile, so one solution of each shape is scaled until the
    mean CD stress matches. Misalignment is left out: it adds nothing to the mean over a symmetric stretch.
    """
    group = [proven, *others]
    called = list(names or ["proven product", *(f"product {number + 2}" for number in range(len(others)))])
    if len(called) != len(group):
        raise CaseError("names", "names must have one entry for each product.")
    _same_roller(group)
    span, taped_profile = span_of(proven)
    inner = _inner_edge(proven)
    width, face = span.web.width, float(proven.roller.face)
    trial = max(strip for strip in (abs(step.rise) for step in taped_profile.steps))
    shapes = {shape: _knots(shape, trial, width, face, inner) for shape in SHAPES}
    loads = [SpanLoad(taped_profile)] + [
        SpanLoad(_roller_profile(shape, taped_profile.radius, width, trial, knots)) for shape, knots in shapes.items()
    ]
    taped, *trials = _solved(proven, loads)
    mean = middle_mean(taped)
    if not mean > 0:
        raise CaseError("bands", "This tape does not spread the middle of the web, so no profile can stand for it.")
    rises = [trial * mean / middle_mean(found) for found in trials]
    found = [_knots(shape, rise, width, face, inner) for shape, rise in zip(SHAPES, rises, strict=True)]
    final = _solved(proven, [SpanLoad(_roller_profile(s, taped_profile.radius, width, r, k)) for s, r, k in zip(
        SHAPES, rises, found, strict=True)])  # fmt: skip
    words = _products(group, called, rises, found, width, limits)
    cuts = tuple(
        _cut(shape, rises[at], found[at], final[at], taped, tuple(row[at] for row in words))
        for at, shape in enumerate(SHAPES)
    )
    strains = {name: _line_strain(case) for name, case in zip(called, group, strict=True)}
    least = min(strains.values())
    tolerance = min(TOLERANCE_SHARE / 2 * least * float(proven.roller.diameter), TOLERANCE_SHARE * 2 * min(rises))
    return Metal(
        proven,
        mean,
        taped.md_strain_edge_drive,
        taped.centre_loss,
        cuts,
        tolerance,
        tuple(reasons_not_to_cut(strains, cuts)),
        tuple(_remarks(inner, width, tolerance)),
    )


def _same_roller(group: Sequence[Case]) -> None:
    first = group[0].roller
    for number, case in enumerate(group):
        if (case.roller.diameter, case.roller.face) != (first.diameter, first.face):
            raise CaseError("roller", f"Product {number + 1} names another roller; give the products of one roller.")


def _inner_edge(case: Case) -> float:
    """Inner edge of the tape from the roller centre, the mean of both ends, m."""
    steps = profile.rising_steps(case.bands)
    ends = [[step.place for step in steps if step.end == end] for end in ("operator", "drive")]
    if case.tape is None or not all(ends):
        raise CaseError(
            "bands", "A profile stands for tape at both ends; one-end tape steers and is not turned into metal."
        )
    inner = sum(min(places) for places in ends) / 2
    if not 0 < inner < case.web.width.nominal / 2:
        raise CaseError("bands", "The web does not reach the tape on both sides, or the bands meet; check the recipe.")
    return inner


def _knots(shape: str, rise: float, width: float, face: float, inner: float) -> tuple[tuple[float, float], ...]:
    """Corners of a straight-sided profile over the whole face; none for an arc.

    The bow-tie rises straight from the centre. The dog-bone has a cylinder in the middle, a ramp as long as the
    engaged width, centred on the tape's inner edge, and cylinders outside.
    """
    end = max(face, width) / 2
    if shape == "arc":
        return ()
    if shape == "bow-tie":
        height = rise * 2 * end / width
        return ((-end, height), (0.0, 0.0), (end, height))
    half_ramp = min(width / 2 - inner, 1.8 * inner) / 2
    low, high = inner - half_ramp, inner + half_ramp
    return ((-end, rise), (-high, rise), (-low, 0.0), (low, 0.0), (high, rise), (end, rise))


def _roller_profile(
    shape: str, radius: float, width: float, rise: float, knots: tuple[tuple[float, float], ...]
) -> RollerProfile:
    return RollerProfile.arc(radius, width, rise) if shape == "arc" else RollerProfile(radius, knots=knots)


def _solved(case: Case, loads: Sequence[SpanLoad]) -> tuple[SpanResult, ...]:
    try:
        return solve(span_of(case)[0], loads)
    except SpanRefused as refusal:
        raise CaseError("roller.entry_span_mm", str(refusal)) from None


def middle_mean(result: SpanResult) -> float:
    """Mean CD stress over the middle half of the web at the entry, Pa."""
    inside = np.abs(result.line.y) <= result.span.web.width / 4 * (1 + 1e-9)
    places = result.line.y[inside]
    return float(np.trapezoid(result.line.cd_stress[inside], places) / (places[-1] - places[0]))


def _rms(difference: np.ndarray, places: np.ndarray) -> float:
    return float(math.sqrt(np.trapezoid(difference**2, places) / (places[-1] - places[0])))


def _cut(
    shape: str,
    rise: float,
    knots: tuple[tuple[float, float], ...],
    cut: SpanResult,
    taped: SpanResult,
    products: tuple[ProductWord, ...],
) -> Cut:
    return Cut(
        shape=shape,
        rise=rise,
        knots=knots,
        cd_mean=middle_mean(cut),
        edge_strain=cut.md_strain_edge_drive,
        centre_loss=cut.centre_loss,
        cd_rms=_rms(cut.line.cd_stress - taped.line.cd_stress, cut.line.y),
        strain_rms=_rms(cut.line.md_strain - taped.line.md_strain, cut.line.y),
        products=products,
    )


def _line_strain(case: Case) -> float:
    return case.state.tension.nominal / (case.web.modulus_md.nominal * case.web.thickness.nominal)


def _products(
    group: Sequence[Case],
    names: Sequence[str],
    rises: Sequence[float],
    knots: Sequence[tuple[tuple[float, float], ...]],
    width: float,
    limits: Limits,
) -> list[list[ProductWord]]:
    """Words of every product (rows) on every shape (columns)."""
    bare = [replace(case, tape=None, bands=()) for case in group]
    field = corners.evaluate(bare, limits.refuse("drag_share"))
    found = []
    for number, case in enumerate(group):
        radius = float(case.roller.diameter) / 2
        shaped = zip(SHAPES, rises, knots, strict=True)
        results = _solved(case, [SpanLoad(_roller_profile(s, radius, width, r, k)) for s, r, k in shaped])
        found.append([_judged(case, names[number], result, field, number, limits) for result in results])
    return found


def _judged(case: Case, name: str, result: SpanResult, field: Field, number: int, limits: Limits) -> ProductWord:
    """Words of the checks that a smooth profile can break, at the corners of :mod:`calcs.corners`.

    The profile's deviations of strain are those of the nominal span, over the radius of the row; the row's tension,
    modulus and thickness set the line strain they stand against.
    """
    mean = field.mean[number, :, 0]
    row = {name: field.value(name)[number, :, 0] for name in corners.VARIABLES}
    smaller = row["roller.diameter_mm"][corners.NOMINAL] / row["roller.diameter_mm"]
    line = mean[corners.NOMINAL] * smaller / mean
    ratio, loss = 1 + (result.edge_ratio - 1) * line, result.centre_loss * line
    grip = field.grip_bare[number, :, 0]
    need = np.maximum(*traction.hold_need(ratio, loss))
    stiff = row["web.modulus_md_mpa"] * row["web.thickness_um"]
    force = (
        max(abs(result.entry_shear_operator), abs(result.entry_shear_drive)) * stiff / stiff[corners.NOMINAL] * smaller
    )
    across = grip * row["state.tension_n_per_m"] * result.span.web.width / 2
    values = {
        "edge_ratio": ratio,
        "centre_loss": loss,
        "peak_strain": ratio * mean / row["web.yield_strain_pct"],
        "traction_bare": field.kept_bare[number, :, 0],
        "hold": traction.share_of_grip(need, grip),
        "lateral_hold": traction.share_of_grip(force, across),
    }
    if case.web.yield_strain is None:
        del values["peak_strain"]
    words = {}
    for spec in checks.SPECS:
        if spec.id in values:
            words[spec.id] = _word(spec, values[spec.id], limits)
    worst = worst_word(words.values())
    titles = {spec.id: limits[spec.limits[0]].title for spec in checks.SPECS}
    because = "" if worst == ORDER[0] else next(titles[id_] for id_, word in words.items() if word == worst)
    return ProductWord(
        name, worst, because, words, float(mean[0]), result.edge_ratio, result.centre_loss, result.md_strain_edge_drive
    )


def _word(spec: checks.Spec, values: np.ndarray, limits: Limits) -> str:
    limit = limits[spec.limits[0]]
    pick = np.max if limit.sense == "max" else np.min
    visited = float(pick(values[list(spec.operating)]))
    everything = float(pick(values[[*spec.operating, *spec.uncertain]]))
    return word_for(limit, Measure(float(values[corners.NOMINAL]), visited, everything))


def reasons_not_to_cut(strains: dict[str, float], cuts: Sequence[Cut]) -> list[str]:
    """Sentences against cutting a profile; empty where nothing speaks against it.

    Parameters
    ----------
    strains
        Line strain of every product of the roller, by name.
    cuts
        The cuts with their words.
    """
    said = []
    tight, slack = max(strains, key=lambda name: strains[name]), min(strains, key=lambda name: strains[name])
    factor = strains[tight] / strains[slack]
    if factor > MOST_STRAIN_RATIO + 1e-9:
        said.append(
            f"Do not cut: {tight} runs at {strains[tight] / units.PCT:.3g} % line strain and {slack} at "
            f"{strains[slack] / units.PCT:.3g} %, a factor of {factor:.3g} (at most {MOST_STRAIN_RATIO:g}). The same "
            f"profile is {factor:.3g} times as much for {slack}; tape can come off between them, metal cannot. Stay "
            "with tape, or give each its own roller."
        )
    failing = [cut for cut in cuts if ORDER.index(cut.verdict) >= ORDER.index(CANNOT_TELL)]
    if len(failing) == len(cuts):
        nearest = min(cuts, key=lambda cut: (ORDER.index(cut.verdict), cut.cd_rms))
        product = next(found for found in nearest.products if found.verdict == nearest.verdict)
        said.append(
            f"Do not cut: every shape is {nearest.verdict} for at least one product; the {nearest.shape} fails "
            f"{product.name} ({product.because.lower()})."
        )
    return said


def _remarks(inner: float, width: float, tolerance: float) -> list[str]:
    said = []
    if inner < width / 4:
        said.append(
            "The tape reaches into the middle half of the web, where the profiles are matched to it: take the match as "
            "an indication."
        )
    if 2 * tolerance < LATHE_FINEST:
        said.append(
            f"A diameter within ±{tolerance / units.UM:.1f} µm is finer than a lathe holds: have it ground, or stay "
            "with tape."
        )
    return said


def sentences(metal: Metal) -> list[str]:
    """What the numbers say: against or for cutting, the best shape, its price, remarks."""
    best = metal.best
    said = list(metal.against)
    said.append(
        f"Nearest to the tape: {best.shape}, the web edge {best.rise / units.MM:.3f} mm higher in radius than the "
        f"centre; the same mean CD stress of {metal.tape_cd_mean / 1e3:.3g} kPa over the middle half at the entry."
    )
    said.append(
        f"It strains the web edge {best.edge_strain / units.PCT:.3g} % (tape "
        f"{metal.tape_edge_strain / units.PCT:.3g} %) and takes {100 * best.centre_loss:.0f} % from the centre (tape "
        f"{100 * metal.tape_centre_loss:.0f} %)."
    )
    words = ", ".join(f"{product.name} {product.verdict}" for product in best.products)
    said.append(f"On the {best.shape}: {words}.")
    said.append(f"Diameters within ±{metal.tolerance / units.MM:.3f} mm.")
    return [*said, *metal.remarks]
