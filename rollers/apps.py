from django.apps import AppConfig
from django.utils.module_loading import autodiscover_modules


class RollersConfig(AppConfig):
    name = "rollers"

    def ready(self) -> None:
        autodiscover_modules("reports_line")
        autodiscover_modules("reports_store")
        autodiscover_modules("says")  # what applications above say on pages of the core
