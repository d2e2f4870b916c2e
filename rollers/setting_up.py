"""What a new plant still needs, step by step, and where each step is done."""

from dataclasses import dataclass
from datetime import datetime

from django.urls import reverse

from plant.floor.models import Line, PathStep, Position, Product, Room, Shift
from plant.floor.queries import plant_or_none
from plant.people.models import Person
from rollers.models import Mounting, Survey, TapeStock


@dataclass(frozen=True)
class SetupStep:
    """One step: done or not, what it is for, and the page."""

    title: str
    done: bool
    note: str
    url: str
    action: str
    ready: bool = True


@dataclass(frozen=True)
class Progress:
    """All steps; the first that is not done is what comes next."""

    steps: list[SetupStep]

    @property
    def next_step(self) -> SetupStep | None:
        return next((step for step in self.steps if not step.done), None)

    @property
    def done(self) -> int:
        return sum(step.done for step in self.steps)

    @property
    def is_complete(self) -> bool:
        return self.next_step is None


def _rollers_step(positions: int) -> SetupStep:
    line = Line.objects.first()
    mounted = Mounting.objects.filter(removed_at=None).count()
    where = reverse("rollers:enter-rollers", args=[line.code]) if line else reverse("floor:lines")
    note = "Places, rollers and the path of the web: ten at once in a table, or all of them from a CSV file."
    if positions:
        on_path = PathStep.objects.filter(path__in_use=True).count()
        note = f"{positions} positions, {mounted} rollers mounted, {on_path} steps on paths."
    done = bool(mounted) and PathStep.objects.filter(path__in_use=True).exists()
    return SetupStep("Rollers and the web path", done, note, where, "Enter rollers", ready=line is not None)


def setup_progress(at: datetime) -> Progress:
    """What is set up, in the order in which it is needed."""
    plant = plant_or_none()
    rooms, lines, stocks, products = (model.objects.count() for model in (Room, Line, TapeStock, Product))
    people, has_plant = Person.objects.count(), plant is not None
    surveys = Survey.objects.exclude(closed_at=None).values("room").distinct().count()

    def counted(count: int, word: str, otherwise: str) -> str:
        return f"{count} {word}{'' if count == 1 else 's'} entered." if count else otherwise

    steps = [
        SetupStep(
            "The plant and its clock",
            has_plant,
            plant.name if plant else "Name, time zone and units. A minute.",
            reverse("floor:plant"),
            "Set up the plant",
        ),
        SetupStep(
            "A room",
            rooms > 0,
            counted(rooms, "room", "General, food or medical: decides how strict the rules are."),
            reverse("floor:new-room"),
            "Enter a room",
            ready=has_plant,
        ),
        SetupStep(
            "A line",
            lines > 0,
            counted(lines, "line", "The line with its tension zones."),
            reverse("floor:new-line"),
            "Enter a line",
            ready=has_plant,
        ),
        _rollers_step(Position.objects.count()),
        SetupStep(
            "A tape stock",
            stocks > 0,
            counted(stocks, "stock", "Thickness, width, surface, and in which rooms it may be."),
            reverse("rollers:new-stock"),
            "Enter a tape stock",
            ready=has_plant,
        ),
        SetupStep(
            "A product",
            products > 0,
            counted(products, "product", "Width, thickness, modulus, tension and speed with their ranges."),
            reverse("floor:new-product"),
            "Enter a product",
            ready=lines > 0,
        ),
        SetupStep(
            "The people",
            people > 1,
            f"{people} persons entered."
            if people > 1
            else "At least an engineer, a supervisor and a second pair of eyes.",
            reverse("people:join"),
            "Enter a person",
            ready=has_plant,
        ),
        SetupStep(
            "Shifts",
            Shift.objects.filter(ends_at__gt=at).exists(),
            "Who is on shift is asked whenever a certified person is needed.",
            reverse("floor:shifts"),
            "Plan shifts",
            ready=has_plant,
        ),
        SetupStep(
            "What is on every roller",
            rooms > 0 and surveys >= Room.objects.filter(positions__mountings__removed_at=None).distinct().count() > 0,
            "The survey of each room, closed by QA: from then on tape without a record is a finding.",
            reverse("rollers:surveys"),
            "Survey the rooms",
            ready=Mounting.objects.exists(),
        ),
    ]
    return Progress(steps)
