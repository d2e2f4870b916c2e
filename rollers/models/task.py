"""Work that waits for somebody, what broke a rule, and what should be looked at now."""

from django.conf import settings
from django.db import models
from django.db.models import Q

from plant.floor.models import Line, Position
from rollers.models.application import Application


class Task(models.Model):
    """Something to do by a role or a person until a moment. Closed with an outcome, never deleted."""

    class Kind(models.TextChoices):
        STOP_AND_FIX = "stop-and-fix", "stop and fix"
        STILL_NEEDED = "still-needed", "is the tape still needed?"
        RUN_WITHOUT = "run-without", "run without tape"
        REDUCE = "reduce", "reduce or remove"
        CAUSE_SHEET = "cause-sheet", "line walk and cause sheet"
        RE_CHECK = "re-check", "compute and sign again"
        MAINTENANCE = "maintenance", "order to maintenance"
        CONTENT = "content", "content and training"
        ACTION = "action", "corrective action"
        COUNT = "count", "count"
        OTHER = "other", "to do"

    kind = models.CharField(max_length=16, choices=Kind)
    key = models.CharField(max_length=120, unique=True, help_text="Why it exists; the same reason opens it once")
    sentence = models.TextField()
    line = models.ForeignKey(Line, models.PROTECT, null=True, related_name="tasks")
    position = models.ForeignKey(Position, models.PROTECT, null=True, related_name="tasks")
    application = models.ForeignKey(Application, models.PROTECT, null=True, related_name="tasks")
    for_role = models.CharField(max_length=20, blank=True, help_text="A role of plant.people, if nobody is named")
    owner = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, null=True, related_name="tasks")
    opened_at = models.DateTimeField()
    opened_by = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, null=True, related_name="+")
    due = models.DateTimeField(null=True)
    closed_at = models.DateTimeField(null=True)
    closed_by = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, null=True, related_name="+")
    outcome = models.TextField(blank=True)

    class Meta:
        ordering = ["closed_at", "due", "pk"]
        indexes = [models.Index(fields=["closed_at", "due"])]

    def __str__(self) -> str:
        return self.sentence


class Deviation(models.Model):
    """A rule was broken, or something was done that could not be asked first. Has an owner until it is closed."""

    class Severity(models.TextChoices):
        INFO = "info", "information"
        MINOR = "minor", "minor"
        MAJOR = "major", "major"
        CRITICAL = "critical", "critical"

    code = models.SlugField(max_length=40, help_text="The rule, for example late-entry or not-certified")
    severity = models.CharField(max_length=8, choices=Severity)
    sentence = models.TextField()
    line = models.ForeignKey(Line, models.PROTECT, null=True, related_name="deviations")
    position = models.ForeignKey(Position, models.PROTECT, null=True, related_name="deviations")
    application = models.ForeignKey(Application, models.PROTECT, null=True, related_name="deviations")
    fact = models.ForeignKey("rollers.TapeFact", models.PROTECT, null=True, related_name="deviations")
    person = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, null=True, related_name="+")
    owner_role = models.CharField(max_length=20)
    opened_at = models.DateTimeField()
    due = models.DateTimeField(null=True)
    closed_at = models.DateTimeField(null=True)
    closed_by = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, null=True, related_name="+")
    outcome = models.TextField(blank=True)

    class Meta:
        ordering = ["closed_at", "-pk"]
        constraints = [
            # Critical things are closed by somebody else than the person they are about.
            models.CheckConstraint(
                condition=Q(closed_by=None) | Q(person=None) | ~Q(closed_by=models.F("person")),
                name="deviation_closed_by_another",
            )
        ]

    def __str__(self) -> str:
        return f"{self.code}: {self.sentence}"


class Alert(models.Model):
    """Shown on the screens of who can act, until acknowledged; escalated if nobody does."""

    class Level(models.TextChoices):
        CRITICAL = "critical", "critical"
        MAJOR = "major", "major"
        MINOR = "minor", "minor"

    key = models.CharField(max_length=160, unique=True, help_text="The same trouble is raised once")
    level = models.CharField(max_length=8, choices=Level)
    sentence = models.TextField()
    next_action = models.CharField(max_length=200, help_text="No alert without one")
    address = models.CharField(max_length=200, blank=True, help_text="Where to act")
    for_role = models.CharField(max_length=20)
    line = models.ForeignKey(Line, models.PROTECT, null=True, related_name="alerts")
    due_at = models.DateTimeField(help_text="When it became true, also if it was noticed later")
    raised_at = models.DateTimeField()
    acknowledged_at = models.DateTimeField(null=True)
    acknowledged_by = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, null=True, related_name="+")
    escalated_at = models.DateTimeField(null=True)
    escalated_to = models.CharField(max_length=20, blank=True)
    over_at = models.DateTimeField(null=True, help_text="The trouble is gone")

    class Meta:
        ordering = ["over_at", "acknowledged_at", "-raised_at"]

    def __str__(self) -> str:
        return self.sentence
