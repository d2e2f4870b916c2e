from django.apps import AppConfig
from django.utils.module_loading import autodiscover_modules


class AuditConfig(AppConfig):
    name = "plant.audit"
    label = "audit"

    def ready(self) -> None:
        autodiscover_modules("verifying")  # each app's verifying.py registers what must hold
