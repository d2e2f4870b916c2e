from django.db import migrations

from plant.audit.triggers import append_only


class Migration(migrations.Migration):
    dependencies = [("audit", "0002_initial")]
    operations = [append_only("audit_event", "audit_signature")]
