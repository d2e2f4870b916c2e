"""The periodic look at who may do what."""

from django.conf import settings
from django.db import models

from plant.audit.models import Signature


class AccessReview(models.Model):
    """What the reviewer saw (persons with roles, leavers with open logins) and concluded, signed."""

    at = models.DateTimeField()
    reviewer = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, related_name="+")
    seen = models.JSONField()
    conclusion = models.TextField()
    signature = models.OneToOneField(Signature, models.PROTECT, related_name="+", null=True)

    def __str__(self) -> str:
        return f"access review {self.at:%Y-%m-%d}"
