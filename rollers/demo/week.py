"""The clock of the demo: a week that is told, and the moments in it in plant time."""

from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta
from zoneinfo import ZoneInfo

TIME_ZONE = "Europe/Vienna"
ZONE = ZoneInfo(TIME_ZONE)


@dataclass(frozen=True)
class Week:
    """The week in which the demo is told, by its Monday. Days count from there: -21 is three weeks before."""

    monday: date

    @classmethod
    def of(cls, now: datetime) -> "Week":
        """The week around a moment."""
        today = now.astimezone(ZONE).date()
        return cls(today - timedelta(days=today.weekday()))

    def day(self, number: int) -> date:
        """A date of the demo."""
        return self.monday + timedelta(days=number)

    def at(self, number: int, clock: str) -> datetime:
        """A moment of the demo: the day and the plant's clock, `07:30`."""
        return datetime.combine(self.day(number), time.fromisoformat(clock), ZONE).astimezone(UTC)
