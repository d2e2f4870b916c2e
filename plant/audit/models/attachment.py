"""Photographs and other files that belong to a record. A row is written once; the file stands under its digest."""

from django.conf import settings
from django.db import models


class Attachment(models.Model):
    """Append-only. `digest` is the SHA-256 of the file, which lies at `attachments/<digest>` in the media folder."""

    digest = models.CharField(max_length=64)
    media_type = models.CharField(max_length=40)
    size = models.PositiveIntegerField(help_text="Bytes")
    name = models.CharField(max_length=120, blank=True, help_text="File name as it was sent")
    at = models.DateTimeField()
    by = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, related_name="+")
    purpose = models.CharField(max_length=120, blank=True, help_text="What it shows, for example: tail of A05")

    class Meta:
        indexes = [models.Index(fields=["digest"])]

    def __str__(self) -> str:
        return self.purpose or self.name or self.digest[:12]
