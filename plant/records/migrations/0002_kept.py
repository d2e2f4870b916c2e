"""Reviews, retention and purges stay as they were signed."""

from django.db import migrations

from plant.audit.triggers import append_only, install, only_ends_sql, unreplaceable_sql

SIGNED = {
    "records_trailreview": ("at", "reviewer_id", "since", "until", "events", "remarks"),
    "records_retentionrule": ("matter", "room_id", "years", "product_life_years", "reason", "set_at", "set_by_id"),
    "records_purgeorder": ("matter", "before", "listed", "export_digest", "exported_at", "exported_by_id"),
}


def signed(vendor):
    parts = [only_ends_sql(vendor, table, ended="signature_id", fixed=fixed) for table, fixed in SIGNED.items()]
    parts += [unreplaceable_sql(vendor, table) for table in SIGNED]
    parts.append(unreplaceable_sql(vendor, "records_purged", "table_name,row_id"))
    return [sql for part in parts for sql in part]


class Migration(migrations.Migration):
    dependencies = [("records", "0001_review_and_retention"), ("audit", "0005_attachments")]
    operations = [install(signed), append_only("records_purged")]
