"""Roles, badges and reviews of access are history: they end once and are neither changed nor deleted."""

from django.db import migrations

from plant.audit.triggers import install, only_ends_sql, unreplaceable_sql


def history(vendor):
    return [
        *only_ends_sql(
            vendor, "people_rolegrant", ended="ended_at", fixed=("person_id", "role", "granted_at", "granted_by_id")
        ),
        *unreplaceable_sql(vendor, "people_rolegrant", "person_id,role:{row}.ended_at IS NULL"),
        *only_ends_sql(
            vendor, "people_badge", ended="ended_at", fixed=("person_id", "code", "issued_at", "issued_by_id")
        ),
        *unreplaceable_sql(vendor, "people_badge", "code", "person_id:{row}.ended_at IS NULL"),
        *only_ends_sql(
            vendor, "people_accessreview", ended="signature_id", fixed=("at", "reviewer_id", "seen", "conclusion")
        ),
        *unreplaceable_sql(vendor, "people_accessreview"),
    ]


class Migration(migrations.Migration):
    dependencies = [("people", "0002_starter_issuer"), ("audit", "0005_attachments")]
    operations = [install(history)]
