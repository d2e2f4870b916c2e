"""Skills: the levels of the work, and the add-ons for rooms and hot rollers."""

from django.db import models


class Skill(models.Model):
    """A level (Apply) or an add-on (Food room). `needs` are the skills that must be valid beside it."""

    class Kind(models.TextChoices):
        LEVEL = "level", "level"
        ADD_ON = "add-on", "add-on"

    code = models.SlugField(max_length=20, unique=True)
    name = models.CharField(max_length=40)
    kind = models.CharField(max_length=10, choices=Kind)
    valid_months = models.PositiveSmallIntegerField()
    needs = models.ManyToManyField("self", symmetrical=False, blank=True, related_name="needed_by")
    order = models.PositiveSmallIntegerField()

    class Meta:
        ordering = ["order"]

    def __str__(self) -> str:
        return self.name
