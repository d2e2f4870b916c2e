"""Roller bodies, and where each was mounted when. Tape goes with the body."""

from django.db import models
from django.db.models import F, Q

from plant.floor.models import Position


class Body(models.Model):
    """A roller with a serial number."""

    class Whereabouts(models.TextChoices):
        MOUNTED = "mounted", "mounted"
        SPARE = "spare", "spare"
        GRINDING = "grinding", "at grinding"
        SCRAPPED = "scrapped", "scrapped"

    serial = models.CharField(max_length=40, unique=True)
    diameter_mm = models.FloatField(null=True, help_text="As last measured; empty while unknown")
    diameter_measured = models.BooleanField(default=False, help_text="False: from the drawing only")
    drawing_diameter_mm = models.FloatField(null=True, blank=True)
    face_mm = models.FloatField()
    material = models.CharField(max_length=60, blank=True)
    roughness_um = models.FloatField(help_text="Rq of the bare face")
    runout_mm = models.FloatField(null=True, blank=True)
    drive_end_mark = models.CharField(max_length=60, blank=True, help_text="How the drive end is marked on the roller")
    whereabouts = models.CharField(max_length=10, choices=Whereabouts, default=Whereabouts.SPARE)
    typed = models.JSONField(default=dict, help_text="Values and units as they were typed")

    class Meta:
        ordering = ["serial"]
        verbose_name_plural = "bodies"

    def __str__(self) -> str:
        return self.serial


class Mounting(models.Model):
    """A body at a position from one moment to another. Neither is in two places at once: the database refuses."""

    class Orientation(models.TextChoices):
        NORMAL = "normal", "drive-end mark at the drive end"
        FLIPPED = "flipped", "turned end for end"

    body = models.ForeignKey(Body, models.PROTECT, related_name="mountings")
    position = models.ForeignKey(Position, models.PROTECT, related_name="mountings")
    orientation = models.CharField(max_length=10, choices=Orientation, default=Orientation.NORMAL)
    mounted_at = models.DateTimeField()
    removed_at = models.DateTimeField(null=True)

    class Meta:
        ordering = ["mounted_at"]
        constraints = [
            models.UniqueConstraint(fields=["body"], condition=Q(removed_at=None), name="body_in_one_place"),
            models.UniqueConstraint(fields=["position"], condition=Q(removed_at=None), name="position_holds_one_body"),
            models.CheckConstraint(
                condition=Q(removed_at=None) | Q(removed_at__gte=F("mounted_at")),
                name="mounting_ends_after_start",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.body} at {self.position}"
