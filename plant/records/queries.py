"""Reads of the trail: by record, person, time, stream, action and words."""

import json
from dataclasses import dataclass, fields
from datetime import date, datetime, time, timedelta
from typing import Any
from zoneinfo import ZoneInfo

from django.db.models import Q, QuerySet

from plant.audit.models import DailyRoot, Event
from plant.records.models import TrailReview


@dataclass(frozen=True)
class Filter:
    """What is looked for. Empty means anything."""

    words: str = ""
    person: str = ""
    kind: str = ""
    key: str = ""
    stream: str = ""
    action: str = ""
    first: date | None = None
    last: date | None = None

    def as_text(self) -> str:
        """The filter as it stands on an export and in its event."""
        given = {each.name: getattr(self, each.name) for each in fields(self)}
        return ", ".join(f"{name} = {value}" for name, value in given.items() if value) or "none"

    @property
    def is_empty(self) -> bool:
        """Whether nothing is looked for in particular."""
        return self == Filter()


def day_begins(day: date, zone: ZoneInfo) -> datetime:
    """Midnight by the plant's clock."""
    return datetime.combine(day, time(0), tzinfo=zone)


def filtered(events: QuerySet[Event], wanted: Filter, zone: ZoneInfo) -> QuerySet[Event]:
    """The events that fit, the newest first."""
    asked = Q()
    if wanted.words:
        asked &= Q(sentence__icontains=wanted.words) | Q(reason__icontains=wanted.words)
    if wanted.person:
        asked &= Q(actor__staff_no__iexact=wanted.person)
    for name, column in (("kind", "subject_type"), ("key", "subject_id"), ("stream", "stream"), ("action", "action")):
        if getattr(wanted, name):
            asked &= Q(**{column: getattr(wanted, name)})
    if wanted.first:
        asked &= Q(at__gte=day_begins(wanted.first, zone))
    if wanted.last:
        asked &= Q(at__lt=day_begins(wanted.last + timedelta(days=1), zone))
    return events.filter(asked).order_by("-at", "-pk")


def actions() -> list[str]:
    """Every kind of act on record."""
    return list(Event.objects.order_by("action").values_list("action", flat=True).distinct())


def told_by(event: Event) -> dict[str, Any]:
    """What the body says beyond the columns."""
    try:
        body = json.loads(event.body)
    except ValueError:
        return {}
    facts = body.get("facts") if isinstance(body, dict) else None
    return facts if isinstance(facts, dict) else {}


def old_and_new(facts: dict[str, Any]) -> list[tuple[str, str, str]]:
    """Fact by fact: the value before, where the event has one, and the value after.

    Events tell an old value as `before`: one value, or a record of the same names as the new facts.
    """
    before = facts.get("before")
    old = before if isinstance(before, dict) else {}
    rows = []
    for name, value in facts.items():
        if name == "before":
            if not isinstance(before, dict):
                rows.append(("before", as_words(before), ""))
        else:
            was = as_words(old[name]) if name in old and old[name] != value else ""
            rows.append((name.replace("_", " "), was, as_words(value)))
    rows += [(name.replace("_", " "), as_words(value), "") for name, value in old.items() if name not in facts]
    return rows


def as_words(value: Any) -> str:
    """A value of canonical JSON for reading."""
    if value is None:
        return "not recorded"
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, list):
        return ", ".join(as_words(item) for item in value) or "none"
    if isinstance(value, dict):
        return "; ".join(f"{name}: {as_words(item)}" for name, item in value.items()) or "none"
    return str(value)


def reviews() -> QuerySet[TrailReview]:
    """The reviews of the trail, the newest first."""
    return TrailReview.objects.select_related("reviewer", "signature")


def reviewed_until() -> datetime | None:
    """Up to when the trail was looked through and signed for."""
    last = TrailReview.objects.exclude(signature=None).order_by("-until").first()
    return last.until if last else None


def roots() -> QuerySet[DailyRoot]:
    """The daily roots, the newest first."""
    return DailyRoot.objects.order_by("-date")


def last_verification() -> Event | None:
    """The newest verification that stands in the trail."""
    return Event.objects.filter(stream="verification", action="verify-records").order_by("-pk").first()
