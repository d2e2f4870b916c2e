"""Web paths: in which order and how the web passes the positions."""

from django.db import models

from plant.floor.models.line import Line
from plant.floor.models.position import Position


class WebPath(models.Model):
    """One threading of a line. A changed threading is a new version."""

    line = models.ForeignKey(Line, models.PROTECT, related_name="paths")
    name = models.CharField(max_length=60)
    version = models.PositiveSmallIntegerField(default=1)
    in_use = models.BooleanField(default=True)

    class Meta:
        ordering = ["line", "name", "version"]
        constraints = [models.UniqueConstraint(fields=["line", "name", "version"], name="path_version_once")]

    def __str__(self) -> str:
        return f"{self.line} {self.name}"


class PathStep(models.Model):
    """How the web passes one position on this path."""

    class Rotation(models.TextChoices):
        CLOCKWISE = "cw", "clockwise"
        COUNTERCLOCKWISE = "ccw", "anticlockwise"

    class Side(models.TextChoices):
        A = "A", "side A"
        B = "B", "side B"

    path = models.ForeignKey(WebPath, models.PROTECT, related_name="steps")
    order = models.PositiveSmallIntegerField()
    position = models.ForeignKey(Position, models.PROTECT, related_name="steps")
    wrap_deg = models.FloatField()
    rotation = models.CharField(max_length=3, choices=Rotation, help_text="Seen from the operator end")
    web_side = models.CharField(max_length=1, choices=Side, help_text="The web side that touches the roller")
    entry_span_mm = models.FloatField()
    typed = models.JSONField(default=dict, help_text="Values and units as they were typed")

    class Meta:
        ordering = ["path", "order"]
        constraints = [
            models.UniqueConstraint(fields=["path", "order"], name="step_order_once_per_path"),
            models.UniqueConstraint(fields=["path", "position"], name="step_position_once_per_path"),
        ]

    def __str__(self) -> str:
        return f"{self.path} {self.order}: {self.position}"
