"""What somebody saw of the web, or looked for and did not see. Rows are written once; a correction points back."""

from django.conf import settings
from django.db import models
from django.db.models import Q

from plant.audit.models import Attachment
from plant.floor.models import Line, Position, ProductVersion, Run


class Grade(models.IntegerChoices):
    """Five steps that two people call alike (default of the trade form, no source)."""

    FLAT = 0, "flat"
    TROUGHS = 1, "troughs in the span only"
    AT_ROLLER = 2, "troughs reach the roller, no crease"
    COMES_AND_GOES = 3, "a crease that comes and goes"
    STEADY = 4, "steady crease, fold-over or break"


class Lane(models.TextChoices):
    """Where across the web; ends are named by the machine, never by where one stands."""

    OPERATOR = "operator", "operator end"
    CENTRE = "centre", "centre"
    DRIVE = "drive", "drive end"
    ALL = "all", "whole width"


class Direction(models.TextChoices):
    """How the wrinkle lies, followed in the direction of travel."""

    MD = "md", "along the web"
    TOWARD_DRIVE = "toward-drive", "diagonal, running toward the drive end"
    TOWARD_OPERATOR = "toward-operator", "diagonal, running toward the operator end"
    RANDOM = "random", "no fixed direction"


class Sighting(models.Model):
    """One look at the web between two rollers. Grade 0 is *looked, none*: without it no rate has a denominator."""

    key = models.UUIDField(unique=True, help_text="Made on the device, so that a report sent twice is one report")
    line = models.ForeignKey(Line, models.PROTECT, related_name="sightings")
    after = models.ForeignKey(Position, models.PROTECT, null=True, related_name="+", help_text="Roller before the span")
    before = models.ForeignKey(Position, models.PROTECT, null=True, related_name="sightings")
    grade = models.PositiveSmallIntegerField(choices=Grade)
    lane = models.CharField(max_length=10, choices=Lane, blank=True)
    from_operator_mm = models.FloatField(null=True, help_text="From the operator edge of the web")
    direction = models.CharField(max_length=16, choices=Direction, blank=True)
    product_version = models.ForeignKey(ProductVersion, models.PROTECT, null=True, related_name="sightings")
    run = models.ForeignKey(Run, models.PROTECT, null=True, related_name="sightings")
    roll = models.CharField(max_length=40, blank=True)
    speed_m_per_min = models.FloatField(null=True)
    tension_n_per_m = models.FloatField(null=True)
    typed = models.JSONField(default=dict, help_text="Values and units as they were typed")
    photo = models.ForeignKey(Attachment, models.PROTECT, null=True, related_name="+")
    note = models.CharField(max_length=300, blank=True)
    corrects = models.OneToOneField("self", models.PROTECT, null=True, related_name="corrected_by")
    reason = models.CharField(max_length=300, blank=True)
    at = models.DateTimeField(help_text="When it was looked")
    recorded_at = models.DateTimeField()
    by = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, related_name="+")

    class Meta:
        ordering = ["-at", "-pk"]
        indexes = [models.Index(fields=["line", "at"], name="sighting_line_at")]
        constraints = [
            models.CheckConstraint(condition=Q(grade__lte=4), name="sighting_grade_to_four"),
            models.CheckConstraint(condition=Q(grade=0) | ~Q(before=None), name="sighting_names_its_place"),
            models.CheckConstraint(condition=Q(corrects=None) | ~Q(reason=""), name="sighting_correction_has_reason"),
        ]

    def __str__(self) -> str:
        return f"line {self.line_id} grade {self.grade} {self.at:%Y-%m-%d %H:%M}"

    @property
    def is_diagonal(self) -> bool:
        """Whether it runs across the web to one end."""
        return self.direction in (Direction.TOWARD_DRIVE, Direction.TOWARD_OPERATOR)
