"""Skills that were laid down before they had figures get the standard ones; the months stay the plant's."""

from django.db import migrations

from training.standard_skills import STANDARD_SKILLS


def give_figures(apps, editor):
    skill, kept = apps.get_model("training", "Skill"), {"name", "kind", "valid_months"}
    for standard in STANDARD_SKILLS:
        figures = {name: value for name, value in standard.figures().items() if name not in kept}
        skill.objects.filter(code=standard.code).update(**figures)


class Migration(migrations.Migration):
    dependencies = [("training", "0004_dues_and_practice")]
    operations = [migrations.RunPython(give_figures, migrations.RunPython.noop)]
