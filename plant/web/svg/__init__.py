"""Drawings as pure functions: values in, an SVG string with its text alternative out. No ORM, no request.

    from plant.web.svg import Band, RollerDrawing, roller_drawing
    roller_drawing(RollerDrawing(code="A05", face_mm=1800, diameter_mm=120, web_width_mm=1500, wander_mm=5,
        rotation="cw", wrap_deg=120, tail="trails", state="taped", product="SF-17", audience="tablet",
        bands=(Band("operator", 600, 792, wraps=4, tape_mm=0.14), Band("drive", 600, 792, wraps=4, tape_mm=0.14))))

    from plant.web.svg import LineDrawing, Step, line_drawing
    line_drawing(LineDrawing(name="Line B", product="CP-70", audience="desk", steps=(
        Step("B03", "steering", 200, 180, "cw", state="bare", href="/rollers/B03/"),
        Step("B04", "idler", 160, 85, "ccw", state="taped", state_text="taped × 1", verdict="refused",
             attention="blocked", href="/rollers/B04/"))))
    A step's `state` is bare, taped, partial, residue or unknown; `attention` is "", do or blocked.

    from plant.web.svg import Bar, Bars, ProductPoint, StrainProfile, Taped, WindowPlot, Zone
    window_plot(WindowPlot("A05, T1 crepe", most_wraps=8,
        zones=(Zone("target", lower=((40, 2.1), (80, 4.2)), upper=((40, 4.2), (80, 8.4)), words="target 1.2 to 1.4"),),
        points=(ProductPoint("SF-17", 50, 4, "fits", low_n_per_m=45, high_n_per_m=55),)))
    strain_profile(StrainProfile("A05 with SF-17", points=((-750, 3.19), (-600, 3.19), (-600, 2.26), (600, 2.26)),
        mean_pct=2.451, taped=(Taped(-750, -600), Taped(600, 750)), caution_pct=4.0, refuse_pct=6.4))
    bars(Bars("Checks of B09", bars=(Bar("Edge ratio", 1.24, "fits", caution=1.6, refuse=2.0, digits=2),)))

    span_map(SpanMap("SF-17 on A05", along_mm, across_mm, cd_kpa, shift_mm)), margin_plot(MarginPlot(...)),
    curve_plot(CurvePlot(...)), tornado(Tornado(...)), strain_ladder(Ladder(...)), lathe_profile(LatheProfile(...)):
    each has a sister that gives its figures for the `grid` tag (span_table, margin_table, curve_table, ...).

In a template, put the result on a sheet: {% drawing svg "Line B, path 1" cells %}. `audience` is desk, tablet or
paper and decides the width and the size of the letters. Two drawings of one thing on one page need two `key`s.
What is None is drawn as *not recorded*. Ends are always operator (left) and drive (right), seen facing the roller.
"""

from plant.web.svg.bands import Band, End, RollerDrawing
from plant.web.svg.bars import Bar, Bars, bars
from plant.web.svg.curves import Curve, CurvePlot, Level, Post, Table, curve_plot, curve_table
from plant.web.svg.ladder import Ladder, Rung, ladder_table, strain_ladder
from plant.web.svg.lathe import LatheProfile, lathe_profile, lathe_table
from plant.web.svg.line import LineDrawing, Step, line_drawing
from plant.web.svg.margin import MarginPlot, margin_plot, margin_table
from plant.web.svg.profile import StrainProfile, Taped, strain_profile
from plant.web.svg.roller import roller_drawing
from plant.web.svg.sizes import Audience
from plant.web.svg.spanmap import SpanMap, span_map, span_table
from plant.web.svg.tornado import Lever, Tornado, tornado, tornado_table
from plant.web.svg.windowplot import ProductPoint, TriedWorse, WindowPlot, Zone, window_plot

__all__ = [
    "Audience",
    "Band",
    "Bar",
    "Bars",
    "Curve",
    "CurvePlot",
    "End",
    "Ladder",
    "LatheProfile",
    "Level",
    "Lever",
    "LineDrawing",
    "MarginPlot",
    "Post",
    "ProductPoint",
    "RollerDrawing",
    "Rung",
    "SpanMap",
    "Step",
    "StrainProfile",
    "Table",
    "Taped",
    "Tornado",
    "TriedWorse",
    "WindowPlot",
    "Zone",
    "bars",
    "curve_plot",
    "curve_table",
    "ladder_table",
    "lathe_profile",
    "lathe_table",
    "line_drawing",
    "margin_plot",
    "margin_table",
    "roller_drawing",
    "span_map",
    "span_table",
    "strain_ladder",
    "strain_profile",
    "tornado",
    "tornado_table",
    "window_plot",
]
