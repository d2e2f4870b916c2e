from django.apps import AppConfig


class ApiConfig(AppConfig):
    name = "plant.api"
    label = "api"
