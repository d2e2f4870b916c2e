"""What happens by itself: trials end, and finished orders ask their question."""

from datetime import datetime, timedelta
from typing import Any

from plant.jobs.registry import work
from rollers.causes.services.orders import ask_back_all
from rollers.causes.services.trials import end_due_trials


@work("trials and cause orders", every=timedelta(minutes=1))
def look(now: datetime, due_at: datetime) -> dict[str, Any]:
    """End trials that are over; ask whether tape is still needed where maintenance is done."""
    return {"trials": len(end_due_trials(now)), "questions": ask_back_all(now)}
