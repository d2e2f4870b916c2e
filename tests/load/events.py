"""How many events a second: appended by eight writers, and verified, on the database of this installation.

A script, not a timed test. It wants an empty database of its own, migrated, and fills it:

    PLANT_DATABASE_URL=postgres://… python manage.py migrate && python -m tests.load.events [events] [writers]

Beside each figure stands what the same machine does in the same run without our work: plain inserts of the same rows
into a table without guards, one transaction each, by as many writers; and SHA-256 of the same bytes.
"""

import hashlib
import multiprocessing
import os
import sys
import time
from collections.abc import Callable
from datetime import UTC, datetime

os.environ.setdefault("DJANGO_SETTINGS_MODULE", "plant.settings")
import django

django.setup()

from django.db import connection, connections, transaction  # noqa: E402

from plant.audit.models import Event  # noqa: E402
from plant.audit.services import make_root, record  # noqa: E402
from plant.audit.verification import events as chains  # noqa: E402
from plant.people.models import Person  # noqa: E402

AT = datetime(2026, 3, 25, 9, 0, tzinfo=UTC)
FACTS = {"before": {"wraps": 3, "inner_mm": "600.0"}, "wraps": 4, "inner_mm": "600.0", "stock": "T5", "pieces": 2}
SENTENCE = "Ines Varga put T5 × 4, both ends, on A05 (TH-101)"
PLAIN = "load_plain"


def append(stream: str, person: Person, count: int) -> None:
    """So many acts in one stream, a transaction each."""
    for _ in range(count):
        with transaction.atomic():
            record(
                stream=stream,
                action="tape-applied",
                subject=person,
                sentence=SENTENCE,
                by=person,
                at=AT,
                facts=FACTS,
                reason="change of product",
            )


def insert(stream: str, person: Person, count: int) -> None:
    """The same bytes into a table with nothing but a key, a transaction each."""
    body = Event.objects.filter(stream="line:0").values_list("body", flat=True)[0]
    with connection.cursor() as cursor:
        for number in range(count):
            with transaction.atomic():
                cursor.execute(f"INSERT INTO {PLAIN} VALUES (%s, %s, %s)", [stream, number, body])


def _one(work: str, stream: str, key: int, count: int) -> None:
    {"append": append, "insert": insert}[work](stream, Person.objects.get(pk=key), count)
    connections.close_all()


def together(work: str, streams: list[str], key: int, count: int) -> float:
    """Seconds for so many rows by one process per stream; starting them does not count for much."""
    connections.close_all()
    jobs = [multiprocessing.Process(target=_one, args=(work, stream, key, count)) for stream in streams]
    began = time.perf_counter()
    for job in jobs:
        job.start()
    for job in jobs:
        job.join()
    if any(job.exitcode for job in jobs):
        raise SystemExit(f"{work}: a writer failed")
    return time.perf_counter() - began


def timed(act: Callable[[], object]) -> float:
    """Seconds of one act."""
    began = time.perf_counter()
    act()
    return time.perf_counter() - began


def verified() -> int:
    """Every chain, by the code of verify_records."""
    heads, seen = chains.heads(), 0
    for stream, last in chains.ends().items():
        if list(chains.misfits_in(stream, chains.START, last, heads[stream])):
            raise SystemExit(f"{stream} does not fit")
        seen += last
    return seen


def main() -> None:
    """Fill, measure, print."""
    given = [int(word) for word in sys.argv[1:3]]
    total, writers = [*given, *(8000, 8)[len(given) :]]
    if Person.objects.exists():
        raise SystemExit("There is data here already. Give it an empty database of its own.")
    person = Person.objects.create(staff_no="1", name="Ines Varga", active_from=AT)
    with connection.cursor() as cursor:
        cursor.execute(f"CREATE TABLE {PLAIN} (stream varchar(60), seq bigint, body text, PRIMARY KEY (stream, seq))")
    each, few = total // writers, total // writers // 4
    apart = [f"line:{number}" for number in range(writers)]
    append("line:0", person, 1)
    rows = [
        ("appended, a stream for each writer", together("append", apart, person.pk, each), each * writers),
        ("appended, all in one stream", together("append", ["one"] * writers, person.pk, few), few * writers),
        ("plain inserts, no guard, no chain", together("insert", apart, person.pk, each), each * writers),
    ]
    bodies = [body.encode() for body in Event.objects.values_list("body", flat=True)]
    rows.append(("verified: read, hash, compare", timed(verified), len(bodies)))
    hashed = timed(lambda: [hashlib.sha256(body).digest() for body in bodies])
    rows.append(("plain SHA-256 of the same bytes", hashed, len(bodies)))
    rows.append(("daily root over all of them", timed(lambda: make_root(AT)), len(bodies)))
    size = sum(map(len, bodies)) // len(bodies)
    load = f"{os.cpu_count()} cores with a load of {os.getloadavg()[0]:.1f}"
    print(f"{connection.vendor}, {writers} writers, {load}, {size} bytes a body")
    for name, seconds, count in rows:
        print(f"{name:<36} {count:>7} events {seconds:8.2f} s {count / seconds:>10.0f} events/s")


if __name__ == "__main__":
    main()
