"""Orders to maintenance that come from a cause sheet."""

from django.conf import settings
from django.db import models

from rollers.causes.models.sheet import CauseSheet
from rollers.models import Task


class Order(models.Model):
    """Work that maintenance is asked for because of a sheet, as a task; its end asks whether tape is still needed."""

    class Work(models.TextChoices):
        ALIGN = "align", "align the roller"
        BALANCE = "balance", "balance the roller"
        CLEAN = "clean", "clean the roller"
        REGRIND = "regrind", "regrind the roller"
        BEARINGS = "bearings", "look at the bearings"

    sheet = models.ForeignKey(CauseSheet, models.PROTECT, related_name="orders")
    work = models.CharField(max_length=10, choices=Work)
    task = models.OneToOneField(Task, models.PROTECT, related_name="cause_order")
    question = models.OneToOneField(
        Task, models.PROTECT, null=True, related_name="+", help_text="Is the tape still needed?"
    )
    at = models.DateTimeField()
    by = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, related_name="+")

    class Meta:
        ordering = ["-at", "-pk"]

    def __str__(self) -> str:
        return f"{self.work} {self.sheet.position}"
