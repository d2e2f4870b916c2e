"""Files that were taken in: which, by whom, how many rows."""

from django.conf import settings
from django.db import models


class ImportBatch(models.Model):
    """One file, taken whole. Written once."""

    kind = models.CharField(max_length=30)
    file_name = models.CharField(max_length=200)
    digest = models.CharField(max_length=64)
    rows = models.PositiveIntegerField()
    at = models.DateTimeField()
    by = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, related_name="+")

    def __str__(self) -> str:
        return f"{self.kind} from {self.file_name}"
