"""Labelled bags into which pieces of tape are counted. Closed with their count; then they take no more."""

from collections.abc import Collection
from datetime import datetime
from random import Random

from django.db import transaction

from plant.audit.models import Attachment
from plant.audit.services import record
from plant.errors import Conflict, Refused
from plant.floor.models import Room
from plant.people.models import Person, Role
from rollers.access_store import require_hands
from rollers.models import Bag, Deviation, Knife, Piece, PieceFact, Reel
from rollers.queries_pieces import with_newest
from rollers.rooms import room_kinds
from rollers.rules import STRICT
from rollers.rules_store import LETTERS
from rollers.services.tasks import open_deviation

GONE_IN = (PieceFact.State.INTACT, PieceFact.State.IN_PARTS, PieceFact.State.FOUND)


def free_label(prefix: str, random: Random) -> str:
    """A label that says nothing and stands on nothing else: `B-7K2MQ4`."""
    while True:
        label = f"{prefix}-" + "".join(random.choice(LETTERS) for _ in range(6))
        taken = Bag if prefix == "B" else Reel if prefix == "R" else Knife
        field = "number" if taken is Knife else "label"
        if not taken.objects.filter(**{field: label}).exists():
            return label


def _stream(room: Room) -> str:
    return f"bags:{room.code}"


@transaction.atomic
def open_bag(room: Room, *, by: Person, at: datetime, random: Random) -> Bag:
    """Open a bag in a room, under a new label."""
    require_hands(by, at=at, act="Opening a bag")
    bag = Bag.objects.create(label=free_label("B", random), room=room, opened_at=at, opened_by=by)
    sentence = f"{by.name} opened bag {bag.label} in room {room}"
    record(stream=_stream(room), action="open-bag", subject=bag, sentence=sentence, by=by, at=at)
    return bag


def open_bag_in(room: Room) -> Bag | None:
    """The newest bag of a room that still takes pieces."""
    return Bag.objects.filter(room=room, closed_at=None).order_by("-pk").first()


@transaction.atomic
def put_pieces(
    bag: Bag,
    pieces: Collection[Piece],
    *,
    by: Person,
    at: datetime,
    state: str = PieceFact.State.INTACT,
    second: Person | None = None,
    done_at: datetime | None = None,
    photo: Attachment | None = None,
    note: str = "",
) -> list[PieceFact]:
    """Count pieces into a bag, each once. Runs inside the act that takes them off.

    A piece in parts counts as one only when its parts are laid together and complete, and a second person saw it; a
    found piece also needs a photograph.
    """
    bag = Bag.objects.select_for_update(of=("self",)).select_related("room", "closed_by").get(pk=bag.pk)
    if bag.closed_at is not None:
        who = bag.closed_by.name if bag.closed_by else "somebody"
        sentence = f"Bag {bag.label} was closed by {who} with {bag.counted} pieces. Open a new bag."
        raise Refused("bag-closed", sentence, field="bag")
    _refuse_unseen(state, by, second, photo)
    keys = [piece.pk for piece in pieces]
    list(Piece.objects.select_for_update().filter(pk__in=keys).order_by("pk").values_list("pk"))
    held = list(with_newest(Piece.objects.filter(pk__in=keys)).select_related("application__position").order_by("pk"))
    for piece in held:
        _refuse_piece(piece, bag, state)
    facts = [
        PieceFact.objects.create(
            piece=piece,
            state=state,
            at=done_at or at,
            recorded_at=at,
            by=by,
            second=second,
            bag=bag,
            photo=photo,
            note=note.strip(),
        )
        for piece in held
    ]
    record(
        stream=_stream(bag.room),
        action="put-pieces",
        subject=bag,
        sentence=f"{by.name} put {len(facts)} pieces into bag {bag.label}, {PieceFact.State(state).label}",
        by=by,
        at=at,
        facts={"pieces": keys, "state": str(state), "second": second.staff_no if second else ""},
        reason=note.strip(),
    )
    return facts


def _refuse_unseen(state: str, by: Person, second: Person | None, photo: Attachment | None) -> None:
    if state not in GONE_IN:
        raise Refused("state", "Only pieces that are off go into a bag: intact, in parts, or found.")
    if state == PieceFact.State.INTACT:
        return
    if second is None or second.pk == by.pk:
        what = "A piece in parts" if state == PieceFact.State.IN_PARTS else "A found piece"
        sentence = f"{what} counts only when a second person lays it out with you and confirms it. Name that person."
        raise Refused("second-person", sentence, field="second")
    if state == PieceFact.State.FOUND and photo is None:
        raise Refused("no-photo", "A found piece needs a photograph: take one before it goes into the bag.")


def _refuse_piece(piece: Piece, bag: Bag, state: str) -> None:
    position = piece.application.position
    if position.room_id != bag.room_id:
        sentence = f"{piece} belongs to room {position.room}; bag {bag.label} is of room {bag.room}. Use a bag there."
        raise Refused("other-room", sentence, field="bag")
    before = PieceFact.State.MISSING if state == PieceFact.State.FOUND else PieceFact.State.ON
    if piece.now == before:  # type: ignore[attr-defined]
        return
    newest = piece.facts.order_by("-pk").select_related("by").first()
    if newest is not None and newest.state in GONE_IN:
        sentence = f"{piece} is already recorded at {newest.at:%Y-%m-%d %H:%M} UTC by {newest.by.name}."
        raise Conflict("already-recorded", f"{sentence} Nothing was changed.")
    said = newest.get_state_display() if newest else "not on record"
    raise Refused("piece-state", f"{piece} is {said}; it cannot go into a bag as {PieceFact.State(state).label}.")


@transaction.atomic
def close_bag(bag: Bag, *, counted: int, by: Person, at: datetime) -> Bag:
    """Close a bag with the pieces counted in it. A count that differs from the record is not made right by closing."""
    require_hands(by, at=at, act="Closing a bag")
    bag = Bag.objects.select_for_update(of=("self",)).select_related("room", "closed_by").get(pk=bag.pk)
    if bag.closed_at is not None:
        raise Conflict("closed", f"Bag {bag.label} is closed already, with {bag.counted} pieces.")
    if counted < 0:
        raise Refused("counted", "Type the number of pieces in the bag; 0 for an empty one.", field="counted")
    inside = PieceFact.objects.filter(bag=bag).values("piece").distinct().count()
    bag.closed_at, bag.closed_by, bag.counted = at, by, counted
    bag.save(update_fields=["closed_at", "closed_by", "counted"])
    sentence = f"{by.name} closed bag {bag.label} with {counted} pieces; by the record {inside} went in"
    facts = {"counted": counted, "recorded": inside}
    record(stream=_stream(bag.room), action="close-bag", subject=bag, sentence=sentence, by=by, at=at, facts=facts)
    if counted != inside:
        strict = room_kinds({bag.room_id}, at)[bag.room_id] in STRICT
        open_deviation(
            "bag-count",
            Deviation.Severity.CRITICAL if strict else Deviation.Severity.MAJOR,
            f"Bag {bag.label} of room {bag.room}: {counted} pieces counted, {inside} were recorded into it.",
            at=at,
            owner_role=Role.QA if strict else Role.SUPERVISOR,
            by=by,
        )
    return bag
