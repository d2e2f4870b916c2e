"""Lines and their tension zones."""

from django.db import models


class Line(models.Model):
    """A line that runs webs over rollers."""

    code = models.CharField(max_length=12, unique=True)
    name = models.CharField(max_length=120)
    reversing = models.BooleanField(default=False)
    max_speed_m_per_min = models.FloatField(null=True)
    in_use = models.BooleanField(default=True)
    typed = models.JSONField(default=dict, help_text="Values and units as they were typed")

    class Meta:
        ordering = ["code"]

    def __str__(self) -> str:
        return self.code


class TensionZone(models.Model):
    """A stretch of the line under one tension control."""

    class Control(models.TextChoices):
        TENSION = "tension", "tension"
        DRAW = "draw", "draw"
        NONE = "none", "none"

    line = models.ForeignKey(Line, models.PROTECT, related_name="zones")
    number = models.PositiveSmallIntegerField()
    control = models.CharField(max_length=10, choices=Control, default=Control.TENSION)
    sensor = models.CharField(max_length=60, blank=True)
    calibrated_on = models.DateField(null=True)

    class Meta:
        ordering = ["line", "number"]
        constraints = [models.UniqueConstraint(fields=["line", "number"], name="zone_number_once_per_line")]

    def __str__(self) -> str:
        return f"{self.line} zone {self.number}"
