"""How flat the web arrives against how far the roller is out of line, with tape and without it."""

from dataclasses import dataclass

from django.utils.safestring import SafeString

from plant.web.svg import canvas
from plant.web.svg.canvas import figure
from plant.web.svg.curves import Curve, CurvePlot, Level, Points, Post, Table, curve_plot, curve_table
from plant.web.svg.sizes import Audience


@dataclass(frozen=True)
class MarginPlot:
    """Least stress across the bare lane at the entry (kPa; below 0: pressed together) over misalignment (mm/m).

    `roller_limit_kpa` is the pressing at which a web on the roller wrinkles, negative; `troughs_*` are the
    misalignments from which the span itself troughs, None where that was not worked out or does not happen.
    """

    title: str
    taped: Points
    bare: Points
    measured_mm_per_m: float | None = None
    roller_limit_kpa: float | None = None
    troughs_taped: float | None = None
    troughs_bare: float | None = None
    audience: Audience = "desk"
    key: str = ""

    @property
    def plot(self) -> CurvePlot:
        """The same as curves."""
        curves = [Curve("bare roller", self.bare, "broken")]
        if self.taped:
            curves.insert(0, Curve("with tape", self.taped))
        levels = [Level(0.0, "flat above 0")]
        limit = canvas.finite(self.roller_limit_kpa)
        if limit is not None:
            levels.append(Level(limit, f"wrinkles on the roller below {figure(float(f'{limit:.3g}'))} kPa", "refused"))
        named = (
            (self.measured_mm_per_m, "measured", "plain"),
            (self.troughs_taped, "span troughs with tape", "caution"),
            (self.troughs_bare, "span troughs bare", "caution"),
        )
        posts = [
            Post(number, f"{words} {figure(float(f'{number:.2g}'))} mm/m", tone)
            for value, words, tone in named
            if (number := canvas.finite(value)) is not None
        ]
        return CurvePlot(
            title=self.title,
            curves=tuple(curves),
            x_name="misalignment, mm/m",
            y_name="least stress across, kPa",
            levels=tuple(levels),
            posts=tuple(posts),
            said="An indicator, not a verdict.",
            audience=self.audience,
            key=self.key or canvas.key_of("margin", self.title),
        )


def margin_plot(margin: MarginPlot) -> SafeString:
    """The SVG of the margin against misalignment."""
    return curve_plot(margin.plot)


def margin_table(margin: MarginPlot) -> Table:
    """Its figures."""
    return curve_table(margin.plot)
