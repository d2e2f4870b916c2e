"""Tests: what was drawn for whom, and what was answered."""

from django.conf import settings
from django.db import models
from django.db.models import F, Q

from plant.audit.models import Signature
from training.models.question import QuestionVersion
from training.models.skill import Skill


class Attempt(models.Model):
    """Append-only: one try at a test. The seed draws the questions and shuffles their options."""

    person = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, related_name="attempts")
    skill = models.ForeignKey(Skill, models.PROTECT, related_name="attempts")
    paper = models.JSONField(help_text="The rules of the paper as the attempt was begun")
    seed = models.CharField(max_length=40)
    lang = models.CharField(max_length=10)
    began_at = models.DateTimeField()
    closes_at = models.DateTimeField()
    reader = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, null=True, related_name="+")
    witness = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, null=True, related_name="+")

    class Meta:
        ordering = ["-began_at", "-pk"]
        indexes = [models.Index(fields=["person", "skill"])]
        constraints = [
            models.CheckConstraint(
                condition=Q(reader=None, witness=None)
                | (
                    Q(reader__isnull=False, witness__isnull=False)
                    & ~Q(reader=F("witness"))
                    & ~Q(reader=F("person"))
                    & ~Q(witness=F("person"))
                ),
                name="attempt_oral_by_two_others",
            ),
            models.CheckConstraint(condition=Q(closes_at__gt=F("began_at")), name="attempt_closes_after_it_began"),
        ]

    def __str__(self) -> str:
        return f"test {self.pk} {self.skill} {self.person}"

    @property
    def oral(self) -> bool:
        """Whether the questions are read aloud."""
        return self.reader_id is not None


class Drawn(models.Model):
    """Append-only: a question of an attempt at its place, with the order in which its options stand."""

    attempt = models.ForeignKey(Attempt, models.PROTECT, related_name="drawn")
    place = models.PositiveSmallIntegerField()
    version = models.ForeignKey(QuestionVersion, models.PROTECT, related_name="drawn")
    order = models.JSONField()

    class Meta:
        ordering = ["attempt", "place"]
        constraints = [
            models.UniqueConstraint(fields=["attempt", "place"], name="drawn_place_once"),
            models.UniqueConstraint(fields=["attempt", "version"], name="drawn_question_once"),
        ]

    def __str__(self) -> str:
        return f"{self.attempt_id}, question {self.place}"


class Pick(models.Model):
    """What is ticked so far, kept on the server so that a reload loses nothing. May change until handed in."""

    drawn = models.OneToOneField(Drawn, models.PROTECT, related_name="pick")
    shown = models.PositiveSmallIntegerField(help_text="Place of the option on the page")
    at = models.DateTimeField()

    def __str__(self) -> str:
        return f"{self.drawn_id}: {self.shown}"


class AttemptResult(models.Model):
    """Append-only: an attempt handed in, once, and marked."""

    attempt = models.OneToOneField(Attempt, models.PROTECT, related_name="result")
    at = models.DateTimeField()
    right = models.PositiveSmallIntegerField()
    asked = models.PositiveSmallIntegerField()
    safety_wrong = models.PositiveSmallIntegerField()
    passed = models.BooleanField()
    late = models.BooleanField(default=False, help_text="Time was up; what was kept by then was marked")
    reader_signature = models.ForeignKey(Signature, models.PROTECT, null=True, related_name="+")
    witness_signature = models.ForeignKey(Signature, models.PROTECT, null=True, related_name="+")

    class Meta:
        ordering = ["at", "pk"]
        constraints = [models.CheckConstraint(condition=Q(right__lte=F("asked")), name="result_right_of_asked")]

    def __str__(self) -> str:
        return f"{self.attempt}: {self.right} of {self.asked}"

    @property
    def percent(self) -> int:
        """Share right, rounded down so that 79.9 % never reads 80 %."""
        return 100 * self.right // self.asked


class Answer(models.Model):
    """Append-only: what was chosen, as an index into the options of the question; empty where nothing was ticked."""

    drawn = models.OneToOneField(Drawn, models.PROTECT, related_name="answer")
    result = models.ForeignKey(AttemptResult, models.PROTECT, related_name="answers")
    chosen = models.PositiveSmallIntegerField(null=True)
    right = models.BooleanField()

    def __str__(self) -> str:
        return f"{self.drawn}: {'right' if self.right else 'wrong'}"


class Coaching(models.Model):
    """Append-only: a trainer went through the mistakes with a person. From then on not independent as assessor."""

    person = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, related_name="coachings")
    skill = models.ForeignKey(Skill, models.PROTECT, related_name="+")
    by = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, related_name="+")
    at = models.DateTimeField()
    note = models.CharField(max_length=500)

    class Meta:
        ordering = ["at", "pk"]
        constraints = [models.CheckConstraint(condition=~Q(by=F("person")), name="coaching_not_by_oneself")]

    def __str__(self) -> str:
        return f"{self.person} coached for {self.skill}"
