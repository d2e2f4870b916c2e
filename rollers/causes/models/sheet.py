"""The cause sheet: every other cause of wrinkles, measured, or not checked and why."""

from django.conf import settings
from django.db import models
from django.db.models import Q

from plant.floor.models import Position, ProductVersion
from rollers.causes.models.walk import Walk
from rollers.models import Gauge


class CauseSheet(models.Model):
    """One sheet for a suspected roller and product. Open while causes are checked, then closed by the engineer."""

    position = models.ForeignKey(Position, models.PROTECT, related_name="cause_sheets")
    product_version = models.ForeignKey(ProductVersion, models.PROTECT, related_name="cause_sheets")
    walk = models.ForeignKey(Walk, models.PROTECT, null=True, related_name="cause_sheets")
    at = models.DateTimeField()
    by = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, related_name="+")
    closed_at = models.DateTimeField(null=True)
    closed_by = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, null=True, related_name="+")

    class Meta:
        ordering = ["-at", "-pk"]
        constraints = [
            models.UniqueConstraint(
                fields=["position", "product_version"], condition=Q(closed_at=None), name="cause_sheet_one_open"
            )
        ]

    def __str__(self) -> str:
        return f"cause sheet {self.pk} of {self.position}"


class CauseEntry(models.Model):
    """One row filled in. A later row for the same cause counts instead; the earlier stays readable."""

    class Outcome(models.TextChoices):
        PASS = "pass", "pass"
        CAUTION = "caution", "caution"
        FAIL = "fail", "fail"
        NOT_CHECKED = "not checked", "not checked"

    sheet = models.ForeignKey(CauseSheet, models.PROTECT, related_name="entries")
    cause = models.CharField(max_length=30)
    outcome = models.CharField(max_length=12, choices=Outcome)
    value = models.FloatField(null=True)
    unit = models.CharField(max_length=20, blank=True)
    typed = models.JSONField(default=dict, help_text="Value and unit as they were typed")
    gauge = models.ForeignKey(Gauge, models.PROTECT, null=True, related_name="cause_entries")
    gauge_words = models.CharField(max_length=200, blank=True, help_text="Its calibration and uncertainty then")
    gauge_overdue = models.BooleanField(default=False)
    measured_at = models.DateTimeField(null=True)
    limits = models.JSONField(default=dict, help_text="Caution, fail, source and version of the limits then")
    sentence = models.TextField()
    reason = models.CharField(max_length=300, blank=True, help_text="Why it was not checked")
    at = models.DateTimeField()
    by = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, related_name="+")

    class Meta:
        ordering = ["sheet", "pk"]
        constraints = [
            models.CheckConstraint(
                condition=Q(outcome="not checked", value=None) & ~Q(reason="")
                | ~Q(outcome="not checked") & Q(value__isnull=False),
                name="cause_entry_value_or_reason",
            )
        ]

    def __str__(self) -> str:
        return f"{self.cause}: {self.outcome}"
