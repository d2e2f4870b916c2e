from django.apps import AppConfig
from django.utils.module_loading import autodiscover_modules


class ReportsConfig(AppConfig):
    name = "plant.reports"
    label = "reports"

    def ready(self) -> None:
        autodiscover_modules("reports")  # each app's reports.py registers what it can print
