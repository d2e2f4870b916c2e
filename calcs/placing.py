"""Checks that need only the geometry and a few plain inputs of one case.

Each function takes a case and the limits and gives a :class:`Measure`, in the unit of its limit.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import NamedTuple

from calcs import profile, units
from calcs.case import Case, Interval
from calcs.limits import Limits

NO_TAPE = "no tape lies under the web"
BARE = "the roller is bare"


class Measure(NamedTuple):
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


def _worst_of(value: Callable[[float], float], uncertain: Interval) -> Measure:
    """A measure that depends on one uncertain number and is monotone in it; larger is worse."""
    nominal = value(uncertain.nominal)
    return Measure(nominal, nominal, max(nominal, value(uncertain.low), value(uncertain.high)))


def _lowest(measure: Measure) -> Measure:
    return Measure(-measure.nominal, -measure.operating, -measure.worst)


def _laid(case: Case) -> tuple[profile.Cell, ...]:
    return profile.signed_cells(case.bands)


def web_on_face(case: Case, limits: Limits) -> Measure:
    """Face end past the web edge at full wander, mm."""
    reach, face = case.web.wander.high, case.roller.face
    nominal = (face.nominal - case.web.width.nominal) / 2 - reach
    operating = (face.nominal - case.web.width.high) / 2 - reach
    return Measure(nominal / units.MM, operating / units.MM, (operating - (face.nominal - face.low) / 2) / units.MM)


def band_on_face(case: Case, limits: Limits) -> Measure:
    """Distance from the outermost tape to the face end, mm."""
    cells = _laid(case)
    if not cells:
        return Measure(missing=BARE)
    reach = max(max(abs(cell.low), abs(cell.high)) for cell in cells)
    return _lowest(_worst_of(lambda face: -(face / 2 - reach) / units.MM, case.roller.face))


def rides_step(case: Case, limits: Limits) -> Measure:
    """Engaged width at the steps up, mm.

    Judged as the smallest passing width plus the margin, because an edge well inside the step passes too;
    shown as the engaged width itself, negative while the edge stays inside the step.
    """
    steps = profile.rising_steps(case.bands)
    if not steps:
        return Measure(missing=BARE)
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
    return Measure(most, most, most) if most else Measure(missing=BARE)


def build(case: Case, limits: Limits) -> Measure:
    """Height of the tape, mm."""
    most = max((cell.wraps for cell in _laid(case)), default=0)
    if not most or case.tape is None:
        return Measure(missing=BARE)
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
        return Measure(missing=BARE)
    if surface is None or case.tape.max_temp is None:
        return Measure(missing="roller.surface_temp_c" if surface is None else "tape.max_temp_c")
    most = case.tape.max_temp
    return Measure(most.nominal - surface.nominal, most.nominal - surface.high, most.low - surface.high)


def kind(case: Case, limits: Limits) -> Measure:
    """1 when tape lies on a roller that is bare by type, else 0."""
    if not _laid(case):
        return Measure(missing=BARE)
    if case.roller.kind is None:
        return Measure(missing="roller.kind")
    never = float(case.roller.kind in limits.never_kinds)
    return Measure(never, never, never, where=case.roller.kind)
