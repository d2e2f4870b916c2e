"""Reads about the plant, its lines, products and shifts."""

from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta
from zoneinfo import ZoneInfo

from django.db.models import Count, Prefetch, Q, QuerySet

from plant.errors import Refused
from plant.floor import rules
from plant.floor.models import Line, PathStep, Plant, Position, Product, ProductVersion, Room, RoomClass, Shift, WebPath
from plant.people.models import Person
from plant.people.queries import active_people


def plant_or_none() -> Plant | None:
    """The plant, once it is set up."""
    return Plant.objects.first()


def the_plant() -> Plant:
    """The plant of this installation.

    Raises
    ------
    Refused
        Before it is set up.
    """
    plant = plant_or_none()
    if plant is None:
        sentence = "The plant is not set up yet. A system keeper or process engineer starts at Set up the plant."
        raise Refused("no-plant", sentence)
    return plant


def plant_zone() -> ZoneInfo:
    """The plant's clock; UTC before the plant is set up."""
    plant = plant_or_none()
    return ZoneInfo(plant.time_zone) if plant else ZoneInfo("UTC")


def plant_date(at: datetime) -> date:
    """The calendar day in plant time."""
    return at.astimezone(plant_zone()).date()


def room_kind(room: Room, at: datetime) -> str:
    """The class of a room at a moment.

    Raises
    ------
    Refused
        When no class was recorded for that moment.
    """
    found = _classes_at(at).filter(room=room).values_list("kind", flat=True).first()
    if found is None:
        sentence = f"No class is recorded for room {room.code} at {at:%Y-%m-%d %H:%M} UTC. Ask QA to record it."
        raise Refused("no-room-class", sentence)
    return found


def room_kinds(at: datetime) -> dict[int, str]:
    """The class of every room at a moment, by room id."""
    return dict(_classes_at(at).values_list("room", "kind"))


def _classes_at(at: datetime) -> QuerySet[RoomClass]:
    return RoomClass.objects.filter(Q(valid_from__lte=at) & (Q(valid_to=None) | Q(valid_to__gt=at)))


def shift_at(at: datetime) -> Shift | None:
    """The shift that runs at a moment."""
    return Shift.objects.filter(starts_at__lte=at, ends_at__gt=at).first()


def on_shift(at: datetime) -> list[Person]:
    """Who is on shift at a moment, by name, without those who left; nobody where no shift is entered for it."""
    present = Shift.objects.filter(starts_at__lte=at, ends_at__gt=at)
    return list(active_people(at).filter(shifts__in=present).distinct().order_by("name", "pk"))


def shifts_after(at: datetime, days: int) -> QuerySet[Shift]:
    """Planned shifts that begin after a moment, within so many days, the next first."""
    return Shift.objects.filter(starts_at__gt=at, starts_at__lte=at + timedelta(days=days)).order_by("starts_at")


def shifts_between(first: date, last: date) -> QuerySet[Shift]:
    """Planned shifts that start on these dates, with their crews."""
    return Shift.objects.filter(date__gte=first, date__lte=last).prefetch_related("crew")


def week_of(day: date) -> tuple[date, date]:
    """Monday and Sunday of the week."""
    monday = day - timedelta(days=day.weekday())
    return monday, monday + timedelta(days=6)


@dataclass(frozen=True)
class LineView:
    """A line as the overview shows it."""

    line: Line
    rooms: list[str]
    positions: int
    tapeable: int
    paths: list[WebPath]
    products: int


def lines_overview() -> list[LineView]:
    """Every line with what hangs on it, in four queries whatever their number."""
    lines = Line.objects.annotate(product_count=Count("products", distinct=True)).prefetch_related(
        "positions__room", Prefetch("paths", WebPath.objects.filter(in_use=True))
    )
    return [
        LineView(
            line=line,
            rooms=sorted({position.room.code for position in line.positions.all()}),
            positions=len(line.positions.all()),
            tapeable=sum(not position.never_taped for position in line.positions.all()),
            paths=list(line.paths.all()),
            products=line.product_count,
        )
        for line in lines
    ]


def path_steps(path: WebPath) -> list[PathStep]:
    """The steps of a path in web order, with position and room."""
    return list(path.steps.select_related("position__room", "position__zone").order_by("order"))


def current_versions() -> QuerySet[ProductVersion]:
    """The newest version of every product."""
    return ProductVersion.objects.filter(current=True).select_related("product").order_by("product__code")


def current_version(product: Product) -> ProductVersion:
    """The newest version of one product."""
    return ProductVersion.objects.select_related("product").get(product=product, current=True)


def version_notes(version: ProductVersion, at: datetime) -> list[str]:
    """What is doubtful about a product's figures at a moment."""
    return rules.product_notes(version.modulus_direction, version.modulus_on, plant_date(at))


def local(at: datetime) -> datetime:
    """The moment in plant time."""
    return at.astimezone(plant_zone())


def in_utc(naive: datetime) -> datetime:
    """A plant-time moment typed without offset, in UTC."""
    return naive.replace(tzinfo=plant_zone()).astimezone(UTC)


def rollers_downstream(position: Position, count: int = 2) -> list[str]:
    """Codes of the next rollers of the path in use: where a cure may make a new wrinkle."""
    step = position.steps.filter(path__in_use=True).order_by("-path").first()
    if step is None:
        return []
    after = PathStep.objects.filter(path=step.path_id, order__gt=step.order).order_by("order")
    return list(after.values_list("position__code", flat=True)[:count])
