"""Products and their data, versioned: changed data is a new version."""

from django.db import models
from django.db.models import F, Q

from plant.floor.models.line import Line


class Product(models.Model):
    """What the plant makes; its figures stand in versions."""

    code = models.CharField(max_length=20, unique=True)
    name = models.CharField(max_length=120)
    family = models.CharField(max_length=40, blank=True)
    lines = models.ManyToManyField(Line, related_name="products")

    class Meta:
        ordering = ["code"]

    def __str__(self) -> str:
        return self.code


class ProductVersion(models.Model):
    """The web and its running window. Rows are written once; `current` moves to the newest."""

    class Direction(models.TextChoices):
        MD = "MD", "machine direction"
        UNSTATED = "", "not stated"

    product = models.ForeignKey(Product, models.PROTECT, related_name="versions")
    number = models.PositiveSmallIntegerField()
    current = models.BooleanField(default=True)
    modulus_md_mpa = models.FloatField()
    modulus_cd_mpa = models.FloatField(null=True, blank=True)
    modulus_direction = models.CharField(max_length=2, choices=Direction, blank=True)
    modulus_method = models.CharField(max_length=120, blank=True)
    modulus_on = models.DateField(null=True, blank=True)
    poisson_md = models.FloatField(null=True, blank=True)
    thickness_um = models.FloatField()
    width_min_mm = models.FloatField()
    width_max_mm = models.FloatField()
    wander_mm = models.FloatField(default=5)
    tension_min_n_per_m = models.FloatField()
    tension_set_n_per_m = models.FloatField()
    tension_max_n_per_m = models.FloatField()
    speed_min_m_per_min = models.FloatField()
    speed_set_m_per_min = models.FloatField()
    speed_max_m_per_min = models.FloatField()
    friction = models.FloatField()
    roughness_um = models.FloatField(default=0)
    porous = models.BooleanField(default=False)
    yield_strain_pct = models.FloatField(null=True, blank=True)
    max_contact_temp_c = models.FloatField(null=True, blank=True)
    contact_side = models.CharField(max_length=1, blank=True, help_text="The web side that touches the product")
    typed = models.JSONField(default=dict, help_text="Values and units as they were typed")
    entered_at = models.DateTimeField()

    class Meta:
        ordering = ["product", "number"]
        constraints = [
            models.UniqueConstraint(fields=["product", "number"], name="product_version_once"),
            models.UniqueConstraint(fields=["product"], condition=Q(current=True), name="product_one_current"),
            models.CheckConstraint(condition=Q(width_min_mm__lte=F("width_max_mm")), name="product_width_in_order"),
            models.CheckConstraint(
                condition=Q(tension_min_n_per_m__gt=0)
                & Q(tension_min_n_per_m__lte=F("tension_set_n_per_m"))
                & Q(tension_set_n_per_m__lte=F("tension_max_n_per_m")),
                name="product_tension_in_order",
            ),
            models.CheckConstraint(
                condition=Q(speed_min_m_per_min__gt=0)
                & Q(speed_min_m_per_min__lte=F("speed_set_m_per_min"))
                & Q(speed_set_m_per_min__lte=F("speed_max_m_per_min")),
                name="product_speed_in_order",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.product} v{self.number}"
