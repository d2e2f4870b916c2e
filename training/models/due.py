"""What is due, who was told, and the addresses of the calendars."""

from django.conf import settings
from django.db import models
from django.db.models import Q

from training.models.certificate import Certificate
from training.models.practice_log import Trigger
from training.models.skill import Skill


class Due(models.Model):
    """Something a person has to do by a day. `key` makes sure that each is raised once."""

    class Kind(models.TextChoices):
        RENEWAL = "renewal", "renewal"
        FOUNDING = "founding", "assessment by another after a founding certificate"
        REFRESHER = "refresher", "refresher"
        CURRENCY = "currency", "practice"
        JOINT_MARKING = "joint-marking", "joint marking"

    person = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, related_name="dues")
    skill = models.ForeignKey(Skill, models.PROTECT, related_name="dues")
    kind = models.CharField(max_length=14, choices=Kind)
    due_on = models.DateField()
    reason = models.CharField(max_length=300)
    rule = models.CharField(max_length=30)
    rule_version = models.PositiveIntegerField()
    certificate = models.ForeignKey(Certificate, models.PROTECT, null=True, related_name="dues")
    trigger = models.ForeignKey(Trigger, models.PROTECT, null=True, related_name="dues")
    key = models.CharField(max_length=120, unique=True)
    raised_at = models.DateTimeField()
    passed_at = models.DateTimeField(null=True, help_text="When it was noted that the day had passed")
    closed_at = models.DateTimeField(null=True)
    closed_why = models.CharField(max_length=300, blank=True)
    set_aside_by = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, null=True, related_name="+")

    class Meta:
        ordering = ["due_on", "person", "pk"]
        indexes = [models.Index(fields=["due_on"], condition=Q(closed_at=None), name="due_open")]

    def __str__(self) -> str:
        return f"{self.person} {self.skill} {self.kind} {self.due_on}"


class Note(models.Model):
    """A sentence for one person's own page; the same key reaches the same person once."""

    to = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, related_name="notes")
    key = models.CharField(max_length=120)
    sentence = models.CharField(max_length=400)
    address = models.CharField(max_length=200, blank=True)
    at = models.DateTimeField()
    due = models.ForeignKey(Due, models.PROTECT, null=True, related_name="notes")
    days = models.SmallIntegerField(null=True)
    read_at = models.DateTimeField(null=True)
    mailed_at = models.DateTimeField(null=True)

    class Meta:
        ordering = ["-at", "-pk"]
        constraints = [models.UniqueConstraint(fields=["to", "key"], name="note_once_per_person")]

    def __str__(self) -> str:
        return self.sentence


class CalendarFeed(models.Model):
    """A private address of a calendar: of one person, or of the plant where `person` is empty. Only its digest is
    kept; a lost address is replaced, not looked up."""

    person = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, null=True, related_name="calendar_feeds")
    token_digest = models.CharField(max_length=64, unique=True)
    made_at = models.DateTimeField()
    made_by = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, related_name="+")
    ended_at = models.DateTimeField(null=True)

    class Meta:
        ordering = ["-made_at", "-pk"]

    def __str__(self) -> str:
        return f"calendar of {self.person or 'the plant'}"
