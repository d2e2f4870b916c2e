"""Skills: the levels of the work, and the add-ons for rooms and hot rollers. Their figures are the plant's."""

from django.conf import settings
from django.db import models

from training.rules_due import DueRule


class WorkKind(models.TextChoices):
    """What is counted as practice of a skill."""

    APPLY = "apply", "tape put on"
    REMOVE = "remove", "tape taken off"
    CHECK = "check", "tape checked"
    STUDY = "study", "study or sizing"
    TEACH = "teach", "session taught"
    ASSESS = "assess", "person assessed"
    JOINT_MARKING = "joint-marking", "joint marking"


class Skill(models.Model):
    """A level (Apply) or an add-on (Food room). `needs` are the skills that must be valid beside it."""

    class Kind(models.TextChoices):
        LEVEL = "level", "level"
        ADD_ON = "add-on", "add-on"

    code = models.SlugField(max_length=20, unique=True)
    name = models.CharField(max_length=40)
    kind = models.CharField(max_length=10, choices=Kind)
    valid_months = models.PositiveSmallIntegerField()
    needs = models.ManyToManyField("self", symmetrical=False, blank=True, related_name="needed_by")
    order = models.PositiveSmallIntegerField()
    # When it falls due again. A change of any figure below raises `rule_version`.
    due_rule = models.CharField(
        max_length=14, choices=[(rule.value, rule.value) for rule in DueRule], default=DueRule.ANNIVERSARY.value
    )
    window_days = models.PositiveSmallIntegerField(default=60)
    late_days = models.PositiveSmallIntegerField(default=30)
    rule_version = models.PositiveIntegerField(default=1)
    # What keeps it current. A count of 0 asks for nothing.
    currency_kind = models.CharField(max_length=14, choices=WorkKind, blank=True)
    currency_count = models.PositiveSmallIntegerField(default=0)
    currency_months = models.PositiveSmallIntegerField(default=0)
    joint_marking_months = models.PositiveSmallIntegerField(default=0)
    # What has to be shown before it is certified.
    course_minutes = models.PositiveSmallIntegerField(default=0)
    supervised_jobs = models.PositiveSmallIntegerField(default=0)
    test_questions = models.PositiveSmallIntegerField(default=0)
    test_pass_percent = models.PositiveSmallIntegerField(default=0)
    test_safety_all_right = models.BooleanField(default=False)
    practicals = models.PositiveSmallIntegerField(default=0)
    practical = models.CharField(max_length=120, blank=True)

    class Meta:
        ordering = ["order"]

    def __str__(self) -> str:
        return self.name


class SkillProposal(models.Model):
    """New figures for a skill, proposed by one person and signed, or refused, by another."""

    class Answer(models.TextChoices):
        SIGNED = "signed", "signed"
        REFUSED = "refused", "refused"

    skill = models.ForeignKey(Skill, models.PROTECT, related_name="proposals")
    before = models.JSONField()
    after = models.JSONField()
    on_version = models.PositiveIntegerField()
    reason = models.CharField(max_length=300)
    proposed_by = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, related_name="+")
    proposed_at = models.DateTimeField()
    answer = models.CharField(max_length=10, choices=Answer, blank=True)
    answered_by = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, null=True, related_name="+")
    answered_at = models.DateTimeField(null=True)
    answer_reason = models.CharField(max_length=300, blank=True)

    class Meta:
        ordering = ["-proposed_at", "-pk"]
        constraints = [
            models.UniqueConstraint(fields=["skill"], condition=models.Q(answer=""), name="skill_one_open_proposal"),
            models.CheckConstraint(
                condition=models.Q(answered_by=None) | ~models.Q(answered_by=models.F("proposed_by")),
                name="skill_proposal_not_by_oneself",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.skill} {self.after}"
