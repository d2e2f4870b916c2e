"""The profile to be cut beside the tape it stands for: height over the bare radius across the face."""

from dataclasses import dataclass

from django.utils.safestring import SafeString

from plant.web.svg import canvas
from plant.web.svg.canvas import figure
from plant.web.svg.curves import Curve, CurvePlot, Points, Table, curve_plot, curve_table
from plant.web.svg.sizes import Audience


@dataclass(frozen=True)
class LatheProfile:
    """Heights in µm at places in mm from the roller centre, drive end positive."""

    title: str
    shape: str
    metal: Points
    tape: Points
    tolerance_um: float
    web_width_mm: float
    audience: Audience = "desk"
    key: str = ""

    @property
    def plot(self) -> CurvePlot:
        """The same as curves."""
        return CurvePlot(
            title=self.title,
            curves=(Curve(f"{self.shape} in metal", self.metal), Curve("tape it stands for", self.tape, "broken")),
            x_name="from the roller centre, mm",
            y_name="height over the bare radius, µm",
            said=f"Diameters within plus or minus {figure(self.tolerance_um)} µm. "
            f"The web is {figure(self.web_width_mm)} mm wide.",
            foot="operator end at left",
            audience=self.audience,
            key=self.key or canvas.key_of("lathe", self.title),
        )


def lathe_profile(profile: LatheProfile) -> SafeString:
    """The SVG of the cut beside the tape."""
    return curve_plot(profile.plot)


def lathe_table(profile: LatheProfile) -> Table:
    """Its figures at even places; the table for the lathe itself has every row and the diameters."""
    return curve_table(profile.plot, digits=1)
