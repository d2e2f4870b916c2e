from django.apps import AppConfig
from django.utils.module_loading import autodiscover_modules


class AuditConfig(AppConfig):
    name = "plant.audit"
    label = "audit"

    def ready(self) -> None:
        autodiscover_modules("verifying")  # each app registers what must hold of its records
        autodiscover_modules("links")  # ... and where each kind of record is shown
