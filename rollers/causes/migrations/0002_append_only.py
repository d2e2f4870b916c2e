"""What was seen, measured, planned and counted stays as it was written."""

from django.db import migrations

from plant.audit.triggers import append_only, install, unreplaceable_sql

KEYS = {
    "causes_sighting": ("key", "corrects_id"),
    "causes_walk": ("key",),
    "causes_walklook": ("key",),
    "causes_walkresult": (),
    "causes_causeentry": (),
    "causes_exposure": ("line_id,roll",),
    "causes_study": (),
    "causes_studyresult": (),
    "causes_remark": (),
}


def places(vendor):
    return [sql for table, keys in KEYS.items() for sql in unreplaceable_sql(vendor, table, *keys)]


class Migration(migrations.Migration):
    dependencies = [("causes", "0001_what_was_seen"), ("audit", "0005_attachments")]
    operations = [append_only(*KEYS), install(places)]
