"""Lockouts: who locked a roller out for which work, step by step, with which lock."""

from django.conf import settings
from django.db import models
from django.db.models import Q

from plant.floor.models import Position
from rollers.models.application import Application


class Lockout(models.Model):
    """One person's own lock for one piece of work. `steps` grows in the order of 29 CFR 1910.147(d)(1)-(6).

    The program knows nothing of the machine: this is what the person confirmed, and when.
    """

    class Purpose(models.TextChoices):
        APPLY = "apply", "put tape on"
        REMOVE = "remove", "take tape off"
        CLEAN = "clean", "clean"
        LOOK = "look", "look closely"

    position = models.ForeignKey(Position, models.PROTECT, related_name="lockouts")
    application = models.ForeignKey(Application, models.PROTECT, null=True, related_name="lockouts")
    purpose = models.CharField(max_length=8, choices=Purpose)
    person = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, related_name="+")
    lock_number = models.CharField(max_length=20, blank=True)
    steps = models.JSONField(default=list, help_text='[{"key": "prepare", "at": "…"}, …] in order')
    begun_at = models.DateTimeField()
    complete_at = models.DateTimeField(null=True, help_text="All six steps are confirmed")
    removed_at = models.DateTimeField(null=True, help_text="The lock came off")
    handed_to = models.OneToOneField("self", models.PROTECT, null=True, related_name="taken_from")

    class Meta:
        ordering = ["-pk"]
        constraints = [
            models.UniqueConstraint(
                fields=["position", "person"], condition=Q(removed_at=None), name="lockout_one_open_per_person"
            )
        ]

    def __str__(self) -> str:
        return f"lock {self.lock_number or '?'} of {self.person} at {self.position}"

    @property
    def holds(self) -> bool:
        """Complete, and the lock is still on."""
        return self.complete_at is not None and self.removed_at is None
