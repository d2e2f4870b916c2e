from django.apps import AppConfig


class ReportsConfig(AppConfig):
    name = "plant.reports"
    label = "reports"
