"""The database lets no certificate be replaced by another with its key."""

from django.db import migrations

from plant.audit.triggers import install, unreplaceable_sql


def places(vendor):
    return [
        *unreplaceable_sql(vendor, "training_certificate", "number"),
        *unreplaceable_sql(vendor, "training_certificateact"),
    ]


class Migration(migrations.Migration):
    dependencies = [("training", "0002_append_only"), ("audit", "0004_chain_and_places")]
    operations = [install(places)]
