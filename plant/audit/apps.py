from django.apps import AppConfig


class AuditConfig(AppConfig):
    name = "plant.audit"
    label = "audit"
