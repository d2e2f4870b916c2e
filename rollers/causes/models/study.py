"""Studies, whose windows are fixed before anybody looks."""

from django.conf import settings
from django.db import models
from django.db.models import F, Q

from plant.floor.models import Position, Product
from rollers.models import RecipeVersion


class Study(models.Model):
    """The plan: what is compared, between which moments. Other windows are another study; this one stays."""

    class Measure(models.TextChoices):
        WRINKLES = "wrinkles", "wrinkles per 10 000 m"
        BREAKS = "breaks", "breaks per 100 h"
        WASTE = "waste", "waste, % of what was made"

    position = models.ForeignKey(Position, models.PROTECT, related_name="studies")
    product = models.ForeignKey(Product, models.PROTECT, related_name="studies")
    measure = models.CharField(max_length=10, choices=Measure)
    recipe_version = models.ForeignKey(RecipeVersion, models.PROTECT, null=True, related_name="studies")
    what = models.CharField(max_length=200, help_text="What was changed between the windows")
    before_from = models.DateTimeField()
    before_to = models.DateTimeField()
    after_from = models.DateTimeField()
    after_to = models.DateTimeField()
    co_changes = models.TextField(blank=True, help_text="What else changed; empty: nothing was named")
    saved_per_event = models.FloatField(null=True, help_text="What one event or kg of waste costs")
    cost = models.FloatField(null=True, help_text="What tape, work and stops cost over the window after")
    currency = models.CharField(max_length=3, blank=True)
    replaces = models.ForeignKey("self", models.PROTECT, null=True, related_name="replaced_by")
    downstream = models.JSONField(default=list, help_text="The two rollers downstream that are looked at")
    planned_at = models.DateTimeField()
    by = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, related_name="+")

    class Meta:
        ordering = ["-planned_at", "-pk"]
        verbose_name_plural = "studies"
        constraints = [
            models.CheckConstraint(
                condition=Q(before_from__lt=F("before_to"))
                & Q(before_to__lte=F("after_from"))
                & Q(after_from__lt=F("after_to")),
                name="study_windows_in_order",
            )
        ]

    def __str__(self) -> str:
        return f"study {self.pk} of {self.position}, {self.measure}"


class StudyResult(models.Model):
    """What came out, with the rows it was counted from. It never changes; more data is a further result."""

    study = models.ForeignKey(Study, models.PROTECT, related_name="results")
    verdict = models.CharField(max_length=24)
    answer = models.JSONField()
    calcs_version = models.CharField(max_length=20)
    at = models.DateTimeField()
    by = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, related_name="+")

    class Meta:
        ordering = ["study", "-pk"]

    def __str__(self) -> str:
        return f"{self.study}: {self.verdict}"
