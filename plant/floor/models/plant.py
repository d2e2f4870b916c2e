"""The plant of this installation."""

from django.db import models
from django.db.models import Q


class Plant(models.Model):
    """One row: an installation serves one plant, with one clock."""

    class Units(models.TextChoices):
        SI = "si", "SI (mm, N/m, m/min)"
        INCH = "inch", "inch (in, pli, fpm)"

    code = models.CharField(max_length=12, unique=True)
    name = models.CharField(max_length=120)
    time_zone = models.CharField(max_length=60, help_text="IANA name, for example Europe/Vienna")
    units = models.CharField(max_length=4, choices=Units, default=Units.SI)
    only = models.BooleanField(default=True, editable=False)

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["only"], name="plant_only_one"),
            models.CheckConstraint(condition=Q(only=True), name="plant_only_is_true"),
        ]

    def __str__(self) -> str:
        return self.name
