"""Stored verdicts, and the limits they were judged by."""

from django.conf import settings
from django.db import models

from plant.audit.models import Signature
from plant.floor.models import PathStep, ProductVersion


class LimitSet(models.Model):
    """The limits of a version, each with its source tag. Written once, signed by engineer and QA together."""

    number = models.PositiveIntegerField(primary_key=True)
    limits = models.JSONField()
    reason = models.TextField()
    at = models.DateTimeField()
    engineer_signature = models.OneToOneField(Signature, models.PROTECT, null=True, related_name="+")
    qa_signature = models.OneToOneField(Signature, models.PROTECT, null=True, related_name="+")

    class Meta:
        ordering = ["number"]

    def __str__(self) -> str:
        return f"limits version {self.number}"


class Calculation(models.Model):
    """One verdict with everything it came from. It never changes; the same calcs version recomputes it."""

    product_version = models.ForeignKey(ProductVersion, models.PROTECT, related_name="calculations")
    step = models.ForeignKey(PathStep, models.PROTECT, related_name="calculations")
    case = models.JSONField(help_text="The inputs, as `python -m calcs check` takes them")
    result = models.JSONField(help_text="The answer, as `python -m calcs check` prints it")
    verdict = models.CharField(max_length=20)
    limits_version = models.CharField(max_length=20)
    calcs_version = models.CharField(max_length=20)
    at = models.DateTimeField()
    by = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, null=True, related_name="+")

    def __str__(self) -> str:
        return f"{self.step.position} for {self.product_version}: {self.verdict}"
