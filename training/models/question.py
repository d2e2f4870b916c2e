"""The question bank. A changed question is a new version; a retired one stays with the answers it was given."""

from django.conf import settings
from django.db import models
from django.db.models import Q


class Question(models.Model):
    """One question over its versions and languages."""

    code = models.SlugField(max_length=20, unique=True)
    retired_at = models.DateTimeField(null=True)
    retired_by = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, null=True, related_name="+")
    retired_reason = models.CharField(max_length=300, blank=True)

    class Meta:
        ordering = ["code"]

    def __str__(self) -> str:
        return self.code


class QuestionVersion(models.Model):
    """Append-only: text, four options and the key (`answer`, an index), which stays on the server until marking."""

    question = models.ForeignKey(Question, models.PROTECT, related_name="versions")
    number = models.PositiveSmallIntegerField("version")
    lang = models.CharField(max_length=10)
    topic = models.CharField(max_length=40)
    safety = models.BooleanField()
    text = models.TextField()
    options = models.JSONField()
    answer = models.PositiveSmallIntegerField()
    why = models.TextField()
    skills = models.JSONField()
    digest = models.CharField(max_length=64)
    laid_at = models.DateTimeField()

    class Meta:
        ordering = ["question", "-number", "lang"]
        constraints = [
            models.UniqueConstraint(fields=["question", "number", "lang"], name="question_version_once"),
            models.CheckConstraint(condition=Q(answer__lte=3), name="question_answer_is_an_option"),
        ]

    def __str__(self) -> str:
        return f"{self.question.code} version {self.number}, {self.lang}"
