"""What is checked, as data: limit, corners, direction in words, formula and source of every check.

A check either reads an array of :mod:`calcs.corners` (``Spec.field``) or asks :mod:`calcs.placing` about one
case (``Spec.geometry``). :mod:`calcs.readings` judges them, :mod:`calcs.verdict` puts them into sentences.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from calcs import corners, placing
from calcs.case import Case
from calcs.corners import Field
from calcs.limits import Limits
from calcs.placing import Measure

Geometry = Callable[[Case, Limits], Measure]
Reader = Callable[[Field], np.ndarray]


@dataclass(frozen=True, slots=True, kw_only=True)
class Spec:
    """One check. ``limits`` names one limit, or a lower and an upper one.

    ``wording`` starts the sentence, ``direction`` says which way it gets worse, ``remedy`` who can help and
    how, ``why_worst`` why the corners that are tried are enough. ``tape_only``: of no meaning while no tape
    lies under the web.
    """

    id: str
    limits: tuple[str, ...]
    wording: str
    direction: str
    remedy: str
    formula: str
    why_worst: str
    source: str = ""
    geometry: Geometry | None = None
    field: Reader | None = None
    operating: tuple[int, ...] = (corners.NOMINAL, corners.GRIP)
    uncertain: tuple[int, ...] = (corners.WEAK_SMALL, corners.WEAK_LARGE)
    affected_by: tuple[str, ...] = ()
    tape_only: bool = True


_DERIVED = "worked out from elementary mechanics, not from plant tests"
_AIR = "end points: Walker 2006, Ducotey and Good 1999; straight line between them from memory"
_FILM = "(3 - h0/sigma)/2 between 0 and 1, h0 = 0.643 R (12 eta V/T)^(2/3)"
_RESIZE = "A person certified to size can choose fewer wraps, thinner tape or a larger roller."
_PLACE = "A person certified to size can move or change the band, or declare the roller bare."
_ENGINEER = "The process engineer can choose another roller or threading."
_INTERVAL = "tested on the whole interval of web edge positions"
_MONOTONE = "monotone in its input: the end of the range is worst"
_RECIPE = "a value of the recipe, without a range"
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
_SURFACES = ("roller.roughness_um", "roller.friction", "tape.roughness_um", "tape.friction")
_GRIP_INPUTS = tuple(dict.fromkeys((*_STEP_INPUTS, *_AIR_INPUTS, "roller.wrap_deg", *_SURFACES)))


def _peak(field: Field) -> np.ndarray:
    found: np.ndarray = field.ratio * field.mean / field.value("web.yield_strain_pct")
    return found


def _share(field: Field) -> np.ndarray:
    return np.broadcast_to(field.lanes.covered[:, None], field.ratio.shape)


_PLACES = (
    Spec(
        id="web_on_face",
        limits=("web_on_face",),
        wording="The web edge at full wander stays {value} inside the face end",
        direction="A wider web or more wander brings it to the end.",
        remedy="The process engineer can check the path and the width.",
        formula="face/2 - w/2 - wander",
        why_worst=_INTERVAL,
        geometry=placing.web_on_face,
        tape_only=False,
    ),
    Spec(
        id="kind",
        limits=("kind",),
        wording="",
        direction="",
        remedy="A person certified to size can choose an idler for the tape instead.",
        formula="list of roller kinds that are bare by type",
        why_worst="a word, not a number",
        geometry=placing.kind,
        tape_only=False,
    ),
    Spec(
        id="band_on_face",
        limits=("face_margin",),
        wording="The tape ends {value} inside the face end",
        direction="A band further out comes nearer to the end.",
        remedy=_PLACE,
        formula="face/2 - outer edge",
        why_worst=_MONOTONE,
        geometry=placing.band_on_face,
        tape_only=False,
    ),
    Spec(
        id="rides_step",
        limits=("engaged",),
        wording="The web edge lies {value} over the step at the inner edge of the tape (negative: inside it)",
        direction="A web edge close to that step rides it and creases.",
        remedy=_PLACE,
        formula="w/2 - inner edge; refused from -(wander + 5 mm) up to 30 mm, the wander being in these figures",
        why_worst=_INTERVAL,
        geometry=placing.rides_step,
        tape_only=False,
    ),
    Spec(
        id="overhang",
        limits=("overhang",),
        wording="Beyond the wander the tape reaches {value} past the web edge",
        direction="A wider web or more wander puts the web edge on the outer edge of the tape.",
        remedy=_PLACE,
        formula="outer edge - w/2 - wander",
        why_worst=_INTERVAL,
        geometry=placing.overhang,
    ),
    Spec(
        id="engaged_share",
        limits=("share_two_low", "share_two_high"),
        wording="The tape lies under {value} of the web width",
        direction="Much of the web on tape takes more from the centre, little strains a narrow edge.",
        remedy=_PLACE,
        formula="f = b/w, summed over the bands",
        why_worst=_INTERVAL,
        field=_share,
        operating=(corners.NOMINAL,),
        uncertain=(corners.NOMINAL,),
    ),
    Spec(
        id="symmetry",
        limits=("symmetry",),
        wording="The bands of the two ends differ by {value}",
        direction="Unequal ends steer the web toward the larger one.",
        remedy=_PLACE,
        formula="differences of inner and outer edges; layers equal",
        why_worst=_RECIPE,
        geometry=placing.symmetry,
        tape_only=False,
    ),
    Spec(
        id="wraps",
        limits=("wraps",),
        wording="The tape has {value}",
        direction="More wraps make a higher step.",
        remedy=_RESIZE,
        formula="layers at the highest place",
        why_worst=_RECIPE,
        geometry=placing.wraps,
        tape_only=False,
    ),
    Spec(
        id="build",
        limits=("build",),
        wording="The tape is {value} high",
        direction="Thicker tape builds higher.",
        remedy=_RESIZE,
        formula="n t",
        why_worst=_MONOTONE,
        geometry=placing.build,
        tape_only=False,
    ),
    Spec(
        id="wrap_angle",
        limits=("wrap_angle",),
        wording="The web wraps the roller by {value}",
        direction="Less wrap holds less.",
        remedy=_ENGINEER,
        formula="beta",
        why_worst=_MONOTONE,
        geometry=placing.wrap_angle,
    ),
    Spec(
        id="entry_span",
        limits=("entry_span",),
        wording="The entry span is {value} of the web width",
        direction="A short, wide span hardly bends, so little spreading reaches the web.",
        remedy=_ENGINEER,
        formula="L / w",
        why_worst=_MONOTONE,
        geometry=placing.entry_span,
    ),
    Spec(
        id="temperature",
        limits=("temperature_margin",),
        wording="The roller surface stays {value} below the tape's limit",
        direction="A hotter roller softens the adhesive.",
        remedy="A person certified to size can choose a tape with a higher limit.",
        formula="tape limit - surface temperature",
        why_worst=_MONOTONE,
        geometry=placing.temperature,
        tape_only=False,
    ),
)
_STRAINS = (
    Spec(
        id="edge_ratio",
        limits=("edge_ratio",),
        wording="The taped lanes carry {value} times the mean strain",
        direction="Lower tension makes this tape relatively more.",
        remedy=_RESIZE,
        formula="1 + (1 - f) D / eps_T; w/B when the centre is slack",
        source=_DERIVED,
        why_worst="rises with step over line strain: tension low; modulus, thickness, tape high; diameter low",
        field=lambda field: field.ratio,
        affected_by=_STEP_INPUTS,
    ),
    Spec(
        id="centre_loss",
        limits=("centre_loss",),
        wording="The centre loses {value} of its strain",
        direction="Lower tension makes this tape relatively more; at 1 the centre is slack, only the bands carry.",
        remedy=_RESIZE,
        formula="D f / eps_T",
        source=_DERIVED,
        why_worst="the same corner as the edge ratio",
        field=lambda field: field.loss,
        affected_by=_STEP_INPUTS,
    ),
    Spec(
        id="peak_strain",
        limits=("peak_strain",),
        wording="The most strained lane reaches {value} of the yield strain",
        direction="Higher tension and a softer web stretch it more.",
        remedy=_RESIZE,
        formula="(eps_T + D (1 - f)) / yield strain",
        source=_DERIVED,
        why_worst="rises with tension and tape, falls with modulus, thickness, diameter and yield strain",
        field=_peak,
        operating=(corners.NOMINAL, corners.PULL),
        uncertain=(corners.STRETCH,),
        affected_by=(*_STEP_INPUTS, "web.yield_strain_pct"),
        tape_only=False,
    ),
)
_GRIPS = (
    Spec(
        id="traction_tape",
        limits=("traction_tape",),
        wording="On the tape {value} of the friction is left",
        direction="More speed, less tension and smoother tape let the web float on air.",
        remedy="A person certified to size can choose a rougher tape or a lower speed.",
        formula=_FILM,
        source=_AIR,
        why_worst="falls with speed, viscosity and diameter, rises with tension and roughness",
        field=lambda field: field.kept_tape,
        affected_by=(*_AIR_INPUTS, "tape.roughness_um"),
    ),
    Spec(
        id="traction_bare",
        limits=("traction_bare",),
        wording="On the bare face {value} of the friction is left",
        direction="More speed, less tension and a smoother roller let the web float on air.",
        remedy="The process engineer can choose a rougher roller or a lower speed.",
        formula=_FILM,
        source=_AIR,
        why_worst="falls with speed, viscosity and diameter, rises with tension and roughness",
        field=lambda field: field.kept_bare,
        affected_by=(*_AIR_INPUTS, "roller.roughness_um"),
    ),
    Spec(
        id="hold",
        limits=("hold",),
        wording="The tape uses {value} of the hold round the wrap",
        direction="Lower tension, more speed or less wrap use more; a slipping web gathers, it does not spread.",
        remedy=_RESIZE,
        formula="max(ln ratio/(mu_eff,tape beta), -ln(1 - c)/(mu_eff,bare beta))",
        source=_DERIVED,
        why_worst="weakest grip and largest step; convex in the diameter, so both of its ends are tried",
        field=lambda field: field.hold,
        affected_by=_GRIP_INPUTS,
    ),
    Spec(
        id="lateral_hold",
        limits=("lateral_hold",),
        wording="Bending the web takes {value} of the lateral hold",
        direction="Lower tension, a shorter span or less wrap use more.",
        remedy=_RESIZE,
        formula="2 E I kappa/L (+ 2 E I theta/L^2) over mu_eff T c beta",
        source=_DERIVED,
        why_worst="as hold; the crest over the wander is tried as well",
        field=lambda field: field.lateral,
        affected_by=(*_GRIP_INPUTS, "roller.entry_span_mm", "roller.misalignment_mm_per_m"),
    ),
    Spec(
        id="hold_and_drag",
        limits=("hold_and_drag",),
        wording="Tape and idler drag together use {value} of the hold",
        direction="Tape and bearing drag share the same wrap; a stiff bearing can start the slip.",
        remedy="Maintenance can measure the idler's drag.",
        formula="(need + ln(1 + drag share))/(mu_eff beta)",
        source=_DERIVED,
        why_worst="as hold",
        field=lambda field: field.hold_and_drag,
        affected_by=_GRIP_INPUTS,
    ),
)
SPECS: tuple[Spec, ...] = (*_PLACES, *_STRAINS, *_GRIPS)
"""All checks in the order in which they are shown: place first, then strain, then grip."""
