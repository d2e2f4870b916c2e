"""Work that was done, and what called a skill into question. Rows are written once."""

from django.conf import settings
from django.db import models
from django.db.models import F, Q

from training.models.skill import Skill, WorkKind


class JobDone(models.Model):
    """One job of one person, told by whoever keeps the record of it. Currency is counted from these rows.

    With `supervised_by` it is the work of a trainee; the certified person answers for it and has a row of his or
    her own. `key` names the fact it stands for: told twice, it is one row.
    """

    person = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, related_name="jobs_done")
    kind = models.CharField(max_length=14, choices=WorkKind)
    room_kind = models.CharField(max_length=10, blank=True)
    at = models.DateTimeField()
    subject = models.CharField(max_length=160)
    key = models.CharField(max_length=120, unique=True)
    supervised_by = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, null=True, related_name="+")
    recorded_at = models.DateTimeField()

    class Meta:
        ordering = ["-at", "-pk"]
        indexes = [models.Index(fields=["person", "kind", "at"])]
        constraints = [
            models.CheckConstraint(
                condition=Q(supervised_by=None) | ~Q(supervised_by=F("person")), name="job_not_supervised_by_oneself"
            )
        ]

    def __str__(self) -> str:
        return f"{self.person} {self.kind} {self.subject}"


class Trigger(models.Model):
    """Something happened that calls a person's skill into question; `asks` a refresher, and may suspend at once."""

    class Kind(models.TextChoices):
        FINDING = "finding", "major or critical finding"
        FAILED_CHECK = "failed-check", "check failed"
        ABSENCE = "absence", "absence or no practice over six months"
        NEW_STOCK = "new-stock", "new stock or line family"
        CHANGED_METHOD = "changed-method", "recipe or method changed"
        NEAR_MISS = "near-miss", "incident or near miss"
        OTHER = "other", "other reason"

    person = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, related_name="triggers")
    skill = models.ForeignKey(Skill, models.PROTECT, related_name="triggers")
    kind = models.CharField(max_length=14, choices=Kind)
    reason = models.CharField(max_length=300)
    subject = models.CharField(max_length=160, blank=True)
    at = models.DateTimeField()
    by = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, related_name="+")
    asks = models.BooleanField()
    suspends = models.BooleanField()
    due_on = models.DateField(null=True)
    key = models.CharField(max_length=120, unique=True)

    class Meta:
        ordering = ["-at", "-pk"]

    def __str__(self) -> str:
        return f"{self.person} {self.skill} {self.kind}"


class TriggerAnswer(models.Model):
    """The refresher that was asked for is done; somebody else than the person says so."""

    trigger = models.OneToOneField(Trigger, models.PROTECT, related_name="answered")
    at = models.DateTimeField()
    by = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, related_name="+")
    evidence = models.CharField(max_length=300)
    grounds = models.JSONField(default=dict)

    def __str__(self) -> str:
        return f"{self.trigger} answered"
