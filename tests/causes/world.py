"""A stretch film line of nine rollers in path order, as many tests about causes start from."""

from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Any
from uuid import uuid4

from plant.floor.models import Position, ProductVersion, WebPath
from plant.web.quantities import Typed
from rollers.causes.causerows import rows_for
from rollers.causes.models import CauseSheet, Sighting, Walk, WalkResult
from rollers.causes.services.sheets import check_cause, close_sheet, open_sheet, skip_cause
from rollers.causes.services.sightings import report_sighting
from rollers.causes.services.walks import conclude_walk, record_look, start_walk
from rollers.models import Calibration, Gauge
from tests import make

# code, diameter mm, wrap degrees, entry span mm, kind
ROLLERS = (
    ("A01", 250, 180, 800, "chill"),
    ("A02", 120, 60, 900, "idler"),
    ("A03", 120, 90, 1100, "idler"),
    ("A04", 150, 45, 700, "load-cell"),
    ("A05", 120, 120, 1400, "idler"),
    ("A06", 120, 35, 600, "idler"),
    ("A07", 200, 180, 500, "nip"),
    ("A08", 120, 80, 900, "idler"),
    ("A09", 300, 160, 400, "winder-drum"),
)
MEASURED = {
    "misalignment": ("0.07", "mm/m"),
    "deflection": ("0.04", "mm/m"),
    "diameter": ("0.02", "mm"),
    "lane": ("0.01", "%"),
    "air": ("0.4", "1"),
    "tension": ("-3", "%"),
    "swing": ("4", "%"),
    "drag": ("2", "%"),
}


@dataclass
class Stretch:
    """Line A with its film."""

    cast: Any
    path: WebPath
    film: ProductVersion
    gauge: Gauge

    def __getitem__(self, code: str) -> Position:
        return Position.objects.select_related("line", "room").get(code=code)

    def seen(self, grade: int, before: str = "A06", after: str = "A05", **more: Any) -> Sighting:
        place = {"before": self[before], "after": self[after]} if before else {}
        asked = {"key": uuid4(), "grade": grade, "by": self.cast.ines, "at": make.AT, **place, **more}
        return report_sighting(self.path.line, **asked)

    def walk(self, starts_from: str = "A06", by: Any = None, **looks: str) -> tuple[Walk, WalkResult]:
        by = by or self.cast.dara
        made = start_walk(
            self.path,
            key=uuid4(),
            product_version=self.film,
            starts_from=self[starts_from],
            by=by,
            at=make.AT,
        )
        for code, seen in looks.items():
            record_look(made, self[code], key=uuid4(), seen=seen, by=by, at=make.AT)
        return made, conclude_walk(made, by=by, at=make.AT)

    def walked_to_a05(self) -> tuple[Walk, WalkResult]:
        return self.walk(A06="crease", A05="crease", A04="clean", A03="clean", A02="clean", A01="clean")

    def sheet(
        self, code: str = "A05", *, close: bool = True, skip: tuple[str, ...] = ("temperature",), **values: Any
    ) -> CauseSheet:
        opened = open_sheet(self[code], self.film, by=self.cast.dara, at=make.AT)
        measured = MEASURED | values
        for row in rows_for(self.film.product.family):
            if row.code in skip or row.code not in measured:
                skip_cause(opened, row.code, reason="no gauge on this shift", by=self.cast.dara, at=make.AT)
                continue
            figure, unit = measured[row.code]
            gauge = self.gauge if row.code == "misalignment" else None
            check_cause(opened, row.code, value=Typed(figure, unit), gauge=gauge, by=self.cast.dara, at=make.AT)
        return close_sheet(opened, by=self.cast.dara, at=make.AT) if close else opened


def stretch_line(cast: Any) -> Stretch:
    """Plant, line, film, and a level that was calibrated."""
    make.plant()
    line, room = make.line("A"), make.room("G1")
    path = make.web_path(line)
    for number, (code, diameter, wrap, span, kind) in enumerate(ROLLERS):
        make.position(
            code,
            path=path,
            room=room,
            diameter_mm=diameter,
            wrap_deg=wrap,
            entry_span_mm=span,
            kind=kind,
            rotation=("cw", "ccw")[number % 2],
        )
    film = make.product("SF-17", line, width=1500, thickness=17, modulus=120, tension=50, speed=280, friction=0.35)
    gauge = Gauge.objects.create(code="LV-1", name="Optical level")
    Calibration.objects.create(
        gauge=gauge,
        certificate="K-1",
        done_on=(make.AT - timedelta(days=30)).date(),
        due_on=(make.AT + timedelta(days=300)).date(),
        uncertainty=0.02,
        unit="mm/m",
        at=make.LONG_AGO,
    )
    make.shift(cast.ines, cast.dara, cast.hanna, cast.yuki, cast.kwame)
    return Stretch(cast, path, film, gauge)


def later(**more: float) -> datetime:
    """A moment after the fixed one."""
    return make.AT + timedelta(**more)
