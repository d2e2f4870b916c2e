"""Private addresses of calendars: made by the person, replaced when lost, ended at any time."""

import hashlib
import secrets
from datetime import datetime

from django.db import transaction

from plant.audit.services import record
from plant.errors import NotFound
from plant.floor.queries import the_plant
from plant.people.access import require_insider, require_role
from plant.people.models import Person, Role
from plant.people.queries import roles_of
from training.models import CalendarFeed

STREAM = "training"
PLANT_FEED = (Role.TRAINER, Role.SUPERVISOR, Role.QA, Role.MANAGER)


def digest_of(token: str) -> str:
    """What is kept of an address: who reads the database cannot read the calendar with it."""
    return hashlib.sha256(token.encode()).hexdigest()


@transaction.atomic
def make_feed(*, whole_plant: bool, by: Person, at: datetime) -> tuple[CalendarFeed, str]:
    """A new address; the one before it ends. The token is returned once and not kept."""
    require_insider(by, at=at)
    if whole_plant:
        require_role(by, *PLANT_FEED, at=at, act="Making a calendar of the whole plant")
    _end(by, whole_plant, at)
    token = secrets.token_urlsafe(24)
    made = CalendarFeed.objects.create(
        person=None if whole_plant else by, token_digest=digest_of(token), made_at=at, made_by=by
    )
    _record(made, "make-calendar", "made a new address of", by, at)
    return made, token


@transaction.atomic
def end_feed(*, whole_plant: bool, by: Person, at: datetime) -> int:
    """The address answers no more."""
    require_insider(by, at=at)
    ended = _end(by, whole_plant, at)
    for each in ended:
        _record(each, "end-calendar", "ended the address of", by, at)
    return len(ended)


def _end(by: Person, whole_plant: bool, at: datetime) -> list[CalendarFeed]:
    rows = CalendarFeed.objects.filter(made_by=by, person=None if whole_plant else by, ended_at=None)
    found = list(rows.select_for_update())
    for each in found:
        each.ended_at = at
        each.save(update_fields=["ended_at"])
    return found


def _record(feed: CalendarFeed, action: str, verb: str, by: Person, at: datetime) -> None:
    whose = "the plant's calendar" if feed.person_id is None else "the own calendar"
    record(
        stream=STREAM,
        action=action,
        subject=feed.person or the_plant(),
        sentence=f"{by.name} {verb} {whose}",
        by=by,
        at=at,
    )


def feed_of(token: str, at: datetime) -> CalendarFeed:
    """The calendar behind an address. It ends with the role, or with the person's time at the plant."""
    feed = (
        CalendarFeed.objects.select_related("person", "made_by")
        .filter(token_digest=digest_of(token), ended_at=None)
        .first()
    )
    if feed is None or not feed.made_by.active_at(at):
        raise NotFound("calendar", "this address", "Make a new address on your own page.")
    if feed.person_id is None and not roles_of(feed.made_by, at) & set(PLANT_FEED):
        raise NotFound("calendar", "this address", "Make a new address on your own page.")
    return feed


def feeds_of(person: Person) -> dict[str, bool]:
    """Which addresses of the person answer now."""
    rows = CalendarFeed.objects.filter(made_by=person, ended_at=None).values_list("person", flat=True)
    return {"own": person.pk in rows, "plant": None in rows}
