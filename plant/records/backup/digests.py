"""One digest per table, the same for the same rows in whatever order: what a backup held and what came back."""

import hashlib
from collections.abc import Iterable
from typing import Any

Digests = dict[str, tuple[int, str]]


def rows_digest(rows: Iterable[Any]) -> tuple[int, str]:
    """How many rows, and the digest over the sorted digests of the rows."""
    each = sorted(hashlib.sha256(repr(row).encode()).digest() for row in rows)
    return len(each), hashlib.sha256(b"".join(each)).hexdigest()


def of_sqlite(connection: Any) -> Digests:
    """The tables of an open SQLite database."""
    names = "SELECT name FROM sqlite_master WHERE type = 'table' AND name NOT LIKE 'sqlite_%' ORDER BY name"
    tables = [row[0] for row in connection.execute(names)]
    return {name: rows_digest(connection.execute(f'SELECT * FROM "{name}"')) for name in tables}  # noqa: S608


def of_postgres(cursor: Any) -> Digests:
    """The tables of a PostgreSQL database, as the transaction of the cursor sees them."""
    cursor.execute("SELECT tablename FROM pg_tables WHERE schemaname = 'public' ORDER BY tablename")
    found = {}
    for (name,) in cursor.fetchall():
        cursor.execute(f'SELECT each::text FROM public."{name}" each')  # noqa: S608  (names from the database itself)
        found[name] = rows_digest(cursor)
    return found
