"""Periodic work on lines and tape. What is due lives in the database; running twice does no harm."""

from datetime import datetime, timedelta

from plant.jobs.registry import work
from rollers.services import watching
from rollers.services.store_watch import watch_store


@work("watch the lines", every=timedelta(minutes=1))
def watch_lines(now: datetime, due_at: datetime) -> None:
    """Blocks, set-points outside their window, restarts without their steps, overrides that end."""
    watching.watch_lines(now)
    watching.watch_overrides(now)
    watching.escalate(now)


@work("watch tape", every=timedelta(minutes=10))
def watch_tape(now: datetime, due_at: datetime) -> None:
    """Late checks, changed product data, rooms that became stricter."""
    watching.watch_checks(now)
    watching.watch_product_data(now)
    watching.watch_room_classes(now)


@work("watch the store", every=timedelta(minutes=30))
def look_after_store(now: datetime, due_at: datetime) -> None:
    """Lots past their use-by date expire; dates that come near are told."""
    watch_store(now)
