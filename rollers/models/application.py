"""The life of one taping: from the plan to the last piece in the counted bag."""

from django.conf import settings
from django.db import models
from django.db.models import Q

from plant.floor.models import Position, Run
from rollers.models.body import Body
from rollers.models.recipe import RecipeVersion


class Application(models.Model):
    """One taping of one roller body by one recipe version.

    What happened stands in its tape facts; `state` is where they led. The state only moves on (`rules_application`),
    none is reached twice, and a database trigger holds an ended one as it is.
    """

    class State(models.TextChoices):
        PLANNED = "planned", "planned"
        LOCKED_OUT = "locked out", "locked out"
        APPLIED = "applied", "applied"
        MEASURED = "measured", "measured"
        CHECKED = "checked", "checked"
        RESTART = "restart", "in restart"
        VERIFIED = "verified", "verified"
        REMOVING = "removing", "being removed"
        PARTIAL = "partial", "partly removed"
        REMOVED = "removed", "removed"
        VOID = "void", "void"

    class Origin(models.TextChoices):
        PLAN = "plan", "planned"
        SURVEY = "survey", "found by the go-live survey"
        REPORT = "report", "reported as done, judged afterwards"
        FOUND = "found", "found without a record, never valid"

    ENDED = (State.REMOVED, State.VOID)

    body = models.ForeignKey(Body, models.PROTECT, related_name="applications")
    position = models.ForeignKey(Position, models.PROTECT, related_name="applications")
    recipe_version = models.ForeignKey(RecipeVersion, models.PROTECT, null=True, related_name="applications")
    state = models.CharField(max_length=12, choices=State, default=State.PLANNED)
    origin = models.CharField(max_length=8, choices=Origin, default=Origin.PLAN)
    run = models.ForeignKey(Run, models.PROTECT, null=True, related_name="applications", help_text="Planned for this")
    planned_by = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, related_name="+")
    planned_at = models.DateTimeField()
    applier = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, null=True, related_name="applications")
    trainee = models.ForeignKey(
        settings.AUTH_USER_MODEL, models.PROTECT, null=True, related_name="+", help_text="Worked under the applier"
    )
    applied_at = models.DateTimeField(null=True)
    checker = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, null=True, related_name="+")
    checked_at = models.DateTimeField(null=True)
    verified_at = models.DateTimeField(null=True)
    ended_at = models.DateTimeField(null=True)
    owner = models.ForeignKey(
        settings.AUTH_USER_MODEL, models.PROTECT, null=True, related_name="+", help_text="Asks whether it is needed"
    )
    review_due = models.DateField(null=True, help_text="Still needed? is asked on this day")

    class Meta:
        ordering = ["-pk"]
        constraints = [
            models.UniqueConstraint(
                fields=["body"], condition=~Q(state__in=["removed", "void"]), name="application_one_open_per_body"
            ),
            models.CheckConstraint(
                condition=Q(checker=None) | Q(applier=None) | ~Q(checker=models.F("applier")),
                name="application_checker_not_applier",
            ),
        ]
        indexes = [models.Index(fields=["position", "state"])]

    def __str__(self) -> str:
        return f"{self.position} {self.recipe_version or 'tape without a recipe'} ({self.state})"
