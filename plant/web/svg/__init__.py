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

    window_plot(WindowPlot(...)), strain_profile(StrainProfile(...)), bars(Bars(...)): see their modules.

In a template, put the result on a sheet: {% drawing svg "Line B, path 1" cells %}. `audience` is desk, tablet or
paper and decides the width and the size of the letters. Two drawings of one thing on one page need two `key`s.
What is None is drawn as *not recorded*. Ends are always operator (left) and drive (right), seen facing the roller.
"""

from plant.web.svg.line import LineDrawing, Step, line_drawing
from plant.web.svg.roller import Band, RollerDrawing, roller_drawing

__all__ = ["Band", "LineDrawing", "RollerDrawing", "Step", "line_drawing", "roller_drawing"]
