"""Taking a database to a file at one moment, and putting it back: SQLite by itself, PostgreSQL by its own programs."""

import os
import re
import shutil
import sqlite3
import subprocess
from contextlib import closing
from pathlib import Path
from typing import Any

from django.db import connection, connections, transaction

from plant.errors import Refused
from plant.people.models import Person
from plant.records.backup import digests

MEMBER = {"sqlite": "database.sqlite3", "postgresql": "database.pgdump"}


def holds_anything() -> bool:
    """Whether anybody is entered here already."""
    if Person._meta.db_table not in connection.introspection.table_names():
        return False
    return Person.objects.exists()


def take(target: Path) -> digests.Digests:
    """Write the database to a file as it is at one moment; the digests are of the same moment."""
    return _take_sqlite(target) if connection.vendor == "sqlite" else _take_postgres(target)


def put(source: Path) -> digests.Digests:
    """Put a file in place of the database; the digests are of what is there then."""
    return _put_sqlite(source) if connection.vendor == "sqlite" else _put_postgres(source)


def _take_sqlite(target: Path) -> digests.Digests:
    connection.ensure_connection()
    with closing(sqlite3.connect(target)) as copy:
        connection.connection.backup(copy)  # the online backup of SQLite: writers go on meanwhile
        copy.execute("PRAGMA journal_mode=DELETE")
        return digests.of_sqlite(copy)


def _put_sqlite(source: Path) -> digests.Digests:
    connections.close_all()
    # Past Django, whose connections read dates as objects: the digests are of what is stored.
    with closing(sqlite3.connect(source)) as copy, closing(sqlite3.connect(connection.settings_dict["NAME"])) as here:
        copy.backup(here)
        return digests.of_sqlite(here)


def _program(name: str) -> str:
    """A program of PostgreSQL of this server's release, or a newer one."""
    major = connection.pg_version // 10_000  # type: ignore[attr-defined]
    candidates = [shutil.which(name), f"/usr/lib/postgresql/{major}/bin/{name}"]
    for candidate in candidates:
        if candidate and _release(candidate) >= major:
            return candidate
    sentence = (
        f"This needs {name} of PostgreSQL {major} or newer on this machine. The system keeper installs it "
        f"(Debian: apt-get install postgresql-client-{major}) and starts again; nothing was changed."
    )
    raise Refused("no-program", sentence)


def _release(program: str) -> int:
    try:
        said = subprocess.run([program, "--version"], capture_output=True, text=True)  # noqa: S603
    except OSError:
        return 0
    found = re.search(r"\(PostgreSQL\) (\d+)", said.stdout)
    return int(found.group(1)) if found else 0


def _run(program: str, *arguments: str) -> None:
    """Run a program of PostgreSQL on this database; the password travels in the environment, not in the list."""
    given: dict[str, Any] = connection.settings_dict
    names = {"PGHOST": "HOST", "PGPORT": "PORT", "PGUSER": "USER", "PGPASSWORD": "PASSWORD", "PGDATABASE": "NAME"}
    here = {name: str(given[key]) for name, key in names.items() if given[key]}
    done = subprocess.run([program, *arguments], env={**os.environ, **here}, capture_output=True, text=True)  # noqa: S603
    if done.returncode:
        last = (done.stderr.strip() or done.stdout.strip() or "it printed nothing").splitlines()[-1]
        raise Refused("program-failed", f"{Path(program).name} could not do it: {last}")


def _take_postgres(target: Path) -> digests.Digests:
    program = _program("pg_dump")
    with transaction.atomic(), connection.cursor() as cursor:
        cursor.execute("SET TRANSACTION ISOLATION LEVEL REPEATABLE READ")
        cursor.execute("SELECT pg_export_snapshot()")
        snapshot = cursor.fetchone()[0]
        where = ("--schema=public", f"--snapshot={snapshot}", f"--file={target}")
        _run(program, "--format=custom", "--no-owner", "--no-privileges", *where)
        return digests.of_postgres(cursor)


def _put_postgres(source: Path) -> digests.Digests:
    program = _program("pg_restore")
    with connection.cursor() as cursor:
        cursor.execute("DROP SCHEMA IF EXISTS public CASCADE")
    where = f"--dbname={connection.settings_dict['NAME']}"
    _run(program, "--no-owner", "--no-privileges", "--single-transaction", "--exit-on-error", where, str(source))
    connections.close_all()
    with connection.cursor() as cursor:
        return digests.of_postgres(cursor)
