from django.apps import AppConfig


class WebConfig(AppConfig):
    name = "plant.web"
    label = "web"
