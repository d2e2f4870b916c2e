"""A report that was asked for stays as it was asked for; once made, it stays as it was made."""

from django.db import migrations

from plant.audit.triggers import install, only_ends_sql, unreplaceable_sql

ASKED = ("kind", "subject_id", "title", "paper", "asked_by_id", "asked_at")


def history(vendor):
    return [
        *only_ends_sql(vendor, "reports_storedreport", ended="made_at", fixed=ASKED),
        *unreplaceable_sql(vendor, "reports_storedreport"),
    ]


class Migration(migrations.Migration):
    dependencies = [("reports", "0001_initial"), ("audit", "0005_attachments")]
    operations = [install(history)]
