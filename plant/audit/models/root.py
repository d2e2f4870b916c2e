"""Daily roots: one hash that stands for every event written before it (RFC 6962), to be printed and kept elsewhere."""

from django.db import models


class DailyRoot(models.Model):
    """Append-only. The tree's first leaf is `header`, the others are the heads of all streams by name.

    The header names the root before, so the roots form a chain of their own. After a time without a running program
    one root covers everything since the last one, and says so (`since`, `missed_days`).
    """

    date = models.DateField(unique=True, help_text="The day in UTC on which it was made")
    since = models.DateTimeField(null=True, help_text="When the root before was made; empty for the first")
    header = models.TextField(help_text="Canonical JSON of the first leaf")
    size = models.PositiveIntegerField(help_text="Leaves of the tree")
    root = models.CharField(max_length=64)
    previous_root = models.CharField(max_length=64)
    made_at = models.DateTimeField()

    class Meta:
        ordering = ["date"]

    def __str__(self) -> str:
        return f"root of {self.date}: {self.root}"

    @property
    def missed_days(self) -> int:
        """Days between the root before and this one of which there is no root of their own."""
        return max(0, (self.date - self.since.date()).days - 1) if self.since else 0


class RootHead(models.Model):
    """Append-only. A stream that grew since the root before: its last link, and the tree over its new events.

    A stream that did not grow keeps the leaf that it had, so it needs no row.
    """

    root = models.ForeignKey(DailyRoot, models.PROTECT, related_name="heads")
    stream = models.CharField(max_length=60)
    first = models.PositiveBigIntegerField(help_text="Number of the first event since the root before")
    seq = models.PositiveBigIntegerField()
    hash = models.CharField(max_length=64)
    events_root = models.CharField(max_length=64, help_text="Merkle root over the hashes of the events first to seq")

    class Meta:
        constraints = [models.UniqueConstraint(fields=["root", "stream"], name="root_head_once")]
        indexes = [models.Index(fields=["stream", "seq"])]

    def __str__(self) -> str:
        return f"{self.root.date} {self.stream} {self.seq}"
