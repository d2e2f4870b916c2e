"""What the database itself refuses: changed facts, changed signed recipes, a roller in two places at once."""

from django.db import migrations

from plant.audit.triggers import append_only, guard, install

APPEND_ONLY = (
    "rollers_calculation",
    "rollers_limitset",
    "rollers_calibration",
    "rollers_measurement",
    "rollers_tapefact",
    "rollers_runcheck",
    "rollers_release",
    "rollers_importbatch",
)
SIGNED = "a signed recipe version never changes: draft the next one"
CONTENT = ("recipe_id", "number", "stock_id", "step_id", "note", "author_id", "drafted_at", "reasons")
NOT_DRAFT = "EXISTS (SELECT 1 FROM rollers_recipeversion v WHERE v.id = {row}.version_id AND v.state <> 'draft')"
TWO_PLACES = "a roller is in one place at a time, and a position holds one roller"
OVERLAP = """EXISTS (SELECT 1 FROM rollers_mounting m WHERE m.id <> COALESCE(NEW.id, -1)
  AND (m.body_id = NEW.body_id OR m.position_id = NEW.position_id)
  AND (NEW.removed_at IS NULL OR m.mounted_at < NEW.removed_at)
  AND (m.removed_at IS NULL OR NEW.mounted_at < m.removed_at))"""


def signed_versions(vendor):
    differs = "IS NOT" if vendor == "sqlite" else "IS DISTINCT FROM"
    cast = {"reasons": "::text"} if vendor == "postgresql" else {}
    parts = [f"OLD.{c}{cast.get(c, '')} {differs} NEW.{c}{cast.get(c, '')}" for c in CONTENT]
    when = f"OLD.state <> 'draft' AND (NEW.state = 'draft' OR {' OR '.join(parts)})"
    table = "rollers_recipeversion"
    return [
        *guard(vendor, name=f"{table}_frozen", before="UPDATE", table=table, when=when, says=SIGNED),
        *guard(vendor, name=f"{table}_kept", before="DELETE", table=table, when="OLD.state <> 'draft'", says=SIGNED),
    ]


def sqlite_lookups():
    checks = [
        (table, verb, NOT_DRAFT.format(row="NEW" if verb == "INSERT" else "OLD"), SIGNED)
        for table in ("rollers_band", "rollers_recipeproduct")
        for verb in ("INSERT", "UPDATE", "DELETE")
    ]
    checks += [("rollers_mounting", verb, OVERLAP, TWO_PLACES) for verb in ("INSERT", "UPDATE")]
    for table, verb, when, says in checks:
        if table == "rollers_recipeproduct" and verb == "UPDATE":
            # in_force moves while the version is signed; what it serves does not
            when += " AND (OLD.product_id IS NOT NEW.product_id OR OLD.calculation_id IS NOT NEW.calculation_id)"
        yield from guard("sqlite", name=f"{table}_{verb.lower()}", before=verb, table=table, when=when, says=says)


def postgres_lookups():
    # A trigger's WHEN may not look into other rows there, so the look-up sits in a function of its own.
    yield f"""
    CREATE OR REPLACE FUNCTION recipe_part_frozen() RETURNS trigger LANGUAGE plpgsql AS $$
    DECLARE row_version bigint := CASE TG_OP WHEN 'INSERT' THEN NEW.version_id ELSE OLD.version_id END;
    BEGIN
      IF EXISTS (SELECT 1 FROM rollers_recipeversion v WHERE v.id = row_version AND v.state <> 'draft') THEN
        IF NOT (TG_TABLE_NAME = 'rollers_recipeproduct' AND TG_OP = 'UPDATE'
                AND to_jsonb(OLD) - 'in_force' = to_jsonb(NEW) - 'in_force') THEN
          RAISE EXCEPTION '{SIGNED}' USING ERRCODE = 'integrity_constraint_violation';
        END IF;
      END IF;
      IF TG_OP = 'DELETE' THEN RETURN OLD; END IF;
      RETURN NEW;
    END $$"""
    yield f"""
    CREATE OR REPLACE FUNCTION mounting_overlap() RETURNS trigger LANGUAGE plpgsql AS $$
    BEGIN
      IF {OVERLAP} THEN
        RAISE EXCEPTION '{TWO_PLACES}' USING ERRCODE = 'integrity_constraint_violation';
      END IF;
      RETURN NEW;
    END $$"""
    on = (
        ("rollers_band", "INSERT OR UPDATE OR DELETE", "recipe_part_frozen"),
        ("rollers_recipeproduct", "INSERT OR UPDATE OR DELETE", "recipe_part_frozen"),
        ("rollers_mounting", "INSERT OR UPDATE", "mounting_overlap"),
    )
    for table, verbs, function in on:
        yield f"CREATE TRIGGER {table}_guard BEFORE {verbs} ON {table} FOR EACH ROW EXECUTE FUNCTION {function}()"


def lookups(vendor):
    return list(sqlite_lookups() if vendor == "sqlite" else postgres_lookups())


class Migration(migrations.Migration):
    dependencies = [("rollers", "0001_initial"), ("audit", "0003_append_only")]
    operations = [append_only(*APPEND_ONLY), install(signed_versions), install(lookups)]
