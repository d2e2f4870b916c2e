"""Recipes: which tape belongs on a position for which products. A signed version never changes."""

from django.conf import settings
from django.db import models
from django.db.models import F, Q

from plant.floor.models import PathStep, Position, Product
from rollers.models.calculation import Calculation
from rollers.models.stock import TapeStock


class Recipe(models.Model):
    """The recipe of a position, known by its title; what it says stands in its versions."""

    class Kind(models.TextChoices):
        TAPED = "taped", "taped"
        BARE = "bare", "bare: no tape"
        TRIAL = "trial", "trial: ends by itself"

    position = models.ForeignKey(Position, models.PROTECT, related_name="recipes")
    title = models.CharField(max_length=120)
    kind = models.CharField(max_length=10, choices=Kind)

    class Meta:
        ordering = ["position", "title"]
        constraints = [models.UniqueConstraint(fields=["position", "title"], name="recipe_title_once_per_position")]

    def __str__(self) -> str:
        return f"{self.position}: {self.title}"


class RecipeVersion(models.Model):
    """draft, then checked (computed without refusal and signed by its author), then in force, then superseded."""

    class State(models.TextChoices):
        DRAFT = "draft", "draft"
        CHECKED = "checked", "checked"
        IN_FORCE = "in force", "in force"
        SUPERSEDED = "superseded", "superseded"
        WITHDRAWN = "withdrawn", "withdrawn"

    recipe = models.ForeignKey(Recipe, models.PROTECT, related_name="versions")
    number = models.PositiveSmallIntegerField()
    state = models.CharField(max_length=12, choices=State, default=State.DRAFT)
    stock = models.ForeignKey(TapeStock, models.PROTECT, null=True, blank=True, related_name="recipe_versions")
    step = models.ForeignKey(PathStep, models.PROTECT, related_name="recipe_versions")
    note = models.TextField(blank=True)
    author = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, related_name="+")
    drafted_at = models.DateTimeField()
    reasons = models.JSONField(default=dict, help_text="Why each caution was accepted: product code, check, reason")
    in_force_at = models.DateTimeField(null=True)
    ended_at = models.DateTimeField(null=True)
    end_reason = models.TextField(blank=True)
    unsafe_at = models.DateTimeField(null=True, help_text="Withdrawn for safety then: tape of it stops the line")
    trial_ends_at = models.DateTimeField(null=True, help_text="A trial ends here: one shift at most")
    trial_rolls = models.PositiveSmallIntegerField(null=True, help_text="Or after so many rolls: three at most")

    class Meta:
        ordering = ["recipe", "-number"]
        constraints = [models.UniqueConstraint(fields=["recipe", "number"], name="recipe_version_once")]

    def __str__(self) -> str:
        return f"{self.recipe} v{self.number}"


class Band(models.Model):
    """One band of tape: edges from the roller centre. Stairs are several bands."""

    class End(models.TextChoices):
        OPERATOR = "operator", "operator end"
        DRIVE = "drive", "drive end"

    version = models.ForeignKey(RecipeVersion, models.CASCADE, related_name="bands")
    end = models.CharField(max_length=10, choices=End)
    inner_mm = models.FloatField()
    outer_mm = models.FloatField()
    wraps = models.PositiveSmallIntegerField()

    class Meta:
        ordering = ["end", "inner_mm"]
        constraints = [
            models.CheckConstraint(condition=Q(outer_mm__gt=F("inner_mm")), name="band_outer_past_inner"),
            models.CheckConstraint(condition=Q(wraps__gte=1), name="band_has_wraps"),
        ]

    def __str__(self) -> str:
        return f"{self.end} {self.inner_mm:g}-{self.outer_mm:g} mm x {self.wraps}"


class RecipeProduct(models.Model):
    """A version serves a product. At most one version is in force per position and product: the database refuses."""

    version = models.ForeignKey(RecipeVersion, models.CASCADE, related_name="products")
    product = models.ForeignKey(Product, models.PROTECT, related_name="recipe_products")
    position = models.ForeignKey(Position, models.PROTECT, related_name="recipe_products")
    calculation = models.ForeignKey(Calculation, models.PROTECT, null=True, related_name="+")
    in_force = models.BooleanField(default=False)

    class Meta:
        ordering = ["product__code"]
        constraints = [
            models.UniqueConstraint(fields=["version", "product"], name="recipe_product_once"),
            models.UniqueConstraint(
                fields=["position", "product"], condition=Q(in_force=True), name="recipe_one_in_force"
            ),
        ]

    def __str__(self) -> str:
        return f"{self.version} for {self.product}"
