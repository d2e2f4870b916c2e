"""What can be printed of causes: the whole history of a roller position as one file."""

from dataclasses import replace
from datetime import datetime
from zoneinfo import ZoneInfo

from plant.floor.models import PathStep, Plant
from plant.reports.registry import Page, report
from plant.web.svg.wrinklemap import wrinkle_map
from rollers.access import position_by_code
from rollers.causes.pictures import map_of
from rollers.causes.queries import sightings_of
from rollers.causes.timeline import history_of
from rollers.views.shown import local_text


@report("position-history")
def position_history(subject_id: str, at: datetime) -> Page:
    """Everything seen, measured, decided and done at a roller up to a moment, with the map of its line."""
    position = position_by_code(subject_id)
    plant = Plant.objects.get()
    zone = ZoneInfo(plant.time_zone)
    moments = history_of(position, until=at)
    codes = PathStep.objects.filter(path__line=position.line, path__in_use=True).order_by("path", "order")
    names = list(dict.fromkeys(codes.values_list("position__code", flat=True)))
    rows = sightings_of(position.line).filter(at__lte=at)[:600]
    drawn = map_of(f"Line {position.line.code}, two weeks to the moment of printing", names, rows, until=at, zone=zone)
    context = {
        "plant_name": plant.name,
        "position": position,
        "moments": [{"moment": row, "at": local_text(row.at, zone)} for row in moments],
        "picture": wrinkle_map(replace(drawn, audience="paper")),
        "time_zone": plant.time_zone,
    }
    record = {"position": position.code, "moments": [row.as_dict() for row in moments], "as_of": at}
    return Page(f"History of {position.code}", "causes/reports/history.html", context, record, at)
