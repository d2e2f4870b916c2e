"""Pure rules about practice, triggers and reminders. The counts and spans are our own defaults."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta

from training.rules_due import add_months

# What counts as practice of what: taking tape off is as much taping as putting it on.
COUNTS_FOR = {"apply": ("apply", "remove")}

# Days before the day on which the persons concerned are reminded.
REMIND_AT = (60, 30, 14, 7, 1)
# How far ahead a due is raised, so that the wall can show it.
HORIZON = timedelta(days=90)
# A founding certificate is looked at again by another assessor within this time.
FOUNDING = timedelta(days=90)
# A refresher that does not suspend is done within this time.
REFRESHER = timedelta(days=30)
# So many checks failed in so many days call the skill into question.
FAILED_CHECKS, FAILED_IN = 2, timedelta(days=90)
# What suspends at once, whatever the calendar says (model: 29 CFR 1910.178(l)(4)(ii) and 1910.147(c)(7)(iii)).
SUSPENDING = frozenset({"finding", "near-miss", "absence"})
# A person on shift whose certificate ends: the supervisor is told so long before.
LAPSE_WARNING = timedelta(minutes=30)


@dataclass(frozen=True)
class Count:
    """How much practice there was, and the day on which it is no longer enough."""

    done: int
    asked: int
    months: int
    due_on: date

    def short(self, today: date) -> bool:
        """Whether there was too little up to today."""
        return today > self.due_on


def practice_count(job_days: Sequence[date], *, asked: int, months: int, since: date, today: date) -> Count:
    """Practice within the last `months`, and when it runs out.

    It is never short before `months` have passed since the skill was first on record here: before that, nobody
    could have told of the jobs. It runs out `months` after the oldest of the newest `asked` jobs.
    """
    days = sorted((day for day in job_days if day <= today), reverse=True)
    begin = add_months(today, -months)
    enough = days[asked - 1] if len(days) >= asked else None
    base = since if enough is None else max(since, enough)
    return Count(sum(day > begin for day in days), asked, months, add_months(base, months))


def reminder(due_on: date, today: date) -> int | None:
    """The reminder that stands now: the nearest of 60, 30, 14, 7 and 1 days; 0 once the day has passed.

    After a standstill the ones that were missed fall together into the one that is true now.
    """
    left = (due_on - today).days
    if left < 0:
        return 0
    return min((days for days in REMIND_AT if left <= days), default=None)


def trigger_suspends(kind: str, earlier_failed: Sequence[date], today: date) -> bool:
    """Whether what was told suspends at once."""
    if kind == "failed-check":
        recent = [day for day in earlier_failed if day > today - FAILED_IN]
        return len(recent) + 1 >= FAILED_CHECKS
    return kind in SUSPENDING


def column(due_on: date, today: date) -> str:
    """The column of the due wall."""
    left = (due_on - today).days
    if left < 0:
        return "overdue"
    return "30" if left <= 30 else "60" if left <= 60 else "90"
