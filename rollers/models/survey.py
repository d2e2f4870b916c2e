"""The go-live survey of a room: what is on every roller on the day records begin."""

from django.conf import settings
from django.db import models
from django.db.models import Q

from plant.audit.models import Signature
from plant.floor.models import Room


class Survey(models.Model):
    """Opened, filled position by position (tape facts of the kind *survey*), closed by QA."""

    room = models.ForeignKey(Room, models.PROTECT, related_name="surveys")
    opened_at = models.DateTimeField()
    opened_by = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, related_name="+")
    closed_at = models.DateTimeField(null=True)
    signature = models.OneToOneField(Signature, models.PROTECT, null=True, related_name="+")

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["room"], condition=Q(closed_at=None), name="survey_one_open_per_room")
        ]

    def __str__(self) -> str:
        return f"survey of {self.room} {self.opened_at:%Y-%m-%d}"
