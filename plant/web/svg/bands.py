"""What the drawing of a roller shows: the roller, its bands, and the same in words."""

from dataclasses import dataclass, replace
from typing import Literal

from plant.web.svg import canvas
from plant.web.svg.canvas import figure
from plant.web.svg.endview import EndView

End = Literal["operator", "drive"]
OTHER_END: dict[str, End] = {"operator": "drive", "drive": "operator"}
LEFT_IS_OPERATOR = {"operator": -1.0, "drive": 1.0}
VIEWPOINT = "Seen facing the roller, operator end at your left."


@dataclass(frozen=True)
class Band:
    """One band of tape. Edges in mm from the roller centre; `stairs` are the wraps per lane, inside to outside."""

    end: End
    inner_mm: float
    outer_mm: float
    wraps: int
    tape_mm: float | None = None
    stairs: tuple[int, ...] = ()

    @property
    def lanes(self) -> tuple[int, ...]:
        return self.stairs or (self.wraps,)

    @property
    def wraps_text(self) -> str:
        if len(set(self.lanes)) > 1:
            return "stairs " + "-".join(str(wraps) for wraps in self.lanes) + " wraps"
        return f"{self.lanes[0]} wrap" + ("" if self.lanes[0] == 1 else "s")


@dataclass(frozen=True)
class RollerDrawing:
    """All that the drawing of one roller shows. What is None is drawn as *not recorded*, never guessed."""

    code: str
    face_mm: float | None
    diameter_mm: float | None
    web_width_mm: float | None = None
    wander_mm: float = 0.0
    web_offset_mm: float = 0.0
    bands: tuple[Band, ...] = ()
    state: str = ""
    rotation: Literal["cw", "ccw"] | None = None
    wrap_deg: float | None = None
    web_over: Literal["top", "bottom"] = "top"
    tail: Literal["trails", "leads", "none"] | None = None
    turned_end_for_end: bool = False
    product: str = ""
    audience: Literal["desk", "tablet", "paper"] = "desk"
    key: str = ""

    def swapped(self, key: str = "") -> "RollerDrawing":
        """The same roller with its ends exchanged: what turning it end for end makes of it."""
        bands = tuple(replace(band, end=OTHER_END[band.end]) for band in self.bands)
        tail = {"trails": "leads", "leads": "trails"}.get(self.tail or "", self.tail)
        return replace(
            self,
            bands=bands,
            tail=tail,  # type: ignore[arg-type]
            web_offset_mm=-self.web_offset_mm,
            turned_end_for_end=not self.turned_end_for_end,
            key=key or self.key,
        )


def describe(drawing: RollerDrawing) -> str:
    """The drawing in words, for those who do not see it and for the record."""
    said = [f"Roller {drawing.code}, face {figure(drawing.face_mm)} mm, diameter {figure(drawing.diameter_mm)} mm."]
    if canvas.positive(drawing.web_width_mm):
        said.append(f"Web {figure(drawing.web_width_mm)} mm wide, each edge wanders ±{figure(drawing.wander_mm)} mm.")
    for band in sorted(drawing.bands, key=lambda one: (one.end != "operator", one.inner_mm)):
        edges = f"from {figure(band.inner_mm)} to {figure(band.outer_mm)} mm"
        said.append(f"{band.end.capitalize()} end: {band.wraps_text} {edges}.")
    if not drawing.bands:
        said.append("No tape." if drawing.state in ("", "bare") else f"State {drawing.state}, no bands recorded.")
    if drawing.turned_end_for_end:
        said.append("Warning: the body was turned end for end.")
    said.append(VIEWPOINT)
    said.append(EndView.of(drawing).words)
    return " ".join(said)
