"""Shifts: a pattern in plant time, and each shift with its crew."""

from django.conf import settings
from django.db import models
from django.db.models import F, Q


class ShiftPattern(models.Model):
    """A shift as it recurs every day, in plant time. It may end after midnight."""

    name = models.CharField(max_length=20, unique=True)
    starts = models.TimeField()
    ends = models.TimeField()

    class Meta:
        ordering = ["starts"]

    def __str__(self) -> str:
        return self.name


class Shift(models.Model):
    """One shift. It belongs to the date on which it starts; its length follows from UTC, also in clock-change weeks."""

    date = models.DateField()
    name = models.CharField(max_length=20)
    starts_at = models.DateTimeField()
    ends_at = models.DateTimeField()
    crew = models.ManyToManyField(settings.AUTH_USER_MODEL, related_name="shifts")

    class Meta:
        ordering = ["starts_at"]
        constraints = [
            models.UniqueConstraint(fields=["date", "name"], name="shift_once_per_date"),
            models.CheckConstraint(condition=Q(ends_at__gt=F("starts_at")), name="shift_ends_after_start"),
        ]

    def __str__(self) -> str:
        return f"{self.name} {self.date}"
