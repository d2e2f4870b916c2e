"""Triggers that keep rows as they were written, on both databases. Used by the migrations of every app.

SQLite drops a table's triggers when Django remakes the table, so a migration that alters a guarded table ends with
the same step again; a test compares the triggers of a migrated database with what is promised here.
"""

from typing import Any

from django.db import migrations
from django.db.backends.base.schema import BaseDatabaseSchemaEditor

POSTGRES_FUNCTION = """
CREATE OR REPLACE FUNCTION guarded() RETURNS trigger LANGUAGE plpgsql AS
$$ BEGIN RAISE EXCEPTION '%', TG_ARGV[0] USING ERRCODE = 'integrity_constraint_violation'; END $$
"""


def guard(vendor: str, *, name: str, before: str, table: str, when: str = "", says: str) -> list[str]:
    """The SQL that refuses a verb on a table, always or `when` a condition on OLD and NEW holds.

    On PostgreSQL the condition must not hold a subquery (a rule of its triggers).
    """
    condition = f" WHEN ({when})" if when else ""
    if vendor == "sqlite":
        head = f"CREATE TRIGGER {name} BEFORE {before} ON {table} FOR EACH ROW{condition}"
        return [f"DROP TRIGGER IF EXISTS {name}", f"{head} BEGIN SELECT RAISE(ABORT, '{says}'); END"]
    if vendor != "postgresql":
        raise ValueError(f"Bandkeeper runs on SQLite or PostgreSQL, not on {vendor}")
    each = "STATEMENT" if before == "TRUNCATE" else "ROW"
    return [
        POSTGRES_FUNCTION,
        f"DROP TRIGGER IF EXISTS {name} ON {table}",
        f"CREATE TRIGGER {name} BEFORE {before} ON {table} FOR EACH {each}{condition} "
        f"EXECUTE FUNCTION guarded('{says}')",
    ]


def append_only_sql(vendor: str, table: str) -> list[str]:
    """The SQL that makes a table append-only."""
    verbs = ("UPDATE", "DELETE") if vendor == "sqlite" else ("UPDATE", "DELETE", "TRUNCATE")
    parts = (
        guard(
            vendor,
            name=f"{table}_no_{verb.lower()}",
            before=verb,
            table=table,
            says=f"{table} is append-only",
        )
        for verb in verbs
    )
    return [sql for part in parts for sql in part]


def only_ends_sql(vendor: str, table: str, *, ended: str, fixed: tuple[str, ...]) -> list[str]:
    """The SQL that lets a row of history only end, once: a mounting, a role, a badge, the class of a room.

    `ended` is the column that is empty until then; the `fixed` columns never change; nothing is deleted.
    """
    differs = "IS NOT" if vendor == "sqlite" else "IS DISTINCT FROM"
    cast = "::text" if vendor == "postgresql" else ""  # JSON has no equality there
    changed = [f"OLD.{column}{cast} {differs} NEW.{column}{cast}" for column in ("id", *fixed)]
    says = f"a row of {table} is history: it only ends, once"
    kept = [guard(vendor, name=f"{table}_no_delete", before="DELETE", table=table, says=says)]
    if vendor == "postgresql":
        kept.append(guard(vendor, name=f"{table}_no_truncate", before="TRUNCATE", table=table, says=says))
    ends = guard(
        vendor,
        name=f"{table}_only_ends",
        before="UPDATE",
        table=table,
        when=f"OLD.{ended} IS NOT NULL OR {' OR '.join(changed)}",
        says=says,
    )
    return [*ends, *(sql for part in kept for sql in part)]


def unreplaceable_sql(vendor: str, table: str, *keys: str, pk: str = "id") -> list[str]:
    """The SQL that keeps a row from being pushed out by another with its key.

    SQLite's REPLACE deletes the row in the way without asking its DELETE trigger. The refusal says no more than the
    unique keys do, so it touches nobody else. A key is its columns with commas, and after a colon the condition of a
    partial one, with `{row}` for the row. PostgreSQL has no such verb.
    """
    if vendor != "sqlite":
        return []
    same = []
    for key in (pk, *keys):
        columns, _, condition = key.partition(":")
        parts = [f"x.{column} = NEW.{column}" for column in columns.split(",")]
        parts += [condition.format(row=row) for row in ("x", "NEW") if condition]
        same.append(f"({' AND '.join(parts)})")
    clash = f"SELECT 1 FROM {table} x WHERE ({' OR '.join(same)})"  # noqa: S608  (names of our own tables and columns)
    says = f"a row of {table} is not replaced by another"
    return [
        *guard(
            vendor,
            name=f"{table}_no_replace",
            before="INSERT",
            table=table,
            when=f"EXISTS ({clash})",
            says=says,
        ),
        *guard(
            vendor,
            name=f"{table}_no_pushing_out",
            before="UPDATE",
            table=table,
            when=f"EXISTS ({clash} AND x.{pk} <> OLD.{pk})",
            says=says,
        ),
    ]


def install(sql_for: Any) -> migrations.RunPython:
    """A migration step that runs `sql_for(vendor)`."""

    def run(apps: Any, editor: BaseDatabaseSchemaEditor) -> None:
        with editor.connection.cursor() as cursor:
            for sql in sql_for(editor.connection.vendor):
                cursor.execute(sql)

    return migrations.RunPython(run, migrations.RunPython.noop)


def append_only(*tables: str) -> migrations.RunPython:
    """A migration step that refuses UPDATE and DELETE on the tables from now on."""
    return install(lambda vendor: [sql for table in tables for sql in append_only_sql(vendor, table)])
