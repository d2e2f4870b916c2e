"""Classes: planned, held, and who was there."""

from django.conf import settings
from django.db import models
from django.db.models import F, Q

from plant.audit.models import Signature
from training.models.module import Module
from training.models.practice_log import JobDone
from training.models.skill import Skill


class Session(models.Model):
    """A class. Who taught whom for which skill decides later who may not assess."""

    skill = models.ForeignKey(Skill, models.PROTECT, related_name="sessions")
    title = models.CharField(max_length=120)
    modules = models.ManyToManyField(Module, blank=True, related_name="sessions")
    starts_at = models.DateTimeField()
    ends_at = models.DateTimeField()
    place = models.CharField(max_length=80)
    trainer = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, related_name="sessions_taught")
    invited = models.ManyToManyField(settings.AUTH_USER_MODEL, blank=True, related_name="sessions_invited")
    planned_by = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, related_name="+")
    planned_at = models.DateTimeField()
    cancelled_at = models.DateTimeField(null=True)
    cancelled_by = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, null=True, related_name="+")
    cancel_reason = models.CharField(max_length=300, blank=True)

    class Meta:
        ordering = ["-starts_at", "pk"]
        constraints = [
            models.CheckConstraint(condition=Q(ends_at__gt=F("starts_at")), name="session_ends_after_it_starts")
        ]

    def __str__(self) -> str:
        return self.title


class Attendance(models.Model):
    """Append-only: the trainer says of one person that he or she was there, or was not. One act each."""

    session = models.ForeignKey(Session, models.PROTECT, related_name="attendances")
    person = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, related_name="attendances")
    minutes = models.PositiveSmallIntegerField(help_text="0: was not there")
    note = models.CharField(max_length=300, blank=True)
    at = models.DateTimeField()
    by = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, related_name="+")
    corrects = models.OneToOneField("self", models.PROTECT, null=True, related_name="corrected_by")

    class Meta:
        ordering = ["at", "pk"]
        constraints = [
            models.UniqueConstraint(
                fields=["session", "person"], condition=Q(corrects=None), name="attendance_once_per_person"
            ),
            models.CheckConstraint(condition=~Q(by=F("person")), name="attendance_not_by_oneself"),
        ]

    def __str__(self) -> str:
        return f"{self.person} at {self.session}: {self.minutes} min"


class Practice(models.Model):
    """Append-only: a job done under the eyes of somebody certified, who signs for it and is answerable for it."""

    class Kind(models.TextChoices):
        JOB = "job", "supervised job"
        SHADOW = "shadow-check", "shadow check"
        CASE = "case", "sizing case"
        TEACHING = "teaching", "session taught under observation"

    class Outcome(models.TextChoices):
        WELL = "well", "went well"
        AGAIN = "again", "to be done again"

    person = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, related_name="practices")
    skill = models.ForeignKey(Skill, models.PROTECT, related_name="practices")
    kind = models.CharField(max_length=20, choices=Kind)
    place = models.CharField(max_length=40, help_text="Roller, line or product it was done on")
    room_kind = models.CharField(max_length=10)
    done_at = models.DateTimeField()
    outcome = models.CharField(max_length=10, choices=Outcome)
    note = models.CharField(max_length=500)
    at = models.DateTimeField()
    by = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, related_name="+")
    signature = models.ForeignKey(Signature, models.PROTECT, null=True, related_name="+")
    job = models.OneToOneField(JobDone, models.PROTECT, null=True, related_name="practice")

    class Meta:
        ordering = ["-done_at", "-pk"]
        constraints = [models.CheckConstraint(condition=~Q(by=F("person")), name="practice_not_by_oneself")]

    def __str__(self) -> str:
        return f"{self.person}: {self.get_kind_display()} at {self.place}"
