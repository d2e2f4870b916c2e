"""What somebody proposes or remarks about a roller: also a guest may, and it binds nobody."""

from django.conf import settings
from django.db import models

from plant.floor.models import Position


class Remark(models.Model):
    """Append-only."""

    class Kind(models.TextChoices):
        PROPOSAL = "proposal", "proposal"
        COMMENT = "comment", "comment"

    position = models.ForeignKey(Position, models.PROTECT, related_name="remarks")
    kind = models.CharField(max_length=10, choices=Kind)
    text = models.TextField()
    at = models.DateTimeField()
    by = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, related_name="+")

    class Meta:
        ordering = ["-at", "-pk"]

    def __str__(self) -> str:
        return f"{self.kind} for {self.position}"
