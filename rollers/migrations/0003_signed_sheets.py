"""The database refuses to change what a signed product sheet says."""

from django.db import migrations

from plant.audit.triggers import guard, install

SIGNED = "a signed product sheet never changes: draft the next one"
CONTENT = ("product_id", "path_id", "number", "author_id", "drafted_at")
NOT_DRAFT = "EXISTS (SELECT 1 FROM rollers_productsheet s WHERE s.id = {row}.sheet_id AND s.state <> 'draft')"


def signed_sheets(vendor):
    differs = "IS NOT" if vendor == "sqlite" else "IS DISTINCT FROM"
    changed = " OR ".join(f"OLD.{column} {differs} NEW.{column}" for column in CONTENT)
    when = f"OLD.state <> 'draft' AND (NEW.state = 'draft' OR {changed})"
    table = "rollers_productsheet"
    return [
        *guard(vendor, name=f"{table}_frozen", before="UPDATE", table=table, when=when, says=SIGNED),
        *guard(vendor, name=f"{table}_kept", before="DELETE", table=table, when="OLD.state <> 'draft'", says=SIGNED),
        *(sqlite_lines() if vendor == "sqlite" else postgres_lines()),
    ]


def sqlite_lines():
    table = "rollers_sheetline"
    for verb in ("INSERT", "UPDATE", "DELETE"):
        when = NOT_DRAFT.format(row="NEW" if verb == "INSERT" else "OLD")
        yield from guard("sqlite", name=f"{table}_{verb.lower()}", before=verb, table=table, when=when, says=SIGNED)


def postgres_lines():
    # A trigger's WHEN may not look into other rows there, so the look-up sits in a function of its own.
    yield f"""
    CREATE OR REPLACE FUNCTION sheet_line_frozen() RETURNS trigger LANGUAGE plpgsql AS $$
    DECLARE row_sheet bigint := CASE TG_OP WHEN 'INSERT' THEN NEW.sheet_id ELSE OLD.sheet_id END;
    BEGIN
      IF EXISTS (SELECT 1 FROM rollers_productsheet s WHERE s.id = row_sheet AND s.state <> 'draft') THEN
        RAISE EXCEPTION '{SIGNED}' USING ERRCODE = 'integrity_constraint_violation';
      END IF;
      IF TG_OP = 'DELETE' THEN RETURN OLD; END IF;
      RETURN NEW;
    END $$"""
    yield (
        "CREATE TRIGGER rollers_sheetline_guard BEFORE INSERT OR UPDATE OR DELETE ON rollers_sheetline "
        "FOR EACH ROW EXECUTE FUNCTION sheet_line_frozen()"
    )


class Migration(migrations.Migration):
    dependencies = [("rollers", "0002_guards")]
    operations = [install(signed_sheets)]
