"""From a proven recipe to a profile in metal: what the shop floor's record says for it, and the drawing. Pure."""

from dataclasses import dataclass
from datetime import datetime

from calcs.case import Case
from calcs.lathe import height_at, lathe_rows
from calcs.metal import Cut, Metal
from calcs.profile import signed_cells
from calcs.units import MM, UM
from plant.web.svg import LatheProfile

DAYS = 90
"""A recipe stands so long before anything is cut for good (our default, no source)."""
RE_APPLIED = 3
"""It was taken off and put on again so often, and came out the same (our default, no source)."""


@dataclass(frozen=True)
class Proof:
    """What the record says about a recipe version."""

    in_force_at: datetime | None
    is_in_force: bool
    applied: int
    measured: int
    at: datetime

    @property
    def reasons(self) -> list[str]:
        """Why it is too early to cut; empty when the record stands for it."""
        said = []
        if not self.is_in_force or self.in_force_at is None:
            said.append("Not yet: this version is not in force, so nothing is proven with it.")
        else:
            days = (self.at - self.in_force_at).days
            if days < DAYS:
                said.append(f"Not yet: in force for {days} days; at least {DAYS} prove a recipe.")
        again = max(self.applied - 1, 0)
        if again < RE_APPLIED:
            times = {0: "never", 1: "once only", 2: "twice only"}[again]
            said.append(f"Not yet: {times} re-applied by the record; at least {RE_APPLIED} re-applications prove it.")
        if not self.measured:
            said.append("Not yet: no measured build is recorded; nobody knows what height the tape really has.")
        return said


def _tape_track(case: Case) -> tuple[tuple[float, float], ...]:
    """Heights of the tape over the whole face, µm over mm, as steps."""
    half = float(case.roller.face) / 2
    layer = 0.0 if case.tape is None else float(case.tape.thickness)
    points, here = [(-half, 0.0)], -half
    for cell in sorted(signed_cells(case.bands), key=lambda cell: cell.low):
        tall = cell.wraps * layer
        points += [(max(cell.low, here), 0.0)] if cell.low > here else []
        points += [(cell.low, tall), (cell.high, tall)]
        here = cell.high
        points.append((cell.high, 0.0))
    points.append((half, 0.0))
    return tuple((place / MM, height / UM) for place, height in points)


def lathe_picture(code: str, metal: Metal, cut: Cut, key: str = "", audience: str = "desk") -> LatheProfile:
    """The cut beside the tape it stands for."""
    places = [row[0] for row in lathe_rows(metal, cut)]
    return LatheProfile(
        title=f"{code}: {cut.shape} for the tape",
        shape=cut.shape,
        metal=tuple((place / MM, height_at(metal, cut, place) / UM) for place in places),
        tape=_tape_track(metal.proven),
        tolerance_um=float(f"{metal.tolerance / UM:.3g}"),
        web_width_mm=float(metal.proven.web.width) / MM,
        audience=audience,  # type: ignore[arg-type]
        key=key,
    )
