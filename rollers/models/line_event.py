"""What happens to a running line: set-points, rolls, handovers. Rows are added, never changed."""

from django.conf import settings
from django.db import models
from django.db.models import Q

from plant.audit.models import Signature
from plant.floor.models import Line, Run, Shift
from rollers.models.recipe import RecipeVersion


class SetPoint(models.Model):
    """A set-point was changed on a released run. Append-only."""

    class Quantity(models.TextChoices):
        TENSION = "tension", "tension (N/m)"
        SPEED = "speed", "speed (m/min)"

    run = models.ForeignKey(Run, models.PROTECT, related_name="set_points")
    quantity = models.CharField(max_length=8, choices=Quantity)
    before = models.FloatField()
    after = models.FloatField()
    inside = models.BooleanField(help_text="Inside the window of the product and of every recipe on the path")
    verdict = models.CharField(max_length=20, blank=True, help_text="Worst verdict of what is on the rollers there")
    typed = models.JSONField(default=dict, help_text="Value and unit as typed")
    at = models.DateTimeField()
    recorded_at = models.DateTimeField()
    by = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, related_name="+")
    reason = models.CharField(max_length=300, blank=True)

    class Meta:
        ordering = ["run", "pk"]

    def __str__(self) -> str:
        return f"{self.run}: {self.quantity} {self.before:g} to {self.after:g}"


class Roll(models.Model):
    """A finished roll of product: what a hold can be put on. Append-only."""

    run = models.ForeignKey(Run, models.PROTECT, related_name="rolls")
    number = models.CharField(max_length=40, unique=True)
    began_at = models.DateTimeField()
    ended_at = models.DateTimeField()
    length_m = models.FloatField()

    class Meta:
        ordering = ["began_at"]
        constraints = [models.CheckConstraint(condition=Q(ended_at__gt=models.F("began_at")), name="roll_takes_time")]

    def __str__(self) -> str:
        return self.number


class Handover(models.Model):
    """A line, or an unfinished job on it, goes from one person to the next. Append-only."""

    line = models.ForeignKey(Line, models.PROTECT, related_name="handovers")
    shift = models.ForeignKey(Shift, models.PROTECT, null=True, related_name="handovers", help_text="That ends")
    open_items = models.JSONField(help_text="What was open: blocks, tasks, jobs with pieces counted and lock number")
    giver_signature = models.OneToOneField(Signature, models.PROTECT, related_name="+")
    taker_signature = models.OneToOneField(Signature, models.PROTECT, related_name="+")
    at = models.DateTimeField()
    note = models.TextField(blank=True)

    class Meta:
        ordering = ["-at"]

    def __str__(self) -> str:
        return f"handover of {self.line} {self.at:%Y-%m-%d %H:%M} UTC"


class ReCheck(models.Model):
    """A recipe was tested again after something changed, and still holds. Append-only."""

    version = models.ForeignKey(RecipeVersion, models.PROTECT, related_name="re_checks")
    why = models.CharField(max_length=300)
    verdict = models.CharField(max_length=20)
    details = models.JSONField(default=dict)
    signature = models.OneToOneField(Signature, models.PROTECT, null=True, related_name="+")
    at = models.DateTimeField()
    by = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, related_name="+")

    class Meta:
        ordering = ["version", "pk"]

    def __str__(self) -> str:
        return f"{self.version} tested again: {self.verdict}"
