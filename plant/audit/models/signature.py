"""Electronic signatures (21 CFR 11.50, 11.70): name, role then, meaning, time, bound to the content's digest."""

from datetime import UTC

from django.conf import settings
from django.db import models


class Signature(models.Model):
    """Append-only. `content` is the canonical JSON that was signed, `digest` its SHA-256."""

    class Method(models.TextChoices):
        PASSWORD = "password", "own password, typed again"
        PIN = "pin", "own PIN, typed again"

    person = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, related_name="signatures")
    printed_name = models.CharField(max_length=120)
    roles_then = models.CharField(max_length=200)
    meaning = models.CharField(max_length=40)
    at = models.DateTimeField()
    local_time = models.CharField(max_length=40, help_text="Plant time with its offset from UTC, as shown.")
    method = models.CharField(max_length=10, choices=Method)
    subject_type = models.CharField(max_length=40)
    subject_id = models.CharField(max_length=60)
    content = models.TextField()
    digest = models.CharField(max_length=64)

    class Meta:
        indexes = [models.Index(fields=["subject_type", "subject_id"])]

    def __str__(self) -> str:
        return f"{self.printed_name}, {self.meaning}, {self.local_time}"

    @property
    def role(self) -> str:
        """The roles at the moment of signing, as printed."""
        return self.roles_then

    @property
    def signed_at(self) -> str:
        """Plant time with its offset, and UTC."""
        return f"{self.local_time} ({self.at.astimezone(UTC):%Y-%m-%d %H:%M:%S} UTC)"
