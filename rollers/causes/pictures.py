"""From rows to what the drawings of causes are made of."""

from collections.abc import Iterable
from datetime import datetime, timedelta
from zoneinfo import ZoneInfo

from plant.web.svg.curves import Curve, CurvePlot, Post
from plant.web.svg.pathmargins import PathBar, PathMargins
from plant.web.svg.ratios import RatioRow, Ratios
from plant.web.svg.wrinklemap import LANES, Seen, WrinkleMap
from rollers.causes.models import Sighting, Study, StudyResult
from rollers.causes.ranking import PathRanking
from rollers.causes.services.sightings import words_of

SHOWN_DAYS = 14


def map_of(
    title: str, codes: Iterable[str], rows: Iterable[Sighting], *, until: datetime, zone: ZoneInfo
) -> WrinkleMap:
    """The looks of the last two weeks: roller, lane, day."""
    last = until.astimezone(zone).date()
    first = last - timedelta(days=SHOWN_DAYS - 1)
    seen = []
    for row in rows:
        local = row.at.astimezone(zone)
        day = (local.date() - first).days + (local.hour + local.minute / 60) / 24
        if 0 <= day < SHOWN_DAYS and row.before is not None:
            lane = row.lane if row.lane in LANES else ""
            seen.append(Seen(row.before.code, row.grade, day, lane, f"{local:%a %H:%M}, {words_of(row)}"))
    days = tuple(f"{(first + timedelta(days=n)):%a %-d %b}" for n in range(SHOWN_DAYS))
    return WrinkleMap(title, tuple(codes), tuple(seen), days)


def margins_picture(found: PathRanking, named: str = "", key: str = "") -> PathMargins:
    """How near each roller is, in path order."""
    bars = []
    for row in found.rows:
        margins, code = row.margins, row.step.position.code
        if margins is None:
            bars.append(PathBar(code, None))
            continue
        note = "floats" if margins.kept <= 0 else "less grip" if margins.kept < 1 else ""
        bars.append(PathBar(code, max(margins.nearness, 0.001), margins.is_assumed, note, code == named))
    title = f"{found.version.product.code} at {found.at.tension_n_per_m:g} N/m, {found.at.speed_m_per_min:g} m/min"
    return PathMargins(title, tuple(bars), key=key)


def ratios_picture(title: str, rows: Iterable[tuple[Study, StudyResult]], key: str = "") -> Ratios:
    """Every counted measure with its interval."""
    found = [
        RatioRow(
            study.get_measure_display(),
            result.answer.get("ratio"),
            result.answer.get("low"),
            result.answer.get("high"),
            result.verdict,
        )
        for study, result in rows
        if study.measure != Study.Measure.WASTE
    ]
    return Ratios(title, tuple(found), key=key)


def run_chart(
    study: Study, result: StudyResult, events: Iterable[tuple[datetime, str]], key: str = ""
) -> CurvePlot | None:
    """Rate roll by roll in the order of time, with what was done to tape."""
    answer = result.answer
    rows = [(side, row) for side in ("before", "after") for row in answer["rows"][side]]
    if len(rows) < 2 or "rate" not in answer.get("before", {}):
        return None
    points: list[tuple[float, float]] = []
    starts = [datetime.fromisoformat(row["starts"]) for _, row in rows]
    for number, (_, row) in enumerate(rows):
        points.append((number + 1.0, _rate(study.measure, row)))
    first = len(answer["rows"]["before"])
    means = [
        Curve(
            "mean before", ((1.0, answer["before"]["rate"]), (float(max(first, 2)), answer["before"]["rate"])), "broken"
        ),
        Curve(
            "mean after",
            ((first + 1.0, answer["after"]["rate"]), (float(len(rows)), answer["after"]["rate"])),
            "dotted",
        ),
    ]
    posts = []
    for at, words in list(events)[:6]:
        place = sum(start < at for start in starts) + 0.5
        posts.append(Post(place, words, "notice"))
    return CurvePlot(
        f"{study.get_measure_display()}, roll by roll",
        (Curve("each roll", tuple(points)), *means),
        "rolls in the order of time",
        study.get_measure_display(),
        posts=tuple(posts),
        key=key,
    )


def _rate(measure: str, row: dict[str, float | None]) -> float:
    if measure == "waste":
        return 100 * (row["waste_kg"] or 0.0) / (row["made_kg"] or 1.0)
    if measure == "wrinkles":
        return 10_000 * (row["wrinkles"] or 0.0) / (row["length_m"] or 1.0)
    return 100 * (row["breaks"] or 0.0) / (row["running_h"] or 1.0)
