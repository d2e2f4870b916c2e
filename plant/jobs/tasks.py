"""Celery's doors to the job table, and the housekeeping of the kit itself."""

from datetime import datetime, timedelta
from importlib import import_module

from celery import shared_task
from django.conf import settings
from django.utils import timezone

from plant.jobs import running
from plant.jobs.registry import work


@shared_task
def tick() -> int:
    """Woken by beat; the table says what is due, so two beats do no harm."""
    return running.tick(timezone.now())


@shared_task
def run_job(job_id: int) -> bool:
    """One queued job, at once."""
    return running.run_one(job_id, timezone.now())


@work("clear old sessions", every=timedelta(days=1))
def clear_sessions(now: datetime, due_at: datetime) -> None:
    """Ended sessions leave the database."""
    import_module(settings.SESSION_ENGINE).SessionStore.clear_expired()
