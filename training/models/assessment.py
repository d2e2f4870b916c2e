"""Practical assessments: observed step by step, signed by both, and some of them marked a second time."""

from django.conf import settings
from django.db import models
from django.db.models import F, Q

from plant.audit.models import Attachment, Signature
from training.models.skill import Skill


class Mark(models.TextChoices):
    DONE = "done", "done"
    NOT_DONE = "not-done", "not done"
    NOT_SEEN = "not-seen", "not seen"


class Assessment(models.Model):
    """Append-only: begun by an assessor who is independent of the person. The seed drew the roller."""

    person = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, related_name="assessments")
    skill = models.ForeignKey(Skill, models.PROTECT, related_name="assessments")
    kind = models.SlugField(max_length=30)
    steps = models.JSONField(help_text="The list of steps as it was when this began")
    assessor = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, related_name="assessments_given")
    at = models.DateTimeField()
    seed = models.CharField(max_length=40)
    drawn_from = models.JSONField()
    place = models.CharField(max_length=40, blank=True, help_text="The roller that was drawn")

    class Meta:
        ordering = ["-at", "-pk"]
        indexes = [models.Index(fields=["person", "skill"])]
        constraints = [models.CheckConstraint(condition=~Q(assessor=F("person")), name="assessment_not_of_oneself")]

    def __str__(self) -> str:
        return f"practical {self.pk} {self.skill} {self.person}"


class StepMark(models.Model):
    """Append-only: what the assessor saw at one step. A later row of the same step corrects an earlier one."""

    assessment = models.ForeignKey(Assessment, models.PROTECT, related_name="marks")
    step = models.PositiveSmallIntegerField()
    mark = models.CharField(max_length=10, choices=Mark)
    note = models.CharField(max_length=300, blank=True)
    at = models.DateTimeField()
    by = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, related_name="+")

    class Meta:
        ordering = ["at", "pk"]

    def __str__(self) -> str:
        return f"step {self.step}: {self.mark}"


class StepPhoto(models.Model):
    """Append-only: photographic evidence of a step."""

    assessment = models.ForeignKey(Assessment, models.PROTECT, related_name="photos")
    step = models.PositiveSmallIntegerField()
    attachment = models.ForeignKey(Attachment, models.PROTECT, related_name="+")

    class Meta:
        ordering = ["step", "pk"]

    def __str__(self) -> str:
        return f"photograph of step {self.step}"


class Verdict(models.Model):
    """Append-only: the end of an assessment, signed by the assessor."""

    class Outcome(models.TextChoices):
        PASSED = "passed", "passed"
        NOT_YET = "not-yet", "not yet"
        BROKEN_OFF = "broken-off", "broken off"

    assessment = models.OneToOneField(Assessment, models.PROTECT, related_name="verdict")
    outcome = models.CharField(max_length=12, choices=Outcome)
    done = models.PositiveSmallIntegerField()
    missed = models.JSONField(help_text="Critical steps that were not done")
    note = models.CharField(max_length=500, blank=True)
    at = models.DateTimeField()
    signature = models.ForeignKey(Signature, models.PROTECT, null=True, related_name="+")
    second_due = models.BooleanField(help_text="Drawn for a second marking from the evidence")

    class Meta:
        ordering = ["at", "pk"]

    def __str__(self) -> str:
        return f"{self.assessment}: {self.outcome}"


class CandidateSigned(models.Model):
    """Append-only: the person assessed has seen the verdict. Only then does it count."""

    verdict = models.OneToOneField(Verdict, models.PROTECT, related_name="candidate")
    remark = models.CharField(max_length=500, blank=True)
    at = models.DateTimeField()
    signature = models.ForeignKey(Signature, models.PROTECT, null=True, related_name="+")

    def __str__(self) -> str:
        return f"{self.verdict}, seen"


class Marking(models.Model):
    """Append-only: another assessor marks the same assessment, without having seen the first marks."""

    class Kind(models.TextChoices):
        JOINT = "joint", "joint marking, both present"
        SECOND = "second", "second marking, from the evidence"

    assessment = models.ForeignKey(Assessment, models.PROTECT, related_name="markings")
    kind = models.CharField(max_length=10, choices=Kind)
    marks = models.JSONField(help_text="Mark by step")
    agreement = models.PositiveSmallIntegerField(help_text="Steps marked alike, in per cent, rounded down")
    same_outcome = models.BooleanField()
    at = models.DateTimeField()
    by = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, related_name="+")
    signature = models.ForeignKey(Signature, models.PROTECT, null=True, related_name="+")

    class Meta:
        ordering = ["at", "pk"]
        constraints = [
            models.UniqueConstraint(fields=["assessment", "by"], name="marking_once_per_assessor"),
            models.CheckConstraint(condition=Q(agreement__lte=100), name="marking_agreement_is_a_share"),
        ]

    def __str__(self) -> str:
        return f"{self.assessment}: {self.kind}, {self.agreement} %"
