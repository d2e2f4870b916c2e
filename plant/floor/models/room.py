"""Rooms, and their class in time."""

from django.db import models
from django.db.models import F, Q


class RoomKind(models.TextChoices):
    GENERAL = "general", "general"
    FOOD = "food", "food"
    MEDICAL = "medical", "medical"


class Room(models.Model):
    """A room of the plant. What class it had at a moment is asked of `RoomClass`."""

    code = models.CharField(max_length=12, unique=True)
    name = models.CharField(max_length=120)
    cleanliness = models.CharField(max_length=120, blank=True, help_text="For example the ISO 14644-1 class")

    class Meta:
        ordering = ["code"]

    def __str__(self) -> str:
        return self.code


class RoomClass(models.Model):
    """The class of a room from one moment to another."""

    room = models.ForeignKey(Room, models.PROTECT, related_name="classes")
    kind = models.CharField(max_length=10, choices=RoomKind)
    valid_from = models.DateTimeField()
    valid_to = models.DateTimeField(null=True)

    class Meta:
        ordering = ["valid_from"]
        constraints = [
            models.UniqueConstraint(fields=["room"], condition=Q(valid_to=None), name="room_one_class_now"),
            models.CheckConstraint(
                condition=Q(valid_to=None) | Q(valid_to__gt=F("valid_from")),
                name="room_class_ends_after_start",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.room}: {self.kind}"
