from django.apps import AppConfig


class PlantConfig(AppConfig):
    name = "plant"
    label = "plant"

    def ready(self) -> None:
        from plant import checks  # noqa: F401  (registers the system checks)
