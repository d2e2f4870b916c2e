"""Roles, granted and ended in time."""

from django.conf import settings
from django.db import models
from django.db.models import Q


class Role(models.TextChoices):
    OPERATOR = "operator", "operator"
    SUPERVISOR = "supervisor", "shift supervisor"
    ENGINEER = "engineer", "process engineer"
    QA = "qa", "QA"
    TRAINER = "trainer", "trainer"
    ASSESSOR = "assessor", "assessor"
    MAINTENANCE = "maintenance", "maintenance"
    STOREKEEPER = "storekeeper", "storekeeper"
    MANAGER = "manager", "plant manager"
    KEEPER = "keeper", "system keeper"
    GUEST = "guest", "guest"


class RoleGrant(models.Model):
    """A role that a person holds from one moment to another. Ending is an act; nothing is deleted."""

    person = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, related_name="role_grants")
    role = models.CharField(max_length=20, choices=Role)
    granted_at = models.DateTimeField()
    granted_by = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, null=True, related_name="+")
    ended_at = models.DateTimeField(null=True)
    ended_by = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, null=True, related_name="+")

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["person", "role"], condition=Q(ended_at=None), name="role_held_once")
        ]

    def __str__(self) -> str:
        return f"{self.person}: {self.role}"
