"""Periodic and queued work: what is due lives in the table, each job is done once, whoever calls `tick`."""

import subprocess
import sys
import threading
from datetime import UTC, datetime, timedelta

import pytest
from django.conf import settings
from django.core.management import call_command
from django.db import connection, transaction

from plant.errors import Refused
from plant.jobs import registry, running
from plant.jobs.models import Job
from plant.jobs.registry import Work, next_slot

AT = datetime(2026, 3, 25, 9, 0, tzinfo=UTC)
pytestmark = pytest.mark.db_both


@pytest.fixture
def done(monkeypatch):
    """A periodic work and a one-off one that write down when they ran."""
    seen: list[tuple[str, datetime, datetime]] = []

    def note(name):
        def run(now, due_at, **arguments):
            if arguments.get("fail"):
                raise Refused("no", "This cannot be done. Ask the system keeper.")
            seen.append((name, now, due_at))
            return {"ran": name}

        return run

    every = timedelta(hours=1)
    works = {"hourly": Work("hourly", note("hourly"), every), "once": Work("once", note("once"), None)}
    monkeypatch.setattr(running, "WORK", works)
    monkeypatch.setattr(registry, "WORK", works)
    return seen


@pytest.mark.parametrize(
    ("late", "following", "missed"),
    [(0, 1, 0), (59, 1, 0), (60, 2, 1), (185, 4, 3)],
)
def test_the_next_slot_stays_on_the_grid_and_counts_what_was_missed(late, following, missed):
    due, hour = AT, timedelta(hours=1)
    assert next_slot(due, hour, AT + timedelta(minutes=late)) == (AT + following * hour, missed)


@pytest.mark.django_db
def test_periodic_work_runs_once_a_slot_however_often_tick_is_called(done):
    assert running.tick(AT) == 1
    assert running.tick(AT) == 0
    assert running.tick(AT + timedelta(minutes=59)) == 0
    assert running.tick(AT + timedelta(minutes=60)) == 1
    assert len(done) == 2


@pytest.mark.django_db
def test_after_downtime_overdue_work_runs_once_with_its_true_due_time(done):
    running.tick(AT)
    running.tick(AT + timedelta(hours=5, minutes=10))
    assert done[-1] == ("hourly", AT + timedelta(hours=5, minutes=10), AT + timedelta(hours=1))
    job = Job.objects.get(work="hourly")
    assert (job.missed, job.next_at) == (4, AT + timedelta(hours=6))


@pytest.mark.django_db
def test_the_same_key_is_never_queued_twice(done):
    first = running.enqueue("once", "report:7", AT)
    assert running.enqueue("once", "report:7", AT).pk == first.pk
    running.tick(AT)
    running.tick(AT)
    assert [name for name, *_ in done].count("once") == 1
    first.refresh_from_db()
    assert first.outcome == {"ran": "once"}


@pytest.mark.django_db
def test_trouble_is_kept_on_the_row_in_words_and_stops_nothing_else(done):
    failing = running.enqueue("once", "will fail", AT, fail=True)
    running.enqueue("once", "fine", AT)
    running.tick(AT)
    failing.refresh_from_db()
    assert (failing.state, failing.trouble) == ("failed", "This cannot be done. Ask the system keeper.")
    assert Job.objects.get(key="fine").state == "done"


@pytest.mark.django_db
def test_a_run_that_was_killed_is_taken_up_again(done):
    job = running.enqueue("once", "killed", AT)
    assert running.claim(job, AT)
    running.tick(AT + timedelta(minutes=5))
    assert "once" not in [name for name, *_ in done]
    running.tick(AT + running.STALE_AFTER + timedelta(minutes=1))
    assert "once" in [name for name, *_ in done]


@pytest.mark.django_db(transaction=True)
def test_of_many_who_tick_at_once_exactly_one_runs_each_job(done):
    with transaction.atomic():
        for number in range(8):
            running.enqueue("once", f"job {number}", AT)
    start = threading.Barrier(4)

    def tick():
        start.wait()
        running.tick_and_let_go(AT)
        connection.close()

    threads = [threading.Thread(target=tick) for _ in range(4)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert [name for name, *_ in done].count("once") == 8


@pytest.mark.django_db
def test_cron_can_tick_by_the_command(done, capsys):
    call_command("tick")
    assert "1 jobs run" in capsys.readouterr().out


def test_with_a_broker_a_worker_takes_the_tick_that_beat_sends(redis_url, tmp_path):
    """A real Redis and a real worker process, on a database of its own."""
    env = {
        "PLANT_SECRET_KEY": "x" * 50,
        "PLANT_DATA_DIR": str(tmp_path),
        "PLANT_BROKER_URL": redis_url,
        "PATH": "/usr/bin:/bin",
        "DJANGO_SETTINGS_MODULE": "plant.settings",
    }
    base = [sys.executable, "-m"]
    run = {"env": env, "cwd": settings.BASE_DIR, "capture_output": True, "text": True, "timeout": 60}
    subprocess.run([sys.executable, "manage.py", "migrate", "-v0"], check=True, **run)
    worker = subprocess.Popen(
        [*base, "celery", "-A", "plant", "worker", "--pool", "solo", "-l", "warning"], env=env, cwd=settings.BASE_DIR
    )
    try:
        send = "from plant.celery import app; print(app.send_task('plant.jobs.tasks.tick', ignore_result=True))"
        subprocess.run([sys.executable, "-c", send], check=True, **run)
        look = (
            "import django, time; django.setup(); from plant.jobs.models import Job\n"
            "for _ in range(150):\n"
            "    if Job.objects.filter(runs__gte=1).exists(): print('ran'); break\n"
            "    time.sleep(0.2)"
        )
        assert "ran" in subprocess.run([sys.executable, "-c", look], check=True, **run).stdout
    finally:
        worker.terminate()
        worker.wait(timeout=30)
