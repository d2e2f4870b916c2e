"""How long what is kept, and orders to remove what nobody needs to keep."""

from django.conf import settings
from django.db import models
from django.db.models import Q

from plant.audit.models import Signature
from plant.floor.models import Room


class RetentionRule(models.Model):
    """Append-only once signed: years for a room or for the whole plant. The newest counts; it only ever goes up."""

    class Matter(models.TextChoices):
        RECORDS = "records", "records of the line"
        ANSWERS = "answers", "personal test answers"

    matter = models.CharField(max_length=10, choices=Matter)
    room = models.ForeignKey(Room, models.PROTECT, null=True, related_name="retention")
    years = models.PositiveSmallIntegerField()
    product_life_years = models.PositiveSmallIntegerField(
        null=True, help_text="Medical rooms: longest life of a product made there"
    )
    reason = models.TextField()
    set_at = models.DateTimeField()
    set_by = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, related_name="+")
    signature = models.OneToOneField(Signature, models.PROTECT, related_name="+", null=True)

    class Meta:
        ordering = ["set_at", "pk"]

    def __str__(self) -> str:
        return f"{self.get_matter_display()}, {self.room or 'whole plant'}: {self.years} years"


class PurgeOrder(models.Model):
    """Made when what is due is exported; it removes nothing until QA signs it and says where the export is kept.

    `listed` has the keys with a salted digest of each row. The salts stand in the export only, so the digest proves
    the export and tells nothing of what was removed.
    """

    matter = models.CharField(max_length=10, choices=RetentionRule.Matter)
    before = models.DateTimeField(help_text="Everything older is due")
    listed = models.JSONField(help_text="Key and salted digest of each row")
    export_digest = models.CharField(max_length=64)
    exported_at = models.DateTimeField()
    exported_by = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, related_name="+")
    kept_where = models.CharField(max_length=200, blank=True)
    reason = models.TextField(blank=True)
    signature = models.OneToOneField(Signature, models.PROTECT, related_name="+", null=True)

    class Meta:
        ordering = ["-pk"]

    def __str__(self) -> str:
        return f"purge order {self.pk}"


class Purged(models.Model):
    """Append-only: one row whose content was removed by a signed order. The database lets only such a row go empty."""

    order = models.ForeignKey(PurgeOrder, models.PROTECT, related_name="purged")
    table_name = models.CharField(max_length=60)
    row_id = models.PositiveBigIntegerField()
    digest = models.CharField(max_length=64)

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["table_name", "row_id"], name="purged_once"),
            models.CheckConstraint(condition=~Q(digest=""), name="purged_leaves_a_digest"),
        ]

    def __str__(self) -> str:
        return f"{self.table_name} {self.row_id} by order {self.order_id}"
