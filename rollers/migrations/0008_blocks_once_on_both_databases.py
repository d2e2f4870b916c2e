"""An open block stands once: SQLite has no constraint in which missing values are equal, so there are two."""

from django.db import migrations, models
from django.db.models import Q


class Migration(migrations.Migration):
    dependencies = [("rollers", "0007_more_kinds_of_tape_facts")]
    operations = [
        migrations.RemoveConstraint(model_name="block", name="block_one_open"),
        migrations.AddConstraint(
            model_name="block",
            constraint=models.UniqueConstraint(
                fields=["line", "position", "code"], condition=Q(cleared_at=None), name="block_one_open_at_roller"
            ),
        ),
        migrations.AddConstraint(
            model_name="block",
            constraint=models.UniqueConstraint(
                fields=["line", "code"], condition=Q(cleared_at=None, position=None), name="block_one_open_of_line"
            ),
        ),
    ]
