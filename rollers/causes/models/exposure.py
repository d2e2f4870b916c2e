"""How much ran and what went wrong meanwhile: the denominator of every rate."""

from django.db import models
from django.db.models import F, Q

from plant.floor.models import Line, Product


class Exposure(models.Model):
    """A roll or another stretch of running, as the plant counts it. What was not counted is empty, never zero."""

    line = models.ForeignKey(Line, models.PROTECT, related_name="exposures")
    product = models.ForeignKey(Product, models.PROTECT, related_name="exposures")
    roll = models.CharField(max_length=40, help_text="Roll or period, unique on its line")
    starts_at = models.DateTimeField()
    ends_at = models.DateTimeField()
    length_m = models.FloatField()
    running_h = models.FloatField(help_text="Running hours")
    waste_kg = models.FloatField(null=True)
    made_kg = models.FloatField(null=True)
    wrinkles = models.PositiveIntegerField(null=True, help_text="Wrinkle events; empty where nobody counted")
    breaks = models.PositiveIntegerField(null=True, help_text="Web breaks; empty where nobody counted")
    tension_n_per_m = models.FloatField(null=True)
    speed_m_per_min = models.FloatField(null=True)
    typed = models.JSONField(default=dict, help_text="Values and units as they were typed")
    recorded_at = models.DateTimeField()

    class Meta:
        ordering = ["line", "starts_at", "pk"]
        constraints = [
            models.UniqueConstraint(fields=["line", "roll"], name="exposure_roll_once_per_line"),
            models.CheckConstraint(condition=Q(ends_at__gt=F("starts_at")), name="exposure_ends_after_start"),
            models.CheckConstraint(condition=Q(length_m__gte=0) & Q(running_h__gte=0), name="exposure_not_negative"),
        ]

    def __str__(self) -> str:
        return f"{self.line} {self.roll}"
