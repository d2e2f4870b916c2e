"""What is due lives in the database, not in a timer."""

from django.db import models


class Job(models.Model):
    """One piece of work: due at `next_at`, again every `every_seconds` where that is set."""

    class State(models.TextChoices):
        WAITING = "waiting", "waiting"
        RUNNING = "running", "running"
        DONE = "done", "done"
        FAILED = "failed", "failed"

    work = models.CharField(max_length=80)
    key = models.CharField(max_length=120, unique=True, help_text="The same key is never queued twice.")
    arguments = models.JSONField(default=dict)
    every_seconds = models.PositiveIntegerField(null=True)
    next_at = models.DateTimeField(db_index=True)
    state = models.CharField(max_length=10, choices=State, default=State.WAITING)
    started_at = models.DateTimeField(null=True)
    ended_at = models.DateTimeField(null=True)
    runs = models.PositiveIntegerField(default=0)
    missed = models.PositiveIntegerField(default=0, help_text="Slots that passed while nothing ran.")
    trouble = models.TextField(blank=True)
    outcome = models.JSONField(null=True)

    class Meta:
        indexes = [models.Index(fields=["state", "next_at"])]

    def __str__(self) -> str:
        return f"{self.work} ({self.state})"
