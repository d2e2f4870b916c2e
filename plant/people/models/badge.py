"""Badges: an identifier to scan, never a secret."""

from django.conf import settings
from django.db import models
from django.db.models import Q


class Badge(models.Model):
    """An opaque code on a card. Lost or returned cards are ended; a code is never used again."""

    person = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, related_name="badges")
    code = models.CharField(max_length=24, unique=True)
    issued_at = models.DateTimeField()
    issued_by = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, null=True, related_name="+")
    ended_at = models.DateTimeField(null=True)
    end_reason = models.CharField(max_length=200, blank=True)

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["person"], condition=Q(ended_at=None), name="badge_one_valid_per_person")
        ]

    def __str__(self) -> str:
        return self.code
