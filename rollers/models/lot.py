"""Lots and reels: what came in, where it is, how much was cut from it. Moves are added, never changed."""

from django.conf import settings
from django.db import models
from django.db.models import F, Q

from plant.audit.models import Attachment
from plant.floor.models import Room
from rollers.models.application import Application
from rollers.models.stock import TapeStock


class Lot(models.Model):
    """One delivery lot of a stock. Its status is its newest act."""

    class Status(models.TextChoices):
        QUARANTINED = "quarantined", "quarantined"
        RELEASED = "released", "released"
        HELD = "held", "on hold"
        RECALLED = "recalled", "recalled"
        EXPIRED = "expired", "expired"
        USED_UP = "used up", "used up"

    stock = models.ForeignKey(TapeStock, models.PROTECT, related_name="lots")
    code = models.CharField(max_length=40, help_text="The supplier's lot number, as printed on the reel")
    supplier = models.CharField(max_length=80, blank=True)
    received_at = models.DateTimeField()
    received_by = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, related_name="+")
    made_on = models.DateField(null=True, blank=True)
    use_by = models.DateField(null=True, blank=True)
    status = models.CharField(max_length=12, choices=Status, default=Status.QUARANTINED)
    measured_thickness_mm = models.FloatField(null=True)
    contaminating = models.BooleanField(default=False, help_text="Recalled because it contaminates")

    class Meta:
        ordering = ["stock", "-received_at"]
        constraints = [models.UniqueConstraint(fields=["stock", "code"], name="lot_once_per_stock")]

    def __str__(self) -> str:
        return f"{self.stock} {self.code}"


class LotAct(models.Model):
    """What was decided about a lot, by whom and why. Append-only."""

    lot = models.ForeignKey(Lot, models.PROTECT, related_name="acts")
    status = models.CharField(max_length=12, choices=Lot.Status)
    at = models.DateTimeField()
    by = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, related_name="+", null=True)
    reason = models.CharField(max_length=300, blank=True)
    details = models.JSONField(default=dict)

    class Meta:
        ordering = ["lot", "pk"]

    def __str__(self) -> str:
        return f"{self.lot}: {self.status}"


class Reel(models.Model):
    """One labelled reel of a lot. What is left on it follows from its moves."""

    lot = models.ForeignKey(Lot, models.PROTECT, related_name="reels")
    label = models.CharField(max_length=20, unique=True, help_text="Opaque; it stands on the reel as text and QR code")
    length_m = models.FloatField(help_text="As received")

    class Meta:
        ordering = ["label"]
        constraints = [models.CheckConstraint(condition=Q(length_m__gt=0), name="reel_has_length")]

    def __str__(self) -> str:
        return self.label


class ReelMove(models.Model):
    """Tape that went somewhere. Length changes at cut, scrap and count only. Append-only."""

    class Kind(models.TextChoices):
        RECEIVED = "received", "received into the store"
        ISSUED = "issued", "issued"
        CUT = "cut", "cut for a roller"
        RETURNED = "returned", "returned to the store"
        SCRAPPED = "scrapped", "scrapped"
        COUNTED = "counted", "length corrected by a count"

    reel = models.ForeignKey(Reel, models.PROTECT, related_name="moves")
    kind = models.CharField(max_length=10, choices=Kind)
    length_m = models.FloatField(help_text="Received, cut, scrapped: the length. Counted: the difference, signed")
    room = models.ForeignKey(Room, models.PROTECT, null=True, related_name="+", help_text="Where it is afterwards")
    to = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, null=True, related_name="+")
    application = models.ForeignKey(Application, models.PROTECT, null=True, related_name="reel_moves")
    at = models.DateTimeField()
    recorded_at = models.DateTimeField()
    by = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, related_name="+")
    reason = models.CharField(max_length=300, blank=True)

    class Meta:
        ordering = ["reel", "pk"]

    def __str__(self) -> str:
        return f"{self.reel} {self.kind} {self.length_m:g} m"


class Knife(models.Model):
    """A numbered knife. Where it is follows from its moves."""

    number = models.CharField(max_length=20, unique=True)
    snap_off = models.BooleanField(default=False, help_text="Snap-off blade: not in food and medical rooms")
    retired_at = models.DateTimeField(null=True)

    class Meta:
        ordering = ["number"]
        verbose_name_plural = "knives"

    def __str__(self) -> str:
        return self.number


class KnifeMove(models.Model):
    """A knife went out or came back. Append-only."""

    class Kind(models.TextChoices):
        OUT = "out", "taken out"
        BACK = "back", "back, whole"
        BROKEN = "broken", "back, a part missing"

    knife = models.ForeignKey(Knife, models.PROTECT, related_name="moves")
    kind = models.CharField(max_length=8, choices=Kind)
    room = models.ForeignKey(Room, models.PROTECT, related_name="+")
    application = models.ForeignKey(Application, models.PROTECT, null=True, related_name="knife_moves")
    at = models.DateTimeField()
    by = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, related_name="+")

    class Meta:
        ordering = ["knife", "pk"]

    def __str__(self) -> str:
        return f"{self.knife} {self.kind}"


class Bag(models.Model):
    """A labelled bag into which pieces are counted. Closed with its count; then it takes no more."""

    label = models.CharField(max_length=20, unique=True)
    room = models.ForeignKey(Room, models.PROTECT, related_name="+")
    opened_at = models.DateTimeField()
    opened_by = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, related_name="+")
    closed_at = models.DateTimeField(null=True)
    closed_by = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, null=True, related_name="+")
    counted = models.PositiveSmallIntegerField(null=True, help_text="Pieces counted when it was closed")

    class Meta:
        ordering = ["-pk"]

    def __str__(self) -> str:
        return self.label


class Piece(models.Model):
    """One piece of tape, cut for one lane of one roller. Append-only; what became of it stands in its facts."""

    application = models.ForeignKey(Application, models.PROTECT, related_name="pieces")
    number = models.PositiveSmallIntegerField()
    end = models.CharField(max_length=10)
    lane = models.PositiveSmallIntegerField(help_text="From the inside, 1 first")
    length_mm = models.FloatField()
    reel = models.ForeignKey(Reel, models.PROTECT, null=True, related_name="pieces", help_text="Empty: surveyed tape")

    class Meta:
        ordering = ["application", "number"]
        constraints = [
            models.UniqueConstraint(fields=["application", "number"], name="piece_once_per_application"),
            models.CheckConstraint(condition=Q(length_mm__gte=0), name="piece_has_length"),
        ]

    def __str__(self) -> str:
        return f"{self.application.position} piece {self.number}"


class PieceFact(models.Model):
    """Where a piece is. Append-only; the newest is what holds."""

    class State(models.TextChoices):
        ON = "on roller", "on the roller"
        INTACT = "removed intact", "removed, intact"
        IN_PARTS = "removed in parts", "removed in parts, laid together and complete"
        MISSING = "missing", "missing"
        FOUND = "found", "missing, then found"

    piece = models.ForeignKey(Piece, models.PROTECT, related_name="facts")
    state = models.CharField(max_length=16, choices=State)
    at = models.DateTimeField()
    recorded_at = models.DateTimeField()
    by = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, related_name="+")
    second = models.ForeignKey(
        settings.AUTH_USER_MODEL, models.PROTECT, null=True, related_name="+", help_text="Second person who saw it"
    )
    bag = models.ForeignKey(Bag, models.PROTECT, null=True, related_name="pieces")
    photo = models.ForeignKey(Attachment, models.PROTECT, null=True, related_name="+")
    note = models.CharField(max_length=300, blank=True)

    class Meta:
        ordering = ["piece", "pk"]
        constraints = [
            models.CheckConstraint(condition=Q(second=None) | ~Q(second=F("by")), name="piece_second_is_another")
        ]

    def __str__(self) -> str:
        return f"{self.piece}: {self.state}"


class Reconciliation(models.Model):
    """Expected against counted, for an application, a shift, a room or a lot. Append-only; QA closes a difference."""

    class Scope(models.TextChoices):
        APPLICATION = "application", "one taping"
        SHIFT = "shift", "a shift"
        ROOM = "room", "a room"
        LOT = "lot", "a lot"

    scope = models.CharField(max_length=12, choices=Scope)
    key = models.CharField(max_length=60, help_text="Key of what was counted")
    label = models.CharField(max_length=120)
    expected = models.JSONField(help_text="What the ledger says, by place: pieces, length, reels, knives")
    counted = models.JSONField(help_text="What was counted, by the same places")
    differs = models.BooleanField()
    cause = models.CharField(max_length=300, blank=True)
    at = models.DateTimeField()
    by = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, related_name="+")
    answers = models.ForeignKey("self", models.PROTECT, null=True, related_name="answered_by")

    class Meta:
        ordering = ["-pk"]
        indexes = [models.Index(fields=["scope", "key"])]

    def __str__(self) -> str:
        return f"count of {self.label} {self.at:%Y-%m-%d}"
