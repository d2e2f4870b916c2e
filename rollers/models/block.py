"""Blocks as they were seen, and overrides that let a run start in spite of one."""

from django.conf import settings
from django.db import models
from django.db.models import F, Q

from plant.audit.models import Signature
from plant.floor.models import Line, Position, Run
from rollers.models.task import Deviation


class Block(models.Model):
    """A finding that stops a line, from when it was first seen to when it was gone.

    The readiness of a line is always computed; these rows only remember since when and until when.
    """

    line = models.ForeignKey(Line, models.PROTECT, related_name="blocks")
    position = models.ForeignKey(Position, models.PROTECT, null=True, related_name="blocks")
    code = models.CharField(max_length=40)
    sentence = models.TextField()
    who = models.CharField(max_length=200, help_text="Who clears it")
    run = models.ForeignKey(Run, models.PROTECT, null=True, related_name="blocks")
    opened_at = models.DateTimeField()
    cleared_at = models.DateTimeField(null=True)
    cleared_by = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, null=True, related_name="+")

    class Meta:
        ordering = ["cleared_at", "opened_at"]
        constraints = [
            # Two, because a missing position (a block of the whole line) is never equal to another missing one.
            models.UniqueConstraint(
                fields=["line", "position", "code"], condition=Q(cleared_at=None), name="block_one_open_at_roller"
            ),
            models.UniqueConstraint(
                fields=["line", "code"], condition=Q(cleared_at=None, position=None), name="block_one_open_of_line"
            ),
        ]

    def __str__(self) -> str:
        return f"{self.line} {self.code}: {self.sentence}"


class Override(models.Model):
    """Two persons let one rule pass on one line for a short time. Append-only; it ends by itself.

    Signed live by a supervisor and an engineer, in food and medical rooms by a supervisor and QA.
    """

    line = models.ForeignKey(Line, models.PROTECT, related_name="overrides")
    position = models.ForeignKey(Position, models.PROTECT, null=True, related_name="overrides")
    code = models.CharField(max_length=40, help_text="The one rule that is passed")
    reason_code = models.SlugField(max_length=30)
    reason = models.TextField()
    begins_at = models.DateTimeField()
    ends_at = models.DateTimeField()
    supervisor_signature = models.OneToOneField(Signature, models.PROTECT, related_name="+")
    second_signature = models.OneToOneField(Signature, models.PROTECT, related_name="+")
    deviation = models.OneToOneField(Deviation, models.PROTECT, related_name="override")

    class Meta:
        ordering = ["-begins_at"]
        constraints = [
            models.CheckConstraint(condition=Q(ends_at__gt=F("begins_at")), name="override_ends_after_start"),
        ]

    def __str__(self) -> str:
        return f"{self.code} on {self.line} until {self.ends_at:%Y-%m-%d %H:%M} UTC"
