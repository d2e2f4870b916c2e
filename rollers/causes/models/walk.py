"""The walk upstream from where it is seen until it is gone: one look per roller, and what follows from them."""

from django.conf import settings
from django.db import models

from plant.floor.models import Line, Position, ProductVersion, WebPath
from rollers.causes.models.sighting import Sighting


class Walk(models.Model):
    """A walk along one path with one product at its set-points. Written once; looks and result stand beside it."""

    key = models.UUIDField(unique=True)
    line = models.ForeignKey(Line, models.PROTECT, related_name="walks")
    path = models.ForeignKey(WebPath, models.PROTECT, related_name="walks")
    product_version = models.ForeignKey(ProductVersion, models.PROTECT, related_name="walks")
    sighting = models.ForeignKey(Sighting, models.PROTECT, null=True, related_name="walks")
    starts_from = models.ForeignKey(Position, models.PROTECT, related_name="+", help_text="Where it was seen")
    tension_n_per_m = models.FloatField()
    speed_m_per_min = models.FloatField()
    typed = models.JSONField(default=dict, help_text="Values and units as they were typed")
    at = models.DateTimeField()
    by = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, related_name="+")

    class Meta:
        ordering = ["-at", "-pk"]

    def __str__(self) -> str:
        return f"walk {self.pk} on {self.path}"


class WalkLook(models.Model):
    """What one roller showed. Looking again is a further row; the newest counts."""

    class Seen(models.TextChoices):
        CLEAN = "clean", "clean"
        TROUGH = "trough", "trough"
        CREASE = "crease", "crease"

    class Answer(models.TextChoices):
        YES = "yes", "yes"
        NO = "no", "no"
        NOT_TRIED = "", "not tried"

    key = models.UUIDField(unique=True)
    walk = models.ForeignKey(Walk, models.PROTECT, related_name="looks")
    position = models.ForeignKey(Position, models.PROTECT, related_name="walk_looks")
    seen = models.CharField(max_length=8, choices=Seen)
    moves_with_roll = models.CharField(max_length=3, choices=Answer, blank=True)
    changes_with_tension = models.CharField(max_length=3, choices=Answer, blank=True)
    changes_with_speed = models.CharField(max_length=3, choices=Answer, blank=True)
    at = models.DateTimeField()
    recorded_at = models.DateTimeField()
    by = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, related_name="+")

    class Meta:
        ordering = ["walk", "pk"]

    def __str__(self) -> str:
        return f"{self.position}: {self.seen}"


class WalkResult(models.Model):
    """What the walk says, with everything it was worked out from. A later look makes a further result."""

    walk = models.ForeignKey(Walk, models.PROTECT, related_name="results")
    first = models.ForeignKey(
        Position, models.PROTECT, null=True, related_name="first_in_walks", help_text="None: clean everywhere"
    )
    sureness = models.FloatField(null=True, help_text="Probability of the named roller under the stated errors")
    answer = models.JSONField(help_text="Posterior, contradictions, where to look again, ranking by mechanics")
    calcs_version = models.CharField(max_length=20)
    at = models.DateTimeField()
    by = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, related_name="+")

    class Meta:
        ordering = ["walk", "-pk"]

    def __str__(self) -> str:
        return f"{self.walk}: {self.first or 'clean'}"
