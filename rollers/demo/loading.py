"""Building the whole demo, all or nothing."""

from datetime import datetime

from django.db import transaction

from plant.floor.models import Plant
from plant.people.models import Person
from rollers.demo.acts import World
from rollers.demo.learning import learning_until
from rollers.demo.recipes import author_and_approve
from rollers.demo.registry import mount_rollers, survey_rooms
from rollers.demo.staff import ask_for_refreshers, enter_staff, plan_weeks, remind, take_over_certificates
from rollers.demo.store import fill_store
from rollers.demo.story import tell
from rollers.demo.week import Week
from rollers.demo.works import build_works, enter_goods


def has_data() -> bool:
    """Whether anybody or any plant is entered here already."""
    return Person.objects.exists() or Plant.objects.exists()


@transaction.atomic
def load(now: datetime) -> World:
    """Build the demo so that its story has come to `now`. Into an empty installation only."""
    world = build(now)
    tell(world, now, beside=learning_until(world, now))
    remind(now)
    return world


def build(now: datetime) -> World:
    """The works with their people, rollers, tapes and recipes, before the story of the week around `now` begins."""
    week = Week.of(now)
    people = enter_staff(week)
    world = World(week, people, build_works(people, week))
    take_over_certificates(people, week)
    enter_goods(world.works, people, week)
    world.gauges = mount_rollers(world.works, people, week)
    survey_rooms(world.works, people, week)
    fill_store(world)
    plan_weeks(people, week)
    ask_for_refreshers(people, week)
    author_and_approve(world)
    return world
