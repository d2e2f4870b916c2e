"""Positions: the places on a line where a roller sits. The recipe stays with the position, tape goes with the body."""

from django.db import models

from plant.floor.models.line import Line, TensionZone
from plant.floor.models.room import Room


class Position(models.Model):
    """A place for a roller body."""

    class Kind(models.TextChoices):
        IDLER = "idler", "idler"
        DRIVEN = "driven", "driven roller"
        NIP = "nip", "nip"
        COATING = "coating", "coating roller"
        PRINT = "print", "print roller"
        EMBOSSING = "embossing", "embossing roller"
        LAMINATING = "laminating", "laminating nip"
        CHILL = "chill", "chill roller"
        OVEN = "oven", "oven roller"
        VACUUM = "vacuum", "vacuum roller"
        SPEED_REFERENCE = "speed-reference", "speed reference"
        LOAD_CELL = "load-cell", "load-cell roller"
        STEERING = "steering", "steering-frame roller"
        WINDER_DRUM = "winder-drum", "winder drum"
        PROFILED = "profiled", "bowed or profiled roller"

    # Every kind but the plain idler is bare by type (common practice of the trade, no source).
    TAPEABLE = frozenset({Kind.IDLER})

    line = models.ForeignKey(Line, models.PROTECT, related_name="positions")
    room = models.ForeignKey(Room, models.PROTECT, related_name="positions")
    zone = models.ForeignKey(TensionZone, models.PROTECT, null=True, blank=True, related_name="positions")
    code = models.CharField(max_length=20, unique=True)
    order = models.PositiveSmallIntegerField()
    kind = models.CharField(max_length=20, choices=Kind, default=Kind.IDLER)
    kept_bare = models.BooleanField(default=False, help_text="Never taped although its kind would allow it")
    surface_temp_c = models.FloatField(null=True, blank=True)
    note = models.CharField(max_length=200, blank=True)
    typed = models.JSONField(default=dict, help_text="Values and units as they were typed")

    class Meta:
        ordering = ["line", "order"]
        constraints = [models.UniqueConstraint(fields=["line", "order"], name="position_order_once_per_line")]

    def __str__(self) -> str:
        return self.code

    @property
    def never_taped(self) -> bool:
        """Bare by type: tape is refused here whatever the product."""
        return self.kept_bare or self.kind not in self.TAPEABLE
