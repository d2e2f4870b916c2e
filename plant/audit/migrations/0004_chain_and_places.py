"""The database takes only the next link of a stream, and lets no row be replaced by another with its key."""

from django.db import migrations

from plant.audit.canonical import ZERO
from plant.audit.triggers import guard, install, unreplaceable_sql

BROKEN = "an event follows the one before it: next number, its hash"
FITS = f"""((NEW.seq = 1 AND NEW.previous_hash = '{ZERO}')
  OR EXISTS (SELECT 1 FROM audit_event e
             WHERE e.stream = NEW.stream AND e.seq = NEW.seq - 1 AND e.hash = NEW.previous_hash))"""


def chain(vendor):
    if vendor == "sqlite":
        return guard(
            vendor,
            name="audit_event_chain",
            before="INSERT",
            table="audit_event",
            when=f"NOT {FITS}",
            says=BROKEN,
        )
    # A trigger's WHEN may not look into other rows there, so the look-up sits in a function of its own.
    return [
        f"""
    CREATE OR REPLACE FUNCTION event_follows() RETURNS trigger LANGUAGE plpgsql AS $$
    BEGIN
      IF NOT {FITS} THEN
        RAISE EXCEPTION '{BROKEN}' USING ERRCODE = 'integrity_constraint_violation';
      END IF;
      RETURN NEW;
    END $$""",
        "CREATE TRIGGER audit_event_chain BEFORE INSERT ON audit_event FOR EACH ROW EXECUTE FUNCTION event_follows()",
    ]


def places(vendor):
    return [
        *unreplaceable_sql(vendor, "audit_event", "stream,seq"),
        *unreplaceable_sql(vendor, "audit_signature"),
    ]


class Migration(migrations.Migration):
    dependencies = [("audit", "0003_append_only")]
    operations = [install(chain), install(places)]
