"""Claiming and running: by compare-and-set, so that two ticks at once do each job once."""

import logging
import subprocess
import sys
from datetime import datetime, timedelta
from typing import Any

from celery import current_app
from django.conf import settings
from django.db import IntegrityError, close_old_connections, transaction
from django.utils import timezone

from plant.errors import Refused
from plant.jobs.models import Job
from plant.jobs.registry import WORK, next_slot

log = logging.getLogger(__name__)
STALE_AFTER = timedelta(minutes=30)


def enqueue(work: str, key: str, at: datetime, **arguments: Any) -> Job:
    """Queue a one-off job inside the caller's transaction; the same key gives the same job."""
    if work not in WORK:
        raise ValueError(f"no work is called {work}")
    job, made = Job.objects.get_or_create(key=key, defaults={"work": work, "arguments": arguments, "next_at": at})
    if made:
        transaction.on_commit(lambda: start_soon(job.pk))
    return job


def start_soon(job_id: int) -> None:
    """Start a queued job outside this process: by a worker where there is a broker, else in a subprocess."""
    if settings.CELERY_BROKER_URL:
        current_app.send_task("plant.jobs.tasks.run_job", [job_id])
    elif settings.JOBS_IN_SUBPROCESS:
        subprocess.Popen(  # noqa: S603  (our own interpreter and command)
            [sys.executable, str(settings.BASE_DIR / "manage.py"), "runjob", str(job_id)],
            stdout=subprocess.DEVNULL,
            stderr=subprocess.DEVNULL,
            start_new_session=True,
        )


def _plan_periodic(now: datetime) -> None:
    for name, item in WORK.items():
        if item.every is not None:
            Job.objects.get_or_create(
                key=f"every:{name}",
                defaults={"work": name, "every_seconds": int(item.every.total_seconds()), "next_at": now},
            )


def claim(job: Job, now: datetime) -> bool:
    """True for exactly one of all who try: the row still says what was read."""
    changed = Job.objects.filter(pk=job.pk, state=job.state, next_at=job.next_at, started_at=job.started_at).update(
        state=Job.State.RUNNING, started_at=now, ended_at=None
    )
    return changed == 1


def run(job: Job, now: datetime) -> None:
    """Run a claimed job and write down how it ended. Trouble is kept on the row, never swallowed."""
    due_at, values = job.next_at, {"runs": job.runs + 1, "trouble": "", "state": Job.State.DONE}
    try:
        values["outcome"] = WORK[job.work].run(now, due_at, **job.arguments)
    except Exception as trouble:
        log.exception("job %s failed", job.work)
        said = trouble.sentence if isinstance(trouble, Refused) else f"{type(trouble).__name__}: {trouble}"
        values.update(state=Job.State.FAILED, trouble=said)
    if job.every_seconds:
        following, missed = next_slot(due_at, timedelta(seconds=job.every_seconds), now)
        values.update(next_at=following, missed=job.missed + missed, state=Job.State.WAITING)
    Job.objects.filter(pk=job.pk).update(ended_at=timezone.now(), **values)


def tick(now: datetime) -> int:
    """Do everything that is due; return how many jobs this call ran. Safe to call at any time, from anywhere."""
    _plan_periodic(now)
    Job.objects.filter(state=Job.State.RUNNING, started_at__lt=now - STALE_AFTER).update(state=Job.State.WAITING)
    done = 0
    for job in Job.objects.filter(state=Job.State.WAITING, next_at__lte=now).order_by("next_at", "pk"):
        if job.work in WORK and claim(job, now):
            run(job, now)
            done += 1
    return done


def run_one(job_id: int, now: datetime) -> bool:
    """Run one queued job unless somebody else has taken it."""
    job = Job.objects.filter(pk=job_id, state=Job.State.WAITING).first()
    if job is None or not claim(job, now):
        return False
    run(job, now)
    return True


def tick_and_let_go(now: datetime) -> int:
    """`tick` for a thread of its own, which must give its database connection back."""
    close_old_connections()
    try:
        return tick(now)
    except IntegrityError:  # another process planned the same periodic row in the same instant
        return 0
    finally:
        close_old_connections()
