from django.apps import AppConfig
from django.utils.module_loading import autodiscover_modules


class JobsConfig(AppConfig):
    name = "plant.jobs"
    label = "jobs"

    def ready(self) -> None:
        autodiscover_modules("tasks")  # each app's tasks.py registers its work
