"""After its time, which option a person chose may be removed by a signed order, and by nothing else."""

from django.db import migrations

from plant.audit.triggers import install
from plant.records.guards import purge_only_sql


def purge_only(vendor):
    return purge_only_sql(vendor, "training_answer", column="chosen", fixed=("drawn_id", "result_id", "right"))


class Migration(migrations.Migration):
    dependencies = [("training", "0008_set_aside_by"), ("records", "0002_kept")]
    operations = [install(purge_only)]
