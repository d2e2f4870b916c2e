"""The daily root is made by the clock."""

from datetime import datetime, timedelta
from typing import Any

from plant.audit.services.rooting import make_root
from plant.jobs.registry import work


@work("daily root", every=timedelta(days=1))
def daily_root(now: datetime, due_at: datetime) -> dict[str, Any]:
    """One root over everything that was written so far; after a pause also over the days that were missed."""
    made = make_root(now)
    return {"date": made.date.isoformat(), "missed_days": made.missed_days, "root": made.root}
