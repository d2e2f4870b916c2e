"""Runs: a product on a path of a line."""

from django.conf import settings
from django.db import models
from django.db.models import Q

from plant.floor.models.line import Line
from plant.floor.models.path import WebPath
from plant.floor.models.product import ProductVersion


class Run(models.Model):
    """Planned, then released by a supervisor, then ended; or cancelled. One released run per line at a time."""

    class State(models.TextChoices):
        PLANNED = "planned", "planned"
        RELEASED = "released", "released"
        ENDED = "ended", "ended"
        CANCELLED = "cancelled", "cancelled"

    line = models.ForeignKey(Line, models.PROTECT, related_name="runs")
    path = models.ForeignKey(WebPath, models.PROTECT, related_name="runs")
    product_version = models.ForeignKey(ProductVersion, models.PROTECT, related_name="runs")
    state = models.CharField(max_length=10, choices=State, default=State.PLANNED)
    tension_n_per_m = models.FloatField()
    speed_m_per_min = models.FloatField()
    typed = models.JSONField(default=dict, help_text="Values and units as they were typed")
    planned_at = models.DateTimeField()
    planned_by = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, related_name="+")
    starts_at = models.DateTimeField(help_text="Planned start")
    released_at = models.DateTimeField(null=True)
    ended_at = models.DateTimeField(null=True)

    class Meta:
        ordering = ["starts_at", "pk"]
        constraints = [
            models.UniqueConstraint(fields=["line"], condition=Q(state="released"), name="run_one_released_per_line")
        ]

    def __str__(self) -> str:
        return f"{self.product_version.product} on {self.line}"
