"""Reads about bodies, gauges, stocks and surveys."""

from datetime import date, datetime

from django.db.models import Prefetch, Q, QuerySet

from plant.floor.models import Position, Room
from plant.floor.queries import plant_date
from rollers.models import Body, Calibration, Gauge, Measurement, Mounting, Survey, TapeFact
from rollers.models.tape import TapeState


def tape_state(body: Body) -> str:
    """Bare, taped, partial, residue or unknown: as the newest fact says."""
    state = TapeFact.objects.filter(body=body).order_by("-pk").values_list("state", flat=True).first()
    return state or TapeState.UNKNOWN


def mounted_at(position: Position) -> Mounting | None:
    """What sits at a position now."""
    return Mounting.objects.select_related("body").filter(position=position, removed_at=None).first()


def mounting_of(body: Body) -> Mounting | None:
    """Where a body sits now."""
    return Mounting.objects.select_related("position__line").filter(body=body, removed_at=None).first()


def bodies_with_places() -> QuerySet[Body]:
    """Every body, with where it sits now as `here` (a list of none or one)."""
    now = Mounting.objects.filter(removed_at=None).select_related("position__line", "position__room")
    return Body.objects.prefetch_related(Prefetch("mountings", now, to_attr="here"))


def calibration_at(gauge: Gauge, day: date) -> Calibration | None:
    """The calibration that counted on a day."""
    return gauge.calibrations.filter(done_on__lte=day).order_by("-done_on", "-pk").first()


def overdue_at(gauge: Gauge, at: datetime) -> bool:
    """Whether the gauge had no valid calibration at a moment; it counts through its due day."""
    day = plant_date(at)
    found = calibration_at(gauge, day)
    return found is None or found.due_on < day


def measured_with(gauge: Gauge, since: datetime | None = None) -> QuerySet[Measurement]:
    """What was measured with a gauge, newest first."""
    found = Measurement.objects.filter(gauge=gauge).select_related("body", "position", "stock", "by")
    return found.filter(at__gte=since) if since else found


def gauges_with_calibrations() -> QuerySet[Gauge]:
    """Every gauge with its calibrations, newest first."""
    return Gauge.objects.prefetch_related(Prefetch("calibrations", Calibration.objects.order_by("-done_on", "-pk")))


def open_survey(room: Room) -> Survey | None:
    """The survey of a room that is under way."""
    return Survey.objects.filter(room=room, closed_at=None).first()


def surveyed(room: Room, at: datetime) -> bool:
    """Whether the go-live survey of a room was closed before a moment."""
    return Survey.objects.filter(Q(room=room) & Q(closed_at__lte=at)).exists()


def survey_facts(survey: Survey) -> dict[int, TapeFact]:
    """The newest entry of a survey for each position, by position id."""
    facts = survey.facts.order_by("pk").select_related("body", "position__line", "recipe_version__recipe", "by")
    return {fact.position_id: fact for fact in facts if fact.position_id is not None}
