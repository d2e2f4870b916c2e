"""Where knives are."""

from dataclasses import dataclass

from django.db.models import Max, QuerySet

from plant.floor.models import Room
from rollers.models import Knife, KnifeMove


@dataclass(frozen=True)
class KnifeNow:
    """A knife with its last move."""

    knife: Knife
    last: KnifeMove | None

    @property
    def is_out(self) -> bool:
        return self.last is not None and self.last.kind == KnifeMove.Kind.OUT

    @property
    def place(self) -> str:
        if self.last is None or self.last.kind == KnifeMove.Kind.BACK:
            return "store"
        if self.last.kind == KnifeMove.Kind.BROKEN:
            return "back, a part missing"
        return f"room {self.last.room}, {self.last.by.name}"


def knives_now(knives: QuerySet[Knife] | None = None) -> list[KnifeNow]:
    """Knives with where they are; retired ones last."""
    rows = list((Knife.objects.all() if knives is None else knives).order_by("retired_at", "number"))
    newest = KnifeMove.objects.filter(knife__in=rows).values("knife").annotate(last=Max("pk")).values("last")
    last = {
        move.knife_id: move
        for move in KnifeMove.objects.filter(pk__in=newest).select_related("room", "by", "application__position")
    }
    return [KnifeNow(knife, last.get(knife.pk)) for knife in rows]


def knives_in(room: Room) -> list[KnifeNow]:
    """Knives that are out in a room."""
    return [now for now in knives_now() if now.is_out and now.last is not None and now.last.room_id == room.pk]
