"""One roller as it stands for a cause sheet: its set-points, its measures."""

from plant.floor.models import PathStep, Position
from rollers import queries
from rollers.cases import SetPoints
from rollers.causes.margins import RollerHere
from rollers.causes.models import CauseSheet
from rollers.causes.ranking import measured_causes, roller_of_step


def set_points(sheet: CauseSheet) -> SetPoints:
    """Those of the walk, else of the product."""
    if sheet.walk is not None:
        return SetPoints(sheet.walk.tension_n_per_m, sheet.walk.speed_m_per_min)
    version = sheet.product_version
    return SetPoints(version.tension_set_n_per_m, version.speed_set_m_per_min)


def roller_here(position: Position, step: PathStep | None) -> RollerHere | None:
    """The roller with what was measured on it; None where none is recorded or it is on no path."""
    mounting = queries.mounted([position]).get(position.pk)
    if mounting is None or step is None:
        return None
    tilt = queries.misalignments([position]).get(position.pk)
    return roller_of_step(step, mounting.body, tilt, measured_causes([position]).get(position.pk, {}))
