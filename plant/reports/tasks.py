"""The work of making a report, outside the web worker."""

from datetime import datetime
from typing import Any

from plant.jobs.registry import work
from plant.reports.services import WORK, make_report


@work(WORK)
def make(now: datetime, due_at: datetime, *, report_id: int) -> dict[str, Any]:
    """Make one report."""
    return {"digest": make_report(report_id, at=now).digest}
