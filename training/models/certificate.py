"""Certificates and what happened to them. Rows are written once; a renewal is a new certificate."""

from django.conf import settings
from django.db import models
from django.db.models import F, Q

from training.models.skill import Skill


class Certificate(models.Model):
    """Valid from the first day through 23:59:59 plant time of the last.

    `rule`, `rule_version` and `anchor` say how the last day was found; they are empty where somebody chose it.
    `grounds` names what it stands on by key (sessions, attempts, jobs, assessment) beside the words of `evidence`.
    """

    person = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, related_name="certificates")
    skill = models.ForeignKey(Skill, models.PROTECT, related_name="certificates")
    number = models.CharField(max_length=30, unique=True)
    valid_from = models.DateField()
    valid_to = models.DateField()
    founding = models.BooleanField(default=False, help_text="Issued on written evidence at the start of records")
    evidence = models.CharField(max_length=300)
    issued_at = models.DateTimeField()
    issued_by = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, null=True, related_name="+")
    rule = models.CharField(max_length=14, blank=True, default="")
    rule_version = models.PositiveIntegerField(default=0)
    anchor = models.DateField(null=True)
    renews = models.ForeignKey("self", models.PROTECT, null=True, related_name="renewed_by")
    grounds = models.JSONField(default=dict)

    class Meta:
        ordering = ["person", "skill", "-valid_to"]
        constraints = [
            models.CheckConstraint(condition=Q(valid_to__gte=F("valid_from")), name="certificate_ends_after_start"),
            models.CheckConstraint(
                condition=Q(issued_by=None) | ~Q(issued_by=F("person")), name="certificate_not_by_oneself"
            ),
        ]

    def __str__(self) -> str:
        return f"{self.number} {self.skill} {self.person}"


class CertificateAct(models.Model):
    """Suspended, reinstated or withdrawn: at once, with author and reason."""

    class Kind(models.TextChoices):
        SUSPENDED = "suspended", "suspended"
        REINSTATED = "reinstated", "reinstated"
        WITHDRAWN = "withdrawn", "withdrawn"

    certificate = models.ForeignKey(Certificate, models.PROTECT, related_name="acts")
    kind = models.CharField(max_length=12, choices=Kind)
    at = models.DateTimeField()
    by = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, related_name="+")
    reason = models.CharField(max_length=300)

    class Meta:
        ordering = ["at", "pk"]

    def __str__(self) -> str:
        return f"{self.certificate.number} {self.kind}"


class CertificateCard(models.Model):
    """The address on the printed card of a certificate: opaque, and of no use to find another."""

    certificate = models.OneToOneField(Certificate, models.PROTECT, related_name="card")
    token = models.CharField(max_length=43, unique=True)
    made_at = models.DateTimeField()

    def __str__(self) -> str:
        return f"card of {self.certificate_id}"
