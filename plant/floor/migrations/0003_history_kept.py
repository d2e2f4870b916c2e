"""What class a room had, and what a product's figures were, is not changed afterwards."""

from django.db import migrations

from plant.audit.triggers import install, only_ends_sql, unreplaceable_sql


def history(vendor):
    return [
        *only_ends_sql(vendor, "floor_roomclass", ended="valid_to", fixed=("room_id", "kind", "valid_from")),
        *unreplaceable_sql(vendor, "floor_roomclass", "room_id:{row}.valid_to IS NULL"),
    ]


class Migration(migrations.Migration):
    dependencies = [("floor", "0002_typed_of_lines_and_positions"), ("audit", "0005_attachments")]
    operations = [install(history)]
