"""What is taught: modules with versioned pages, and who has read and understood which version."""

from django.conf import settings
from django.db import models
from django.db.models import F, Q

from plant.audit.models import Signature


class Module(models.Model):
    """One module of the courses; its pages are its versions."""

    number = models.PositiveSmallIntegerField(unique=True)
    slug = models.SlugField(max_length=60)

    class Meta:
        ordering = ["number"]

    def __str__(self) -> str:
        return f"{self.number} {self.slug}"


class ModuleVersion(models.Model):
    """Append-only: the text of a module in one language. A changed text has a new number."""

    module = models.ForeignKey(Module, models.PROTECT, related_name="versions")
    number = models.PositiveSmallIntegerField("version")
    lang = models.CharField(max_length=10)
    title = models.CharField(max_length=120)
    minutes = models.PositiveSmallIntegerField()
    text = models.TextField(help_text="Markdown")
    skills = models.JSONField()
    cautions = models.JSONField()
    needs_signature = models.BooleanField(default=False)
    digest = models.CharField(max_length=64)
    laid_at = models.DateTimeField()

    class Meta:
        ordering = ["module", "-number", "lang"]
        constraints = [models.UniqueConstraint(fields=["module", "number", "lang"], name="module_version_once")]

    def __str__(self) -> str:
        return f"{self.title} (version {self.number}, {self.lang})"


class Reading(models.Model):
    """Append-only: a person read this version and says that he or she understood it."""

    person = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, related_name="readings")
    version = models.ForeignKey(ModuleVersion, models.PROTECT, related_name="readings")
    opened_at = models.DateTimeField()
    at = models.DateTimeField()
    signature = models.ForeignKey(Signature, models.PROTECT, null=True, related_name="+")

    class Meta:
        ordering = ["-at", "-pk"]
        indexes = [models.Index(fields=["person", "version"])]
        constraints = [models.CheckConstraint(condition=Q(at__gte=F("opened_at")), name="reading_ends_after_opening")]

    def __str__(self) -> str:
        return f"{self.person}: {self.version}"
