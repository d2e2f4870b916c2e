from importlib import import_module

from django.apps import AppConfig


class PlantConfig(AppConfig):
    name = "plant"
    label = "plant"

    def ready(self) -> None:
        import_module("plant.checks")  # registers the system checks
