from django.apps import AppConfig


class TabletConfig(AppConfig):
    name = "plant.tablet"
    label = "tablet"
