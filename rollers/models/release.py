"""What a planned run was checked for, and the release with its snapshot."""

from django.db import models

from plant.audit.models import Signature
from plant.floor.models import Position, Run
from rollers.models.calculation import Calculation


class RunCheck(models.Model):
    """What one position was found to be when the run was planned. Written once."""

    run = models.ForeignKey(Run, models.PROTECT, related_name="checks")
    position = models.ForeignKey(Position, models.PROTECT, related_name="run_checks")
    readiness = models.CharField(max_length=10)
    findings = models.JSONField(default=list)
    calculation = models.ForeignKey(Calculation, models.PROTECT, null=True, related_name="+")
    at = models.DateTimeField()

    class Meta:
        ordering = ["run", "position__order", "pk"]

    def __str__(self) -> str:
        return f"{self.run} {self.position}: {self.readiness}"


class Release(models.Model):
    """A supervisor let the run start: computed again at that moment, everything seen kept."""

    run = models.OneToOneField(Run, models.PROTECT, related_name="release")
    at = models.DateTimeField()
    snapshot = models.JSONField()
    signature = models.OneToOneField(Signature, models.PROTECT, related_name="+")

    def __str__(self) -> str:
        return f"release of {self.run}"
