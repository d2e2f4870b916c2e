"""Gauges, their calibrations, and what was measured with them."""

from django.conf import settings
from django.db import models

from plant.floor.models import Position
from rollers.models.body import Body
from rollers.models.stock import TapeStock


class Gauge(models.Model):
    """A measuring instrument of the plant."""

    code = models.CharField(max_length=30, unique=True)
    name = models.CharField(max_length=120)
    in_use = models.BooleanField(default=True)

    class Meta:
        ordering = ["code"]

    def __str__(self) -> str:
        return self.code


class Calibration(models.Model):
    """One calibration certificate of a gauge. Written once."""

    gauge = models.ForeignKey(Gauge, models.PROTECT, related_name="calibrations")
    certificate = models.CharField(max_length=80)
    done_on = models.DateField()
    due_on = models.DateField()
    uncertainty = models.FloatField(help_text="Expanded, k = 2, in the gauge's unit")
    unit = models.CharField(max_length=12)
    found_in_tolerance = models.BooleanField(default=True)
    by = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, null=True, related_name="+")
    at = models.DateTimeField()

    class Meta:
        ordering = ["gauge", "-done_on", "-pk"]

    def __str__(self) -> str:
        return f"{self.gauge} {self.certificate}"


class Measurement(models.Model):
    """One measured value, with the gauge. Written once."""

    class Quantity(models.TextChoices):
        DIAMETER = "diameter_mm", "diameter, mm"
        ALIGNMENT = "misalignment_mm_per_m", "misalignment, mm/m"
        ROUGHNESS = "roughness_um", "roughness Rq, µm"
        TAPE_THICKNESS = "thickness_mm", "tape thickness, mm"

    gauge = models.ForeignKey(Gauge, models.PROTECT, null=True, related_name="measurements")
    quantity = models.CharField(max_length=30, choices=Quantity)
    body = models.ForeignKey(Body, models.PROTECT, null=True, related_name="measurements")
    position = models.ForeignKey(Position, models.PROTECT, null=True, related_name="measurements")
    stock = models.ForeignKey(TapeStock, models.PROTECT, null=True, related_name="measurements")
    value = models.FloatField()
    readings = models.JSONField(default=dict, help_text="For example operator, centre and drive end")
    typed = models.JSONField(default=dict, help_text="Values and units as they were typed")
    gauge_overdue = models.BooleanField(default=False)
    at = models.DateTimeField()
    by = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, null=True, related_name="+")

    class Meta:
        ordering = ["-at", "-pk"]

    def __str__(self) -> str:
        return f"{self.get_quantity_display()} {self.value:g}"
