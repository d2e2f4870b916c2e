"""The audit trail: append-only events, chained per stream."""

from django.conf import settings
from django.db import models


class StreamHead(models.Model):
    """The last link of a stream. Writers on different streams do not wait for one another."""

    stream = models.CharField(max_length=60, unique=True)
    seq = models.PositiveBigIntegerField(default=0)
    hash = models.CharField(max_length=64)

    def __str__(self) -> str:
        return f"{self.stream} {self.seq}"


class Event(models.Model):
    """One act. `hash` was computed from `body`, canonical JSON (RFC 8785); the columns repeat it to be searched."""

    stream = models.CharField(max_length=60)
    seq = models.PositiveBigIntegerField()
    at = models.DateTimeField(db_index=True)
    actor = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, null=True, related_name="+")
    action = models.CharField(max_length=60, db_index=True)
    subject_type = models.CharField(max_length=40)
    subject_id = models.CharField(max_length=60)
    sentence = models.TextField()
    reason = models.TextField(blank=True)
    body = models.TextField()
    previous_hash = models.CharField(max_length=64)
    hash = models.CharField(max_length=64)

    class Meta:
        constraints = [models.UniqueConstraint(fields=["stream", "seq"], name="event_once_per_place")]
        indexes = [models.Index(fields=["subject_type", "subject_id", "at"])]

    def __str__(self) -> str:
        return f"{self.stream} {self.seq}: {self.sentence}"
