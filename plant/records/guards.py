"""A table that stays as it was written, but for one column that may go empty by a signed order."""

from plant.audit.triggers import guard


def purge_only_sql(vendor: str, table: str, *, column: str, fixed: tuple[str, ...]) -> list[str]:
    """In place of the guard that refuses every UPDATE of an append-only table.

    A row may change only if it is listed in `records_purged`, only in this column, and only to nothing.
    """
    says = f"{table} is append-only; only a signed purge order empties {column}"
    same = " AND ".join(
        f"OLD.{name} IS NEW.{name}" if vendor == "sqlite" else f"OLD.{name} IS NOT DISTINCT FROM NEW.{name}"
        for name in ("id", *fixed)
    )
    # The names are of our own tables and columns.
    listed = f"SELECT 1 FROM records_purged p WHERE p.table_name = '{table}' AND p.row_id = OLD.id"  # noqa: S608
    allowed = f"NEW.{column} IS NULL AND {same} AND EXISTS ({listed})"
    if vendor == "sqlite":
        return guard(
            vendor, name=f"{table}_no_update", before="UPDATE", table=table, when=f"NOT ({allowed})", says=says
        )
    # A trigger's WHEN may not look into other rows there, so the look-up sits in a function of its own.
    return [
        f"""
    CREATE OR REPLACE FUNCTION {table}_purge_only() RETURNS trigger LANGUAGE plpgsql AS $$
    BEGIN
      IF NOT ({allowed}) THEN
        RAISE EXCEPTION '{says}' USING ERRCODE = 'integrity_constraint_violation';
      END IF;
      RETURN NEW;
    END $$""",
        f"DROP TRIGGER IF EXISTS {table}_no_update ON {table}",
        f"CREATE TRIGGER {table}_no_update BEFORE UPDATE ON {table} FOR EACH ROW EXECUTE FUNCTION {table}_purge_only()",
    ]
