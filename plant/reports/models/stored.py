"""A report that somebody asked for, and the file that was made."""

from django.conf import settings
from django.db import models


class StoredReport(models.Model):
    """Asked for, then made outside the web worker. `digest` is the SHA-256 of the file."""

    kind = models.CharField(max_length=40)
    subject_id = models.CharField(max_length=60)
    title = models.CharField(max_length=200)
    paper = models.CharField(max_length=6, choices=[("a4", "A4"), ("letter", "Letter")], default="a4")
    asked_by = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, related_name="+")
    asked_at = models.DateTimeField()
    made_at = models.DateTimeField(null=True)
    file_name = models.CharField(max_length=120, blank=True)
    digest = models.CharField(max_length=64, blank=True)
    made_with = models.CharField(max_length=120, blank=True)

    class Meta:
        ordering = ["-asked_at", "-pk"]

    def __str__(self) -> str:
        return self.title
