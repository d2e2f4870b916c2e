"""Verification once a week, and when somebody asks."""

from datetime import datetime, timedelta
from typing import Any

from plant.jobs.registry import work
from plant.people.models import Person
from plant.records.services.verifying import WORK, verify_and_record


@work(WORK)
def verify_now(now: datetime, due_at: datetime, *, person: int) -> dict[str, Any]:
    """Because somebody asked."""
    found = verify_and_record(by=Person.objects.get(pk=person), at=now)
    return {"holds": found.holds}


@work("verify records weekly", every=timedelta(days=7))
def verify_weekly(now: datetime, due_at: datetime) -> dict[str, Any]:
    """Because it is time."""
    found = verify_and_record(by=None, at=now)
    return {"holds": found.holds}
