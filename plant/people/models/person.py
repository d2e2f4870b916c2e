"""A person of the plant; who may sign in has a secret that only he or she knows."""

from datetime import datetime

from django.contrib.auth.models import AbstractBaseUser, BaseUserManager
from django.db import models
from django.db.models import F, Q


class People(BaseUserManager["Person"]):
    """Finds persons for sign-in."""

    def get_by_natural_key(self, username: str | None) -> "Person":
        return self.get(staff_no__iexact=username)


class Person(AbstractBaseUser):
    """Never deleted; the staff number is never given to anybody else.

    A starter code, printed once and valid for a day, lets a joiner choose the own password, while a colleague who
    did not issue the code vouches for who it is; so nobody else ever learns or sets a lasting secret, and to use
    another's signature takes two who work together (21 CFR 11.200(a)(3)).
    """

    class Employer(models.TextChoices):
        PLANT = "plant", "this plant"
        OUTSIDE = "outside", "an outside firm"

    staff_no = models.CharField("staff number", max_length=20, unique=True)
    name = models.CharField(max_length=120)
    language = models.CharField(max_length=10, default="en-gb")
    email = models.EmailField(blank=True)
    employer = models.CharField(max_length=10, choices=Employer, default=Employer.PLANT)
    home_shift = models.CharField(max_length=20, blank=True)
    active_from = models.DateTimeField()
    active_to = models.DateTimeField(null=True)
    starter_hash = models.CharField(max_length=200, blank=True)
    starter_ends_at = models.DateTimeField(null=True)
    starter_by = models.ForeignKey(
        "self", models.PROTECT, null=True, related_name="+", help_text="Who issued the code; may not vouch for its use"
    )
    must_choose_secret = models.BooleanField(default=True)
    pin_hash = models.CharField(max_length=200, blank=True)
    sign_in_failures = models.PositiveIntegerField(default=0)
    sign_in_waits_until = models.DateTimeField(null=True)
    signing_failures = models.PositiveIntegerField(default=0)
    signing_locked_until = models.DateTimeField(null=True)

    USERNAME_FIELD = "staff_no"
    objects = People()

    class Meta:
        ordering = ["name"]
        constraints = [
            models.CheckConstraint(
                condition=Q(active_to=None) | Q(active_to__gte=F("active_from")),
                name="person_leaves_after_joining",
            )
        ]

    def __str__(self) -> str:
        return self.name

    def active_at(self, at: datetime) -> bool:
        """Whether the person belongs to the plant at that moment."""
        return self.active_from <= at and (self.active_to is None or at < self.active_to)
