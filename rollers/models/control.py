"""The plant's settings of tape control, version by version."""

from django.db import models

from plant.audit.models import Signature


class ControlSet(models.Model):
    """Times, counts and shares that the rules of tape control use. Append-only, signed by engineer and QA together."""

    number = models.PositiveIntegerField(primary_key=True)
    values = models.JSONField()
    reason = models.TextField()
    at = models.DateTimeField()
    engineer_signature = models.OneToOneField(Signature, models.PROTECT, related_name="+")
    qa_signature = models.OneToOneField(Signature, models.PROTECT, related_name="+")

    class Meta:
        ordering = ["number"]

    def __str__(self) -> str:
        return f"control settings version {self.number}"
