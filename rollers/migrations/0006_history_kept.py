"""Where a roller was, and what a survey found, is not changed once it ended."""

from django.db import migrations

from plant.audit.triggers import install, only_ends_sql, unreplaceable_sql


def history(vendor):
    return [
        *only_ends_sql(
            vendor, "rollers_mounting", ended="removed_at", fixed=("body_id", "position_id", "orientation", "mounted_at")
        ),
        *unreplaceable_sql(
            vendor, "rollers_mounting", "body_id:{row}.removed_at IS NULL", "position_id:{row}.removed_at IS NULL"
        ),
        *only_ends_sql(vendor, "rollers_survey", ended="closed_at", fixed=("room_id", "opened_at", "opened_by_id")),
        *unreplaceable_sql(vendor, "rollers_survey", "room_id:{row}.closed_at IS NULL"),
    ]


class Migration(migrations.Migration):
    dependencies = [("rollers", "0005_application_life"), ("audit", "0005_attachments")]
    operations = [install(history)]
