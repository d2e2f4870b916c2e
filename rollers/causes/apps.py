from django.apps import AppConfig


class CausesConfig(AppConfig):
    name = "rollers.causes"
    label = "causes"
