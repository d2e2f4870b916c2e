from django.apps import AppConfig


class FloorConfig(AppConfig):
    name = "plant.floor"
    label = "floor"
