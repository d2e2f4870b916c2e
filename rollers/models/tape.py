"""What was done to the tape on a roller, fact by fact. What is on it now is the newest fact."""

from django.conf import settings
from django.db import models

from plant.audit.models import Attachment
from plant.floor.models import Position
from rollers.models.application import Application
from rollers.models.body import Body, Mounting
from rollers.models.recipe import RecipeVersion
from rollers.models.survey import Survey


class TapeState(models.TextChoices):
    BARE = "bare", "bare"
    TAPED = "taped", "taped"
    PARTIAL = "partial", "partial"
    RESIDUE = "residue", "residue"
    UNKNOWN = "unknown", "unknown"


class TapeFact(models.Model):
    """One recorded fact and the state after it. Written once; a correction is a new fact."""

    class Kind(models.TextChoices):
        SURVEYED = "surveyed", "surveyed"
        LOCKED_OUT = "locked out", "locked out"
        PREPARED = "prepared", "face prepared"
        APPLIED = "applied", "applied"
        MEASURED = "measured", "measured"
        COUNTED = "counted", "pieces, offcuts and knife counted"
        CHECKED = "checked", "checked by a second person"
        RESTART = "restart", "restart step"
        VERIFIED = "verified", "verified"
        LOOKED = "looked", "looked at"
        HANDED_OVER = "handed over", "job handed over"
        REMOVING = "removing", "removal begun"
        REMOVED = "removed", "removed"
        CLEANED = "cleaned", "cleaned and looked at"
        BARE = "bare", "looked at and found bare"
        FOUND = "found", "found without a record"
        VOIDED = "voided", "voided"
        CONFLICT = "conflict", "recorded otherwise by another person"
        RESOLVED = "resolved", "conflict resolved by looking"

    body = models.ForeignKey(Body, models.PROTECT, related_name="tape_facts")
    position = models.ForeignKey(Position, models.PROTECT, null=True, related_name="tape_facts")
    kind = models.CharField(max_length=16, choices=Kind)
    at = models.DateTimeField(help_text="When it was done")
    recorded_at = models.DateTimeField()
    by = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, related_name="+")
    state = models.CharField(max_length=10, choices=TapeState)
    recipe_version = models.ForeignKey(RecipeVersion, models.PROTECT, null=True, related_name="tape_facts")
    orientation = models.CharField(max_length=10, choices=Mounting.Orientation, blank=True)
    rotation = models.CharField(max_length=3, blank=True, help_text="Direction of rotation when it was wound")
    applier = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, null=True, related_name="+")
    measured = models.BooleanField(default=False)
    checked = models.BooleanField(default=False)
    pieces = models.PositiveSmallIntegerField(default=0, help_text="Pieces on the roller after this fact")
    details = models.JSONField(default=dict)
    reason = models.TextField(blank=True)
    application = models.ForeignKey(Application, models.PROTECT, null=True, related_name="facts")
    photo = models.ForeignKey(Attachment, models.PROTECT, null=True, related_name="+")
    late = models.BooleanField(default=False, help_text="Recorded more than two hours after it was done")
    key = models.UUIDField(null=True, unique=True, help_text="Made where it was recorded; the same key is one fact")
    survey = models.ForeignKey(Survey, models.PROTECT, null=True, related_name="facts")

    class Meta:
        ordering = ["body", "-pk"]
        indexes = [models.Index(fields=["body", "-id"])]

    def __str__(self) -> str:
        return f"{self.body}: {self.kind}, now {self.state}"

    @property
    def carries_tape(self) -> bool:
        """Whether tape or its residue is known to be on: only a removal, counted, ends that."""
        known = (TapeState.TAPED, TapeState.PARTIAL, TapeState.RESIDUE)
        begun = self.kind in (self.Kind.FOUND, self.Kind.REMOVING)
        return self.state in known or begun or self.pieces > 0
