"""Holds on product: what may contain tape, roll by roll, until QA decides."""

from django.db import models

from plant.audit.models import Signature
from plant.floor.models import Line
from rollers.models.application import Application
from rollers.models.line_event import Roll
from rollers.models.lot import Lot


class Hold(models.Model):
    """Everything that ran between two moments. Only QA closes it, when every roll has a decision."""

    class Why(models.TextChoices):
        MISSING = "missing-piece", "a piece of tape is missing"
        FOUND = "found-tape", "tape without a record"
        RECALL = "recall", "a recalled lot was on"
        OTHER = "other", "other"

    line = models.ForeignKey(Line, models.PROTECT, related_name="holds")
    why = models.CharField(max_length=14, choices=Why)
    application = models.ForeignKey(Application, models.PROTECT, null=True, related_name="holds")
    lot = models.ForeignKey(Lot, models.PROTECT, null=True, related_name="holds")
    sentence = models.TextField()
    since = models.DateTimeField(help_text="The last full count that was right, or the first use")
    until = models.DateTimeField(help_text="When it was noticed, or the last use")
    metres = models.FloatField(help_text="Web that ran in that time")
    opened_at = models.DateTimeField()
    closed_at = models.DateTimeField(null=True)
    signature = models.OneToOneField(Signature, models.PROTECT, null=True, related_name="+")

    class Meta:
        ordering = ["closed_at", "-opened_at"]

    def __str__(self) -> str:
        return f"hold on {self.line}: {self.sentence}"


class HeldRoll(models.Model):
    """One roll of a hold. Where no roll was recorded its number says which part of the run it is."""

    class Decision(models.TextChoices):
        OPEN = "open", "held"
        RELEASED = "released", "released"
        REJECTED = "rejected", "rejected"

    hold = models.ForeignKey(Hold, models.PROTECT, related_name="rolls")
    roll = models.ForeignKey(Roll, models.PROTECT, null=True, related_name="holds")
    label = models.CharField(max_length=60)
    length_m = models.FloatField()
    part = models.BooleanField(default=False, help_text="Only a part of the roll ran in that time")
    decision = models.CharField(max_length=10, choices=Decision, default=Decision.OPEN)
    reason = models.CharField(max_length=300, blank=True)
    signature = models.OneToOneField(Signature, models.PROTECT, null=True, related_name="+")

    class Meta:
        ordering = ["hold", "pk"]
        constraints = [models.UniqueConstraint(fields=["hold", "label"], name="held_roll_once")]

    def __str__(self) -> str:
        return f"{self.label}: {self.decision}"
