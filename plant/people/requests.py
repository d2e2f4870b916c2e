"""What a view finds on its request. For annotations only: the middleware puts it there."""

from datetime import datetime
from typing import Any
from zoneinfo import ZoneInfo

from django.http import HttpRequest

from plant.people.models import Person


class TimedRequest(HttpRequest):
    """Any request: its moment and the plant's clock; nobody need be signed in."""

    at: datetime
    roles: frozenset[str]
    zone: ZoneInfo
    plant: Any


class PersonRequest(TimedRequest):
    """A request of somebody who is signed in."""

    user: Person
