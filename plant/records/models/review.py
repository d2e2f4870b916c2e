"""The periodic look at the audit trail, which is an act itself."""

from django.conf import settings
from django.db import models

from plant.audit.models import Signature


class TrailReview(models.Model):
    """Who read which stretch of the trail, what was found, signed (EU GMP Annex 11, section 9)."""

    at = models.DateTimeField()
    reviewer = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, related_name="+")
    since = models.DateTimeField()
    until = models.DateTimeField()
    events = models.PositiveIntegerField(help_text="Events of the stretch")
    remarks = models.TextField()
    signature = models.OneToOneField(Signature, models.PROTECT, related_name="+", null=True)

    class Meta:
        ordering = ["-until", "-pk"]

    def __str__(self) -> str:
        return f"review of the trail {self.since:%Y-%m-%d} to {self.until:%Y-%m-%d}"
