from django.apps import AppConfig


class RollersConfig(AppConfig):
    name = "rollers"
