from django.apps import AppConfig
from django.utils.module_loading import autodiscover_modules


class RecordsConfig(AppConfig):
    name = "plant.records"
    label = "records"

    def ready(self) -> None:
        autodiscover_modules("purging")  # each app's purging.py names what of it may be removed after its time
