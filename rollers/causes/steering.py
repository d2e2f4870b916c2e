"""What tape at one end costs: how far it steers the web at this roller."""

from calcs import strain, units
from plant.floor.models import Position, ProductVersion
from plant.web.quantities import shown_digits
from rollers.cases import SetPoints
from rollers.causes.ranking import web_run
from rollers.causes.standing import roller_here
from rollers.readiness import present_limits

THICK_MM = 0.1  # one layer of a usual tape, for the order of size


def steering_of(position: Position, version: ProductVersion) -> str:
    """The shift for one layer of 0.1 mm at one end with the share that sizing aims at; a slender span."""
    step = position.steps.filter(path__in_use=True).order_by("-path").first()
    here = roller_here(position, step)
    if here is None:
        return ""
    web = web_run(version, SetPoints(version.tension_set_n_per_m, version.speed_set_m_per_min))
    share = present_limits()["share_one_high"].target or 0.06
    stepped = float(strain.step(1, THICK_MM * units.MM, here.radius))
    bend = strain.one_end_curvature(stepped, share * web.width, web.width)
    shift = float(strain.entry_shift(bend, here.span)) / units.MM
    far = f"about {shown_digits(round(shift, 2))} mm toward the taped end"
    return (
        f"Each layer of {THICK_MM} mm at one end steers {version.product.code} {far} at this roller "
        "(slender span; a short wide one moves more)."
    )
