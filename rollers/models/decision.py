"""Whether a roller gets tape, and why. A "no" is a decision too."""

from django.conf import settings
from django.db import models

from plant.floor.models import Position, Product


class Decision(models.Model):
    """What was decided about a wrinkle at a position. Append-only; a later decision stands in its place."""

    class Answer(models.TextChoices):
        TAPE = "tape", "tape"
        FIX = "fix", "fix the cause"
        WATCH = "watch", "watch"
        NOTHING = "nothing", "nothing"

    position = models.ForeignKey(Position, models.PROTECT, related_name="decisions")
    products = models.ManyToManyField(Product, related_name="decisions")
    answer = models.CharField(max_length=8, choices=Answer)
    ends = models.CharField(max_length=10, blank=True, help_text="both, operator or drive")
    reason = models.TextField()
    grounds = models.JSONField(default=dict, help_text="Walk, cause sheet and ranking it rests on, by their ids")
    emergency = models.BooleanField(default=False, help_text="Line walk and cause sheet follow within 24 hours")
    at = models.DateTimeField()
    by = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, related_name="+")

    class Meta:
        ordering = ["position", "-pk"]

    def __str__(self) -> str:
        return f"{self.position}: {self.answer}"
