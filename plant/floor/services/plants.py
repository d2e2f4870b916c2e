"""Setting up the one plant of this installation."""

from datetime import datetime
from zoneinfo import available_timezones

from django.db import transaction

from plant.audit.services import record
from plant.errors import Refused
from plant.floor import rules
from plant.floor.models import Plant, Shift
from plant.people.access import require_role
from plant.people.models import Person, Role

STREAM = "floor"


def _checked_zone(name: str) -> str:
    if name not in available_timezones() or "/" not in name:
        sentence = f"{name!r} is no time zone known here. Write it as region and city, for example Europe/Vienna."
        raise Refused("no-zone", sentence, field="time_zone")
    return name


@transaction.atomic
def set_up_plant(
    *, code: str, name: str, time_zone: str, by: Person, at: datetime, units: str = Plant.Units.SI
) -> Plant:
    """Enter the plant with its clock; it is entered once."""
    require_role(by, Role.KEEPER, Role.ENGINEER, at=at, act="Setting up the plant")
    there = Plant.objects.first()
    if there is not None:
        sentence = f"This installation serves {there.name} already; one installation serves one plant."
        raise Refused("plant-there", sentence)
    plant = Plant.objects.create(
        code=rules.checked_code(code, what="plant", most=12),
        name=rules.checked_name(name, what="plant"),
        time_zone=_checked_zone(time_zone.strip()),
        units=Plant.Units(units),
    )
    record(
        stream=STREAM,
        action="set-up-plant",
        subject=plant,
        sentence=f"plant {plant.name} set up, clock {plant.time_zone}",
        by=by,
        at=at,
        facts={"code": plant.code, "time_zone": plant.time_zone, "units": plant.units},
    )
    return plant


@transaction.atomic
def change_plant(plant: Plant, *, name: str, time_zone: str, units: str, by: Person, at: datetime) -> Plant:
    """Change name or usual units; the clock only as long as no shift was planned by it."""
    require_role(by, Role.KEEPER, Role.ENGINEER, at=at, act="Changing the plant's page")
    plant = Plant.objects.select_for_update().get(pk=plant.pk)
    before = {"name": plant.name, "time_zone": plant.time_zone, "units": plant.units}
    zone = _checked_zone(time_zone.strip())
    if zone != plant.time_zone and Shift.objects.exists():
        sentence = (
            f"Shifts are planned by the clock of {plant.time_zone}, so the clock stays. "
            "If it is wrong, ask the system keeper before anything else is recorded."
        )
        raise Refused("clock-in-use", sentence, field="time_zone")
    plant.name, plant.time_zone = rules.checked_name(name, what="plant"), zone
    plant.units = Plant.Units(units)
    plant.save()
    record(
        stream=STREAM,
        action="change-plant",
        subject=plant,
        sentence=f"page of plant {plant.name} changed",
        by=by,
        at=at,
        facts={"before": before, "name": plant.name, "time_zone": plant.time_zone, "units": plant.units},
    )
    return plant
