"""Skills, certificates, and the one question: may this person do this, here, now?"""

from django.apps import AppConfig
from django.db.models.signals import post_migrate

from training.standard_skills import lay_down_skills


class TrainingConfig(AppConfig):
    name = "training"

    def ready(self) -> None:
        post_migrate.connect(lay_down_skills, sender=self, dispatch_uid="training.standard_skills")
