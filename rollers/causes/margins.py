"""How near each roller of a path is to wrinkling a flat web, by closed forms. Pure: SI in, margins out.

The levels are for ranking (published misalignment figures are met in their ratios, not in their levels); the first
roller to look at is the one that uses most of its own margin.
"""

import math
from dataclasses import dataclass

from calcs import air, materials, traction, wrinkle
from calcs.strain import tension_strain

MM_PER_M = 1e-3
ROOM_AIR_K = 293.15
DEFAULT_POISSON = 0.3


@dataclass(frozen=True)
class WebRun:
    """The web and how it runs, SI: m, Pa, 1, N/m, m/s."""

    width: float
    thickness: float
    modulus: float
    tension: float
    speed: float
    friction: float
    roughness: float = 0.0
    porous: bool = False
    modulus_cd: float | None = None
    poisson: float = DEFAULT_POISSON

    @property
    def stress(self) -> float:
        """MD stress, Pa."""
        return self.tension / self.thickness

    @property
    def strain(self) -> float:
        """Mean MD strain."""
        return float(tension_strain(self.tension, self.modulus, self.thickness))


@dataclass(frozen=True)
class RollerHere:
    """One roller of the path and what was measured on it, SI; None where nobody measured.

    `misalignment` in m/m; `diameter_spread` and `sag` in m (sag over the face); `drag` as a share of the tension.
    """

    code: str
    radius: float
    wrap: float
    span: float
    roughness: float
    face: float
    misalignment: float | None = None
    diameter_spread: float | None = None
    sag: float | None = None
    drag: float | None = None


@dataclass(frozen=True)
class AlignmentRules:
    """What is taken where nothing was measured, SI: the alignment rule, the drag assumed, sag per face allowed."""

    alignment: float
    drag: float
    sag: float
    diameter: float
    diameter_strain_share: float


@dataclass(frozen=True)
class Margin:
    """One way to wrinkle: how much of the margin is used (1 is the edge), or why it is not known."""

    name: str
    used: float | None
    sentence: str
    assumed: bool = False


@dataclass(frozen=True)
class RollerMargins:
    """All margins of one roller. `nearness` is the most used of those that gather a web."""

    code: str
    critical: float
    trough_at: float
    film: float
    kept: float
    margins: tuple[Margin, ...]

    @property
    def nearness(self) -> float:
        """Share of the margin used by the worst of what bends or gathers the web here."""
        return max((m.used for m in self.margins if m.used is not None and m.name in GATHERING), default=0.0)

    @property
    def worst(self) -> Margin:
        """The margin that decides."""
        known = [m for m in self.margins if m.used is not None and m.name in GATHERING]
        return max(known, key=lambda m: m.used or 0.0, default=self.margins[0])

    @property
    def critical_mm_per_m(self) -> float:
        """Where a tilt creases the web, as alignment is spoken of."""
        return self.critical / MM_PER_M

    @property
    def trough_mm_per_m(self) -> float:
        """Where a tilt troughs the span."""
        return self.trough_at / MM_PER_M

    @property
    def is_assumed(self) -> bool:
        """Whether the margin that decides rests on a value nobody measured."""
        return self.worst.assumed


MISALIGNMENT, DIAMETER, SAG, TRACTION, DRAG = "misalignment", "diameter error", "deflection", "traction", "drag"
GATHERING = (MISALIGNMENT, DIAMETER, SAG)


def critical_misalignments(web: WebRun, roller: RollerHere) -> tuple[float, float]:
    """Misalignment of the entering span that troughs the span, and that wrinkles on the roller, m/m.

    Derived from the slender isolated span; orthotropic webs by the geometric mean of the two moduli for the shell
    and the CD modulus for the plate (approximate).
    """
    across = web.modulus_cd or web.modulus
    minor = materials.poisson_cd(web.modulus, across, web.poisson)
    poisson = math.sqrt(max(0.0, min(web.poisson * minor, 0.81)))
    shell = math.sqrt(web.modulus * across)
    trough = wrinkle.trough_stress(across, web.thickness, poisson, roller.span, web.stress)
    crease = wrinkle.roller_wrinkle_stress(shell, web.thickness, poisson, roller.radius)
    tilt = [
        wrinkle.misalignment_for(wrinkle.shear_for(critical, web.stress), roller.span, web.modulus, web.width)
        for critical in (trough, crease)
    ]
    return tilt[0], tilt[1]


def grip_left(web: WebRun, roller: RollerHere) -> tuple[float, float]:
    """Air film over combined roughness, and the share of friction left."""
    if web.porous:
        return 0.0, 1.0
    eta = float(air.viscosity(ROOM_AIR_K))
    film = float(air.film_height(roller.radius, 2 * web.speed, web.tension, eta))
    rough = float(air.combined_roughness(web.roughness, roller.roughness))
    return (film / rough if rough > 0 else math.inf), float(air.traction_kept(film, rough))


def _misalignment(web: WebRun, roller: RollerHere, rules: AlignmentRules, critical: float, kept: float) -> Margin:
    if kept <= 0:
        sentence = "The web floats here: the roller cannot bend it, so a tilt does not crease it either."
        return Margin(MISALIGNMENT, 0.0, sentence)
    measured = roller.misalignment
    tilt = abs(measured) if measured is not None else rules.alignment
    words = (
        f"{tilt / MM_PER_M:.2f} mm/m measured"
        if measured is not None
        else f"not measured; {tilt / MM_PER_M:.2f} mm/m assumed, as the alignment rule passes"
    )
    sentence = f"Misalignment {words}; this web creases here from {critical / MM_PER_M:.2f} mm/m (for ranking)."
    return Margin(MISALIGNMENT, tilt / critical, sentence, measured is None)


def _diameter(web: WebRun, roller: RollerHere, rules: AlignmentRules, critical: float) -> Margin:
    """A cone bends the web; the tilt that shifts it as far is its curvature times the span over 4 (derived)."""
    allowed = min(rules.diameter, rules.diameter_strain_share * web.strain * 2 * roller.radius)
    if roller.diameter_spread is None:
        sentence = f"Diameter spread not measured; this web takes {allowed * 1e6:.0f} µm across the face."
        return Margin(DIAMETER, None, sentence)
    curvature = roller.diameter_spread / (2 * roller.radius) / web.width
    tilt = curvature * roller.span / 4
    sentence = (
        f"Diameter spread {roller.diameter_spread * 1e6:.0f} µm, of {allowed * 1e6:.0f} µm that the rule takes for "
        f"this web; it steers like {tilt / MM_PER_M:.2g} mm/m of tilt."
    )
    return Margin(DIAMETER, tilt / critical, sentence)


def _sag(roller: RollerHere, rules: AlignmentRules, critical: float) -> Margin:
    """A bow tilts each half of the face by twice its sag over the face (derived)."""
    if roller.sag is None:
        return Margin(SAG, None, "Deflection at full load not measured.")
    slope = roller.sag / roller.face
    sentence = (
        f"Deflection {roller.sag * 1e3:.2f} mm over the face, {slope / rules.sag:.0%} of what the rule allows; "
        f"it tilts each half like {2 * slope / MM_PER_M:.2g} mm/m."
    )
    return Margin(SAG, 2 * slope / critical, sentence)


def _traction(film: float, kept: float) -> Margin:
    used = 1 - kept
    if kept >= 1:
        return Margin(TRACTION, used, "Full grip: the air film stays within the roughness.")
    if kept <= 0:
        return Margin(TRACTION, used, "No grip: the web floats on air at this speed.")
    return Margin(
        TRACTION, used, f"{kept:.0%} of the friction is left; the air film is {film:.1f} times the roughness."
    )


def _drag(web: WebRun, roller: RollerHere, rules: AlignmentRules, kept: float) -> Margin:
    share = rules.drag if roller.drag is None else roller.drag
    hold = float(traction.capstan_ratio(web.friction * kept, roller.wrap)) - 1
    used = share / hold if hold > 0 else math.inf
    words = "assumed" if roller.drag is None else "measured"
    if not math.isfinite(used):
        return Margin(DRAG, None, "The web cannot turn the roller at all: it floats.", roller.drag is None)
    sentence = f"Drag {share:.1%} of the tension ({words}) against {hold:.0%} that the wrap can carry."
    return Margin(DRAG, used, sentence, roller.drag is None)


def margins_of(web: WebRun, roller: RollerHere, rules: AlignmentRules) -> RollerMargins:
    """Every margin of one roller."""
    trough_at, critical = critical_misalignments(web, roller)
    film, kept = grip_left(web, roller)
    found = (
        _misalignment(web, roller, rules, critical, kept),
        _diameter(web, roller, rules, critical),
        _sag(roller, rules, critical),
        _traction(film, kept),
        _drag(web, roller, rules, kept),
    )
    return RollerMargins(roller.code, critical, trough_at, film, kept, found)


def ranked(rows: list[RollerMargins]) -> list[RollerMargins]:
    """Nearest to wrinkling first; of two alike the one upstream."""
    return sorted(rows, key=lambda row: -row.nearness)
