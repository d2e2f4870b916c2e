"""The head of a stream goes on by one event at a time and never back."""

from django.db import migrations

from plant.audit.triggers import guard, install, unreplaceable_sql

SAYS = "the head of a stream only grows"


def heads(vendor):
    table = "audit_streamhead"
    moved = "NEW.id <> OLD.id OR NEW.stream <> OLD.stream OR NEW.seq <> OLD.seq + 1"
    parts = [
        guard(vendor, name=f"{table}_only_grows", before="UPDATE", table=table, when=moved, says=SAYS),
        guard(vendor, name=f"{table}_no_delete", before="DELETE", table=table, says=SAYS),
        unreplaceable_sql(vendor, table, "stream"),
    ]
    if vendor == "postgresql":
        parts.append(guard(vendor, name=f"{table}_no_truncate", before="TRUNCATE", table=table, says=SAYS))
    return [sql for part in parts for sql in part]


class Migration(migrations.Migration):
    dependencies = [("audit", "0007_signatures_in_chains")]
    operations = [install(heads)]
