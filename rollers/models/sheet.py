"""Product sheets: per product and path, the positions that carry a recipe; all others are bare."""

from django.conf import settings
from django.db import models
from django.db.models import Q

from plant.floor.models import Position, Product, WebPath
from rollers.models.recipe import RecipeVersion


class ProductSheet(models.Model):
    """One document, one signature: the explicit recipe of every position of the path."""

    class State(models.TextChoices):
        DRAFT = "draft", "draft"
        IN_FORCE = "in force", "in force"
        SUPERSEDED = "superseded", "superseded"
        WITHDRAWN = "withdrawn", "withdrawn"

    product = models.ForeignKey(Product, models.PROTECT, related_name="sheets")
    path = models.ForeignKey(WebPath, models.PROTECT, related_name="sheets")
    number = models.PositiveSmallIntegerField()
    state = models.CharField(max_length=12, choices=State, default=State.DRAFT)
    author = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, related_name="+")
    drafted_at = models.DateTimeField()
    in_force_at = models.DateTimeField(null=True)
    ended_at = models.DateTimeField(null=True)

    class Meta:
        ordering = ["product", "path", "-number"]
        constraints = [
            models.UniqueConstraint(fields=["product", "path", "number"], name="sheet_version_once"),
            models.UniqueConstraint(
                fields=["product", "path"], condition=Q(state="in force"), name="sheet_one_in_force"
            ),
            models.UniqueConstraint(fields=["product", "path"], condition=Q(state="draft"), name="sheet_one_draft"),
        ]

    def __str__(self) -> str:
        return f"{self.product} on {self.path} v{self.number}"


class SheetLine(models.Model):
    """A position that carries a recipe version on this sheet."""

    sheet = models.ForeignKey(ProductSheet, models.CASCADE, related_name="lines")
    position = models.ForeignKey(Position, models.PROTECT, related_name="sheet_lines")
    recipe_version = models.ForeignKey(RecipeVersion, models.PROTECT, related_name="sheet_lines")

    class Meta:
        ordering = ["position__order"]
        constraints = [models.UniqueConstraint(fields=["sheet", "position"], name="sheet_position_once")]

    def __str__(self) -> str:
        return f"{self.position}: {self.recipe_version}"
