"""What is checked, as data: limit, rows, direction in words, formula and source of every check.

A check either reads an array of :mod:`calcs.corners` (``Spec.field``) or asks the geometry of one case
(``Spec.geometry``). :mod:`calcs.readings` judges them, :mod:`calcs.verdict` puts them into sentences.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from calcs import corners, profile, units
from calcs.case import Case, Interval
from calcs.corners import Field
from calcs.limits import Limits


@dataclass(frozen=True, slots=True)
class Measure:
    """A value at nominal, at the worst operating point, and at the worst of all.

    ``missing`` says why there is none: the input that was left out, or what does not apply. ``shown`` are the
    nominal and worst value for people where the judged figure is not the one they measure.
    """

    nominal: float = 0.0
    operating: float = 0.0
    worst: float = 0.0
    missing: str | None = None
    where: str = ""
    shown: tuple[float, float] | None = None


Geometry = Callable[[Case, Limits], Measure]
Reader = Callable[[Field], np.ndarray]


@dataclass(frozen=True, slots=True)
class Spec:
    """One check. ``limits`` names one limit, or a lower and an upper one."""

    id: str
    limits: tuple[str, ...]
    wording: str
    direction: str
    remedy: str
    formula: str
    source: str
    why_worst: str
    geometry: Geometry | None = None
    field: Reader | None = None
    operating: tuple[int, ...] = (corners.NOMINAL, corners.GRIP)
    uncertain: tuple[int, ...] = (corners.WEAK_SMALL, corners.WEAK_LARGE)
    affected_by: tuple[str, ...] = ()
    tape_only: bool = True


_DERIVED = "worked out from elementary mechanics, not from plant tests"
_AIR = "end points: Walker 2006, Ducotey and Good 1999; straight line between from memory"
_RESIZE = "A person certified to size can choose fewer wraps, thinner tape or a larger roller."
_PLACE = "A person certified to size can move or change the band, or declare the roller bare."
_STEP_INPUTS = (
    "state.tension_n_per_m",
    "web.modulus_md_mpa",
    "web.thickness_um",
    "roller.diameter_mm",
    "tape.thickness_mm",
)
_AIR_INPUTS = (
    "state.tension_n_per_m",
    "state.speed_m_per_min",
    "state.air_temp_c",
    "web.roughness_um",
    "roller.diameter_mm",
)
_GRIP_INPUTS = tuple(
    dict.fromkeys(
        (*_STEP_INPUTS, *_AIR_INPUTS, "roller.wrap_deg", "roller.roughness_um", "roller.friction")
        + ("tape.roughness_um", "tape.friction")
    )
)
NO_TAPE = "no tape lies under the web"


def _worst_of(value: Callable[[float], float], uncertain: Interval) -> Measure:
    """A measure that depends on one uncertain number and is monotone in it; larger is worse."""
    nominal = value(uncertain.nominal)
    return Measure(nominal, nominal, max(nominal, value(uncertain.low), value(uncertain.high)))


def _lowest(measure: Measure) -> Measure:
    return Measure(-measure.nominal, -measure.operating, -measure.worst)


def _laid(case: Case) -> list[profile.Cell]:
    return profile.signed_cells(case.bands)


def web_on_face(case: Case, limits: Limits) -> Measure:
    """Face end past the web edge at full wander, mm."""
    reach, face = case.web.wander.high, case.roller.face
    nominal = (face.nominal - case.web.width.nominal) / 2 - reach
    operating = (face.nominal - case.web.width.high) / 2 - reach
    return Measure(
        nominal / units.MM, operating / units.MM, (operating - (face.nominal - face.low) / 2) / units.MM
    )


def band_on_face(case: Case, limits: Limits) -> Measure:
    """Distance from the outermost tape to the face end, mm."""
    cells = _laid(case)
    if not cells:
        return Measure(missing="the roller is bare")
    reach = max(max(abs(cell.low), abs(cell.high)) for cell in cells)
    return _lowest(_worst_of(lambda face: -(face / 2 - reach) / units.MM, case.roller.face))


def rides_step(case: Case, limits: Limits) -> Measure:
    """Engaged width at the steps up, mm.

    Judged as the smallest passing width plus the margin, because an edge well inside the step passes too;
    shown as the engaged width itself, negative while the edge stays inside the step.
    """
    steps = profile.rising_steps(case.bands)
    if not steps:
        return Measure(missing="the roller is bare")
    engaged = limits.refuse("engaged") * units.MM
    clear = limits.refuse("clear_of_step") * units.MM
    width, wander = case.web.width, case.web.wander.high

    def tightest(low: float, high: float) -> tuple[float, profile.Step]:
        margins = [
            (profile.step_margin(low / 2 - step.place, high / 2 - step.place, wander, engaged, clear), step)
            for step in steps
        ]
        return min(margins, key=lambda pair: pair[0])

    worst, step = tightest(width.low, width.high)
    nominal = tightest(width.nominal, width.nominal)[0]
    judged = (engaged + worst) / units.MM
    on_tape = [(edge / 2 - step.place) / units.MM for edge in (width.nominal, width.low, width.high)]
    touching = on_tape[1] if on_tape[1] > -on_tape[2] else on_tape[2]
    place = f"{step.end} end, step at {step.place / units.MM:g} mm from the centre"
    return Measure((engaged + nominal) / units.MM, judged, judged, where=place, shown=(on_tape[0], touching))


def overhang(case: Case, limits: Limits) -> Measure:
    """Tape past the web edge, beyond the wander, mm."""
    width, wander = case.web.width, case.web.wander.high
    found = [
        (reach, profile.overhang(case.bands, end, width.nominal / 2, width.nominal / 2), end)
        for end in ("operator", "drive")
        if (reach := profile.overhang(case.bands, end, width.low / 2, width.high / 2)) is not None
    ]
    if not found:
        return Measure(missing=NO_TAPE)
    worst, nominal, end = min(found)
    shown = (worst - wander) / units.MM
    middle = shown if nominal is None else (nominal - wander) / units.MM
    return Measure(middle, shown, shown, where=f"{end} end")


def symmetry(case: Case, limits: Limits) -> Measure:
    """Largest difference in place between the two ends, mm."""
    difference = profile.asymmetry(case.bands)
    if difference is None:
        return Measure(missing="tape is at one end only, or at none")
    return Measure(difference / units.MM, difference / units.MM, difference / units.MM)


def wraps(case: Case, limits: Limits) -> Measure:
    """Most layers anywhere on the roller."""
    most = float(max((cell.wraps for cell in _laid(case)), default=0))
    return Measure(most, most, most) if most else Measure(missing="the roller is bare")


def build(case: Case, limits: Limits) -> Measure:
    """Height of the tape, mm."""
    most = max((cell.wraps for cell in _laid(case)), default=0)
    if not most or case.tape is None:
        return Measure(missing="the roller is bare")
    return _worst_of(lambda layer: most * layer / units.MM, case.tape.thickness)


def wrap_angle(case: Case, limits: Limits) -> Measure:
    """Wrap angle, degrees."""
    return _lowest(_worst_of(lambda wrap: -wrap / units.DEG, case.roller.wrap))


def entry_span(case: Case, limits: Limits) -> Measure:
    """Entry span over web width."""
    span, width = case.roller.entry_span, case.web.width
    return Measure(span.nominal / width.nominal, span.nominal / width.high, span.low / width.high)


def temperature(case: Case, limits: Limits) -> Measure:
    """Tape limit above the roller surface, K. The surface is an operating condition, the limit a property."""
    surface = case.roller.surface_temp
    if not _laid(case) or case.tape is None:
        return Measure(missing="the roller is bare")
    if surface is None or case.tape.max_temp is None:
        return Measure(missing="roller.surface_temp_c" if surface is None else "tape.max_temp_c")
    most = case.tape.max_temp
    return Measure(most.nominal - surface.nominal, most.nominal - surface.high, most.low - surface.high)


def kind(case: Case, limits: Limits) -> Measure:
    """1 when tape lies on a roller that is bare by type, else 0."""
    if not _laid(case):
        return Measure(missing="the roller is bare")
    if case.roller.kind is None:
        return Measure(missing="roller.kind")
    never = float(case.roller.kind in limits.never_kinds)
    return Measure(never, never, never, where=case.roller.kind)


def _peak(field: Field) -> np.ndarray:
    found: np.ndarray = field.ratio * field.mean / field.value("web.yield_strain_pct")
    return found


def _share(field: Field) -> np.ndarray:
    return np.broadcast_to(field.lanes.covered[:, None], field.ratio.shape)


_GEOMETRY_CORNER = "tested on the whole interval of web edge positions"
_MONOTONE = "monotone in its input: the end of the range is worst"

SPECS: tuple[Spec, ...] = (
    Spec("web_on_face", ("web_on_face",), "The web edge at full wander stays {value} inside the face end",
         "A wider web or more wander brings it to the end.", "Maintenance or the process engineer checks the path and the width.",
         "face/2 - w/2 - wander", _DERIVED, _GEOMETRY_CORNER, web_on_face, tape_only=False),
    Spec("kind", ("kind",), "", "", "Only a process engineer can change the roller's type; tape it elsewhere.",
         "list of roller kinds that are bare by type", "", "a word, not a number", kind, tape_only=False),
    Spec("band_on_face", ("face_margin",), "The tape ends {value} inside the face end",
         "A band further out comes nearer to the end.", _PLACE, "face/2 - outer edge", "", _MONOTONE, band_on_face, tape_only=False),
    Spec("rides_step", ("engaged",), "At its step the tape is covered by {value} of web (negative: the edge stays inside)",
         "A web edge near the inner edge of a band rides the step and creases.", _PLACE,
         "engaged = w/2 - inner edge; forbidden: -(wander + 5 mm) up to 30 mm", "", _GEOMETRY_CORNER, rides_step, tape_only=False),
    Spec("overhang", ("overhang",), "Beyond the wander the tape reaches {value} past the web edge",
         "A wider web or more wander puts the web edge on the outer edge of the tape.", _PLACE,
         "outer edge - w/2 - wander", "", _GEOMETRY_CORNER, overhang),
    Spec("engaged_share", ("share_two_low", "share_two_high"), "The tape lies under {value} of the web width",
         "More of the web on tape takes more from the centre.", _PLACE, "f = b/w, summed over the bands", "",
         _GEOMETRY_CORNER, field=_share, operating=(corners.NOMINAL,), uncertain=(corners.NOMINAL,)),
    Spec("symmetry", ("symmetry",), "The bands of the two ends differ by {value}",
         "Unequal ends steer the web toward the larger one.", _PLACE, "differences of inner and outer edges; layers equal", "",
         "a recipe value, no range", symmetry, tape_only=False),
    Spec("wraps", ("wraps",), "The tape has {value}", "More wraps make the step higher and the edge more exposed.", _RESIZE,
         "layers at the highest place", "", "a recipe value, no range", wraps, tape_only=False),
    Spec("build", ("build",), "The tape is {value} high", "Thicker tape builds higher.", _RESIZE, "n t", "", _MONOTONE, build, tape_only=False),
    Spec("wrap_angle", ("wrap_angle",), "The web wraps the roller by {value}", "Less wrap holds less.",
         "The process engineer can choose another roller or threading.", "beta", "", _MONOTONE, wrap_angle),
    Spec("entry_span", ("entry_span",), "The entry span is {value} of the web width",
         "A short, wide span hardly bends, so little spreading reaches the web.", "The process engineer can choose a roller with a longer span.",
         "L / w", "", _MONOTONE, entry_span),
    Spec("temperature", ("temperature_margin",), "The roller surface stays {value} below the tape's limit",
         "A hotter roller softens the adhesive.", "The process engineer can choose a tape with a higher limit.",
         "tape limit - surface temperature", "", _MONOTONE, temperature, tape_only=False),
    Spec("edge_ratio", ("edge_ratio",), "The taped lanes carry {value} times the mean strain",
         "Lower tension makes this tape relatively more.", _RESIZE, "1 + (1 - f) D / eps_T, w/B when the centre is slack", _DERIVED,
         "rises with the step over the line strain: lowest tension, highest modulus, thickness and tape, smallest roller",
         field=lambda field: field.ratio, affected_by=_STEP_INPUTS),
    Spec("centre_loss", ("centre_loss",), "The centre loses {value} of its strain",
         "Lower tension makes this tape relatively more; at 1 the centre hangs slack and only the bands carry.", _RESIZE,
         "D f / eps_T", _DERIVED, "same corner as the edge ratio", field=lambda field: field.loss, affected_by=_STEP_INPUTS),
    Spec("peak_strain", ("peak_strain",), "The most strained lane reaches {value} of the yield strain",
         "Higher tension and a softer web stretch it more.", _RESIZE, "(eps_T + D (1 - f)) / yield strain", _DERIVED,
         "rises with tension, tape and step, falls with modulus, thickness, diameter and yield strain", field=_peak,
         operating=(corners.NOMINAL, corners.PULL), uncertain=(corners.STRETCH,),
         affected_by=(*_STEP_INPUTS, "web.yield_strain_pct"), tape_only=False),
    Spec("traction_tape", ("traction_tape",), "On the tape {value} of the friction is left",
         "More speed, less tension and smoother tape let the web float on air.", "A person certified to size can choose a rougher tape or a lower speed.",
         "(3 - h0/sigma)/2 between 0 and 1, h0 = 0.643 R (12 eta V/T)^(2/3)", _AIR,
         "falls with speed, viscosity and diameter, rises with tension and roughness", field=lambda field: field.kept_tape,
         affected_by=(*_AIR_INPUTS, "tape.roughness_um")),
    Spec("traction_bare", ("traction_bare",), "On the bare face {value} of the friction is left",
         "More speed, less tension and a smoother roller let the web float on air.", "The process engineer can choose a rougher roller or a lower speed.",
         "(3 - h0/sigma)/2 between 0 and 1, h0 = 0.643 R (12 eta V/T)^(2/3)", _AIR,
         "falls with speed, viscosity and diameter, rises with tension and roughness", field=lambda field: field.kept_bare,
         affected_by=(*_AIR_INPUTS, "roller.roughness_um")),
    Spec("hold", ("hold",), "The tape uses {value} of the hold round the wrap",
         "Lower tension, more speed or less wrap use more; a web that slips gathers instead of spreading.", _RESIZE,
         "max(ln ratio/(mu_eff,tape beta), -ln(1 - c)/(mu_eff,bare beta))", _DERIVED,
         "weakest grip and largest step; convex in the diameter, so both of its ends are tried", field=lambda field: field.hold,
         affected_by=_GRIP_INPUTS),
    Spec("lateral_hold", ("lateral_hold",), "Bending the web takes {value} of the lateral hold",
         "Lower tension, a shorter span or less wrap use more.", _RESIZE, "2 E I kappa/L (+ 2 E I theta/L^2) over mu_eff T c beta", _DERIVED,
         "as hold; the crest over the wander is tried as well", field=lambda field: field.lateral,
         affected_by=(*_GRIP_INPUTS, "roller.entry_span_mm", "roller.misalignment_mm_per_m")),
    Spec("hold_and_drag", ("hold_and_drag",), "Tape and idler drag together use {value} of the hold",
         "Tape and bearing drag share the same wrap; a stiff bearing can start the slip.", "Maintenance can measure the idler's drag.",
         "(need + ln(1 + drag share))/(mu_eff beta)", _DERIVED, "as hold", field=lambda field: field.hold_and_drag, affected_by=_GRIP_INPUTS),
)  # fmt: skip
"""All checks in the order in which they are shown: place first, then strain, then grip."""
