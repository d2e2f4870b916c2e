"""The invented cause hunt of the works: looks for two weeks, the Monday of A05, and two studies.

46 wrinkles in 120 000 m before the tape at A05 and 9 in 130 000 m after; 5 breaks in 210 h before the tape at B09 and
3 in 230 h after. All figures are invented.
"""

from collections.abc import Callable
from datetime import datetime, timedelta
from typing import Any, Protocol
from uuid import NAMESPACE_URL, UUID, uuid5

from plant.floor.queries import current_version
from plant.web.quantities import Typed
from rollers.causes.causerows import rows_for
from rollers.causes.models import Study, Walk
from rollers.causes.queries import newest_sheet
from rollers.causes.services import exposures
from rollers.causes.services.deciding import decide
from rollers.causes.services.remarks import remark
from rollers.causes.services.sheets import check_cause, close_sheet, open_sheet, skip_cause
from rollers.causes.services.sightings import report_sighting
from rollers.causes.services.studies import plan_study, work_out
from rollers.causes.services.walks import conclude_walk, record_look, start_walk
from rollers.services.importing import take_in

Scene = tuple[int, str, Callable[[datetime], object]]
DAY = timedelta(days=1)
MEASURED = {
    "misalignment": ("0.07", "mm/m"),
    "deflection": ("0.05", "mm/m"),
    "diameter": ("0.02", "mm"),
    "lane": ("0.01", "%"),
    "air": ("0.3", "1"),
    "tension": ("-3", "%"),
    "swing": ("4", "%"),
    "drag": ("2", "%"),
}
# Day, clock, who, grade, roller before the span, roller after it, lane, direction.
LOOKS = (
    (-10, "07:10", "ines", 2, "A05", "A06", "centre", "md"),
    (-9, "13:20", "ines", 3, "A05", "A06", "operator", "md"),
    (-8, "09:05", "ines", 0, "A02", "A03", "", ""),
    (-8, "09:10", "ines", 3, "A05", "A06", "operator", "md"),
    (-7, "11:30", "hanna", 2, "A05", "A06", "centre", "md"),
    (-6, "08:15", "ines", 0, "A07", "A08", "", ""),
    (-4, "07:40", "ines", 3, "A05", "A06", "operator", "md"),
    (-4, "07:45", "ines", 1, "A06", "A07", "centre", "md"),
    (-3, "12:50", "ines", 4, "A05", "A06", "operator", "md"),
    (-3, "13:05", "ines", 0, "A03", "A04", "", ""),
    (-9, "10:20", "tomas", 2, "B03", "B04", "operator", "toward-drive"),
    (-5, "15:30", "tomas", 1, "B11", "B12", "drive", "toward-operator"),
    (-4, "09:30", "tomas", 0, "B08", "B09", "", ""),
)
AFTERWARDS = (
    (0, "10:40", "ines", 0, "A05", "A06", "", ""),
    (0, "10:45", "ines", 0, "A06", "A07", "", ""),
    (1, "07:30", "ines", 0, "A05", "A06", "", ""),
    (1, "07:35", "ines", 0, "A06", "A07", "", ""),
    (2, "08:10", "ines", 1, "A05", "A06", "operator", "md"),
    (3, "07:25", "ines", 0, "A05", "A06", "", ""),
    (5, "09:20", "ines", 0, "A05", "A06", "", ""),
)


class World(Protocol):
    """What of the demo is needed here."""

    week: Any
    people: Any
    works: Any
    gauges: Any


def _key(*parts: object) -> UUID:
    return uuid5(NAMESPACE_URL, "tarn-hollow/" + "/".join(str(part) for part in parts))


def _look(world: World, row: tuple[Any, ...]) -> Scene:
    day, clock, who, grade, after, before, lane, direction = row

    def act(at: datetime) -> None:
        report_sighting(
            world.works.lines[before[0]],
            key=_key("look", before, at.isoformat()),
            grade=grade,
            after=world.works.positions[after],
            before=world.works.positions[before],
            lane=lane,
            direction=direction,
            by=world.people[who],
            at=at,
        )

    return day, clock, act


def looks_before(world: World) -> list[Scene]:
    """Two weeks in which people looked, and often saw it at A06."""
    return [_look(world, row) for row in LOOKS]


def hunt(world: World, now: datetime) -> list[Scene]:
    """Monday at line A: seen at A06, walked back to A05, causes checked, tape decided, the study fixed."""
    film = world.works.products["SF-17"]
    place, dara = world.works.positions["A05"], world.people["dara"]
    last = max((k for k in range(7) if world.week.at(k, "20:00") <= now), default=6)

    def walk(at: datetime) -> None:
        made = start_walk(
            world.works.paths["A"],
            key=_key("walk", at.isoformat()),
            product_version=current_version(film),
            starts_from=world.works.positions["A06"],
            by=dara,
            at=at,
        )
        for code, seen in (("A06", "crease"), ("A05", "crease"), ("A04", "clean"), ("A03", "clean")):
            _look_in(made, code, seen, at)
        for code in ("A02", "A01"):
            _look_in(made, code, "clean", at)
        conclude_walk(made, by=dara, at=at + timedelta(minutes=4))

    def _look_in(made: Walk, code: str, seen: str, at: datetime) -> None:
        key = _key("walk", at.isoformat(), code)
        record_look(made, world.works.positions[code], key=key, seen=seen, by=dara, at=at)

    def causes(at: datetime) -> None:
        sheet = open_sheet(place, current_version(film), walk=Walk.objects.order_by("-pk").first(), by=dara, at=at)
        for row in rows_for(film.family):
            if row.code not in MEASURED:
                skip_cause(sheet, row.code, reason="The surface pyrometer is at calibration", by=dara, at=at)
                continue
            figure, unit = MEASURED[row.code]
            gauge = world.gauges.get("LV-1") if row.code == "misalignment" else None
            check_cause(sheet, row.code, value=Typed(figure, unit), gauge=gauge, by=dara, at=at)

    def close(at: datetime) -> None:
        sheet = newest_sheet(place)
        if sheet is not None:
            close_sheet(sheet, by=dara, at=at)

    def choose(at: datetime) -> None:
        decide(
            place,
            products=[world.works.products[code] for code in ("SF-17", "SF-23", "SF-30")],
            answer="tape",
            reason="Crease from A05 on, every measured cause passes; the web is slack across after the long span",
            by=dara,
            at=at,
        )

    def plan(at: datetime) -> None:
        middle, end = at + timedelta(hours=3), at + timedelta(hours=12) + last * DAY
        asked: dict[str, Any] = {"product": film, "what": "T1, four wraps, both ends", "by": dara, "at": at}
        windows: dict[str, Any] = {"before": (at - 12 * DAY, at), "after": (middle, end)}
        plan_study(place, measure="wrinkles", saved_per_event=18.0, cost=240.0, **windows, **asked)
        plan_study(place, measure="waste", saved_per_event=1.4, **windows, **asked)
        _bring_in(world, _stretch_rolls("B", at - 11 * DAY, 9 * DAY, 46, 6000, 6.2), at, "rolls before.csv")

    def bring(at: datetime) -> None:
        start = at - last * DAY - timedelta(hours=9)
        _bring_in(world, _stretch_rolls("N", start, at - start, 9, 6500, 4.6), at, "rolls after.csv")

    def result(at: datetime) -> None:
        for study in Study.objects.filter(position=place):
            work_out(study, by=dara, at=at)

    seen = _look(world, (0, "06:30", "ines", 3, "A05", "A06", "operator", "md"))
    scenes: list[Scene] = [
        seen,
        (0, "06:50", walk),
        (0, "07:05", causes),
        (0, "07:30", close),
        (0, "07:40", choose),
        (0, "07:45", plan),
        *(_look(world, row) for row in AFTERWARDS),
        (last, "20:00", bring),
        (last, "20:10", result),
    ]
    return scenes


def _counts(total: int, rolls: int) -> list[int]:
    """So many events over so many rolls as evenly as they go."""
    return [total * (n + 1) // rolls - total * n // rolls for n in range(rolls)]


def _stretch_rolls(
    letter: str, start: datetime, reach: timedelta, events: int, metres: float, waste: float
) -> list[dict[str, str]]:
    """Twenty rolls of stretch film, evenly over the time."""
    rows, step = [], reach / 20
    for n, count in enumerate(_counts(events, 20)):
        begin = start + n * step
        rows.append(
            {
                "roll": f"SF-{letter}{n + 1:02d}-{start:%m%d}",
                "line": "A",
                "product": "SF-17",
                "starts": begin.isoformat(timespec="seconds"),
                "ends": (begin + timedelta(minutes=24)).isoformat(timespec="seconds"),
                "length": f"{metres:g}",
                "length_unit": "m",
                "running": f"{metres / 280 / 60:.3f}",
                "running_unit": "h",
                "waste": f"{waste + 0.3 * (n % 5 - 2):.1f}",
                "waste_unit": "kg",
                "made": f"{metres * 0.0235:.0f}",
                "made_unit": "kg",
                "wrinkles": str(count),
                "breaks": "",
                "tension": "50",
                "tension_unit": "N/m",
                "speed": "280",
                "speed_unit": "m/min",
            }
        )
    return rows


def _film_periods(letter: str, start: datetime, reach: timedelta, events: int, periods: int) -> list[dict[str, str]]:
    """Stretches of ten running hours of matt film, with their breaks."""
    rows, step = [], reach / periods
    for n, count in enumerate(_counts(events, periods)):
        begin = start + n * step
        rows.append(
            {
                "roll": f"BO-{letter}{n + 1:02d}-{start:%m%d}",
                "line": "B",
                "product": "BO-35",
                "starts": begin.isoformat(timespec="seconds"),
                "ends": (begin + timedelta(hours=10)).isoformat(timespec="seconds"),
                "length": "132000",
                "length_unit": "m",
                "running": "10",
                "running_unit": "h",
                "wrinkles": "",
                "breaks": str(count),
                "tension": "180",
                "tension_unit": "N/m",
                "speed": "220",
                "speed_unit": "m/min",
            }
        )
    return rows


def _bring_in(world: World, rows: list[dict[str, str]], at: datetime, name: str) -> None:
    content = exposures.as_file(rows).encode()
    take_in(exposures.KIND, content, file_name=name, by=world.people["dara"], at=at)


def breaks_at_b09(world: World) -> list[Scene]:
    """The tape of the go-live at B09: its breaks are studied over two weeks, and prove nothing yet."""
    place, dara = world.works.positions["B09"], world.people["dara"]

    def plan(at: datetime) -> None:
        rows = _film_periods("V", at - 14 * DAY, 13 * DAY, 5, 21)
        _bring_in(world, rows, at, "periods before.csv")
        plan_study(
            place,
            product=world.works.products["BO-35"],
            measure="breaks",
            what="T5, one wrap, both ends",
            before=(at - 15 * DAY, at),
            after=(at + timedelta(hours=3), at + 13 * DAY - timedelta(hours=2)),
            by=dara,
            at=at,
        )

    def result(at: datetime) -> None:
        start = at - 13 * DAY + timedelta(hours=6)
        _bring_in(world, _film_periods("W", start, timedelta(hours=280), 3, 23), at, "periods after.csv")
        for study in Study.objects.filter(position=place):
            work_out(study, by=dara, at=at)

    def propose(at: datetime) -> None:
        text = "Before any tape at B12: lower the tension of the zone by a tenth for one roll and look again."
        remark(world.works.positions["B12"], kind="proposal", text=text, by=world.people["pia"], at=at)

    return [(-13, "07:00", plan), (0, "05:00", result), (-2, "10:00", propose)]
