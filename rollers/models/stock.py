"""Tape stocks: what a kind of tape is, and where it may be used."""

from django.db import models
from django.db.models import Q


class TapeStock(models.Model):
    """One kind of tape. Thickness is as applied; its range is what lots may bring."""

    code = models.CharField(max_length=20, unique=True)
    name = models.CharField(max_length=120)
    backing = models.CharField(max_length=60, blank=True)
    adhesive = models.CharField(max_length=60, blank=True)
    thickness_mm = models.FloatField()
    thickness_min_mm = models.FloatField(null=True, blank=True)
    thickness_max_mm = models.FloatField(null=True, blank=True)
    width_mm = models.FloatField()
    roughness_um = models.FloatField()
    friction = models.FloatField(null=True, blank=True, help_text="Web on tape; empty: as the product's on the roller")
    max_temp_c = models.FloatField(null=True, blank=True)
    colour = models.CharField(max_length=40, blank=True)
    latex = models.BooleanField(default=False)
    room_kinds = models.JSONField(default=list, help_text="general, food, medical")
    contact_statement = models.CharField(max_length=120, blank=True)
    contact_statement_ends = models.DateField(null=True, blank=True)
    apply_minutes = models.FloatField(default=6, help_text="To put one lane on, roller locked out")
    remove_minutes = models.FloatField(default=4, help_text="To take one lane off and clean")
    max_life_days = models.PositiveSmallIntegerField(null=True, blank=True)
    typed = models.JSONField(default=dict, help_text="Values and units as they were typed")

    class Meta:
        ordering = ["code"]
        constraints = [
            models.CheckConstraint(condition=Q(thickness_mm__gt=0) & Q(width_mm__gt=0), name="stock_has_a_size")
        ]

    def __str__(self) -> str:
        return self.code
