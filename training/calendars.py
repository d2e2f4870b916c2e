"""Due dates as iCalendar (RFC 5545): one all-day event per due, with its explicit date and no recurrence."""

from datetime import datetime, timedelta

from icalendar import Calendar, Event

from plant.floor.models import Plant
from training.models import Due
from training.sentences import day


def calendar_of(dues: list[Due], *, plant: Plant, name: str, mine: bool, base_url: str) -> bytes:
    """The feed. DTEND is the day after (it is exclusive); UID stays the same for the same due."""
    calendar = Calendar()
    calendar.add("prodid", "-//Bandkeeper//Due dates//EN")
    calendar.add("version", "2.0")
    calendar.add("method", "PUBLISH")
    calendar.add("x-wr-calname", name)
    calendar.add("x-wr-timezone", plant.time_zone)
    host = base_url.split("//")[-1].split("/")[0].split(":")[0] or "bandkeeper"
    for due in dues:
        calendar.add_component(_event(due, mine, host))
    return calendar.to_ical()


def _event(due: Due, mine: bool, host: str) -> Event:
    event = Event()
    event.add("uid", f"due-{due.pk}@{host}")
    event.add("dtstamp", _whole(due.raised_at))
    event.add("dtstart", due.due_on)
    event.add("dtend", due.due_on + timedelta(days=1))
    what = f"{due.skill.name}: {due.get_kind_display()} due"
    event.add("summary", what if mine else f"{due.person.name}, {what}")
    event.add("description", f"{due.reason}. Last day: {day(due.due_on)}, to midnight plant time. Rule: {due.rule}.")
    event.add("transp", "TRANSPARENT")
    return event


def _whole(at: datetime) -> datetime:
    """To the second, as the format has it."""
    return at.replace(microsecond=0)
