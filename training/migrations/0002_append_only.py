from django.db import migrations

from plant.audit.triggers import append_only


class Migration(migrations.Migration):
    dependencies = [("training", "0001_initial")]
    operations = [append_only("training_certificate", "training_certificateact")]
