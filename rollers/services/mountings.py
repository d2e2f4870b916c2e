"""Mounting, taking out, swapping, turning. Tape goes with the body, the recipe stays with the position."""

from datetime import datetime

from django.db import transaction
from django.db.models import Q

from plant.audit.services import record
from plant.errors import Conflict, Refused
from plant.floor.models import Position
from plant.people.access import require_role
from plant.people.models import Person
from rollers.models import Body, Mounting, RecipeProduct, TapeFact
from rollers.models.tape import TapeState
from rollers.queries_registry import surveyed, tape_state
from rollers.services.asking_again import after_work
from rollers.services.bodies import KEEPERS_OF_ROLLERS, SPARE_PLACES, stream_of


def _locked(position: Position, *bodies: Body) -> tuple[Position, list[Body]]:
    """Position first, then bodies by id: always in this order, so that two swaps never wait for one another."""
    position = Position.objects.select_for_update().select_related("room", "line").get(pk=position.pk)
    rows = Body.objects.select_for_update().filter(pk__in=[body.pk for body in bodies]).order_by("pk")
    found = {body.pk: body for body in rows}
    return position, [found[body.pk] for body in bodies]


def _look(body: Body, position: Position | None, *, by: Person, at: datetime, when: datetime) -> None:
    """The person looked at the roller and found it bare and clean."""
    TapeFact.objects.create(
        body=body,
        position=position,
        kind=TapeFact.Kind.CLEANED,
        at=when,
        recorded_at=at,
        by=by,
        state=TapeState.BARE,
    )


def _refuse_unknown(body: Body, state: str, position: Position, at: datetime) -> None:
    if state == TapeState.UNKNOWN and surveyed(position.room, at):
        sentence = (
            f"It is not known what is on roller {body.serial}. Look at it under lockout: if it is bare and clean, "
            "say so here; if not, remove the tape and clean it first. Maintenance or a certified person can."
        )
        raise Refused("state-unknown", sentence, field="looked_bare")


def _refuse_without_diameter(body: Body, position: Position) -> None:
    if body.diameter_mm is not None:
        return
    if RecipeProduct.objects.filter(position=position, in_force=True, version__recipe__kind="taped").exists():
        sentence = (
            f"The diameter of roller {body.serial} is not known, and {position.code} carries a taped recipe. "
            "Measure it and record it on the roller's page; maintenance can."
        )
        raise Refused("no-diameter", sentence, field="body")


def _refuse_bad_time(when: datetime, at: datetime, last: Mounting | None) -> None:
    if when > at:
        raise Refused("future", "This lies in the future. Record it when it is done.", field="when")
    if last is not None and when < last.mounted_at:
        sentence = f"At that time it was not mounted yet ({last.mounted_at:%Y-%m-%d %H:%M} UTC). Check the time."
        raise Refused("too-early", sentence, field="when")


def _put(body: Body, position: Position, orientation: str, when: datetime) -> Mounting:
    if Mounting.objects.filter(Q(body=body) | Q(position=position), removed_at__gt=when).exists():
        sentence = f"At that time {body.serial} or {position.code} was taken. Check the time of mounting."
        raise Refused("overlap", sentence, field="when")
    body.whereabouts = Body.Whereabouts.MOUNTED
    body.save(update_fields=["whereabouts"])
    return Mounting.objects.create(body=body, position=position, orientation=orientation, mounted_at=when)


def _orientation(text: str) -> str:
    if text not in Mounting.Orientation.values:
        sentence = f"{text!r}: write normal (the drive-end mark is at the drive end) or flipped."
        raise Refused("orientation", sentence, field="orientation")
    return text


def _refuse_unmountable(body: Body) -> None:
    if body.whereabouts == Body.Whereabouts.MOUNTED:
        there = Mounting.objects.select_related("position").get(body=body, removed_at=None)
        raise Refused("mounted", f"Roller {body.serial} sits at {there.position.code}. Take it out there first.")
    if body.whereabouts == Body.Whereabouts.SCRAPPED:
        raise Refused("scrapped", f"Roller {body.serial} is scrapped and is not mounted again.", field="body")


@transaction.atomic
def mount(
    body: Body,
    position: Position,
    *,
    by: Person,
    at: datetime,
    orientation: str = Mounting.Orientation.NORMAL,
    when: datetime | None = None,
    looked_bare: bool = False,
) -> Mounting:
    """Put a roller at an empty position. `when`: done then; `looked_bare`: looked at, bare and clean."""
    require_role(by, *KEEPERS_OF_ROLLERS, at=at, act="Mounting a roller")
    position, (body,) = _locked(position, body)
    when = when or at
    _refuse_bad_time(when, at, None)
    there = Mounting.objects.filter(position=position, removed_at=None).select_related("body").first()
    if there is not None:
        sentence = f"{position.code} holds roller {there.body.serial}. Swap it, or take it out first."
        raise Refused("position-taken", sentence, field="position")
    _refuse_unmountable(body)
    state = _incoming_state(body, position, looked_bare, by=by, at=at, when=when)
    made = _put(body, position, _orientation(orientation), when)
    _tell(body, "mount", f"roller {body.serial} mounted at {position.code}, {orientation}", made, state, by, at)
    return made


def _incoming_state(
    body: Body, position: Position, looked_bare: bool, *, by: Person, at: datetime, when: datetime
) -> str:
    """What is on the roller that goes in; refused where that, or its diameter, must be known and is not."""
    state = tape_state(body)
    if looked_bare:
        _refuse_look_at_taped(body)
        _look(body, position, by=by, at=at, when=when)
        state = TapeState.BARE
    _refuse_unknown(body, state, position, at)
    _refuse_without_diameter(body, position)
    return state


def _carrying(body: Body) -> TapeFact | None:
    """The newest fact of a body that has tape on."""
    fact = TapeFact.objects.filter(body=body).order_by("-pk").first()
    return fact if fact is not None and fact.carries_tape else None


def _refuse_look_at_taped(body: Body) -> None:
    fact = _carrying(body)
    if fact is not None:
        sentence = (
            f"By the record roller {body.serial} is {fact.state} ({fact.get_kind_display()}); looking does not make "
            "it bare. "
            "Record the removal with its count first; a person with Apply can."
        )
        raise Refused("taped", sentence, field="looked_bare")


def _tell(body: Body, action: str, sentence: str, mounting: Mounting, state: str, by: Person, at: datetime) -> None:
    position = mounting.position
    facts = {
        "position": position.code,
        "orientation": mounting.orientation,
        "mounted_at": mounting.mounted_at,
        "removed_at": mounting.removed_at,
        "tape": str(state),
    }
    record(stream=stream_of(body), action=action, subject=mounting, sentence=sentence, by=by, at=at, facts=facts)
    if mounting.removed_at is None:  # what turns there now is not what the cause was looked for on
        done = f"{sentence[:1].upper()}{sentence[1:]}."
        after_work(position, done, key=f"mounting-{mounting.pk}", cause_fixed=False, by=by, at=at)


def _take(
    position: Position, body: Body, to: str, *, by: Person, at: datetime, when: datetime, looked: bool
) -> Mounting:
    mounting = Mounting.objects.select_for_update().filter(position=position, body=body, removed_at=None).first()
    if mounting is None:
        raise Conflict(
            "changed-since", f"{body.serial} is not at {position.code} any more. Look at the position again."
        )
    _refuse_bad_time(when, at, mounting)
    if to not in SPARE_PLACES:
        raise Refused("whereabouts", "A roller taken out goes to spare, grinding or scrapped.", field="to")
    state, carrying = tape_state(body), _carrying(body)
    if carrying is not None:
        sentence = (
            f"Roller {body.serial} is {state}: it leaves its place bare. Record the removal, count the pieces and "
            "clean it first; who may do it stands on the roller's page."
        )
        raise Refused("taped", sentence, field="to")
    if looked:
        _look(body, position, by=by, at=at, when=when)
    elif state == TapeState.UNKNOWN and surveyed(position.room, at):
        _refuse_unknown(body, state, position, at)
    mounting.position, mounting.removed_at = position, when
    mounting.save(update_fields=["removed_at"])
    body.whereabouts = Body.Whereabouts(to)
    body.save(update_fields=["whereabouts"])
    return mounting


@transaction.atomic
def unmount(
    position: Position,
    *,
    to: str,
    by: Person,
    at: datetime,
    when: datetime | None = None,
    looked_bare: bool = False,
) -> Mounting:
    """Take the roller out of a position. A taped one, or one with residue, does not leave."""
    require_role(by, *KEEPERS_OF_ROLLERS, at=at, act="Taking out a roller")
    there = Mounting.objects.filter(position=position, removed_at=None).select_related("body").first()
    if there is None:
        raise Refused("empty-position", f"No roller is recorded at {position.code}.", field="position")
    position, (body,) = _locked(position, there.body)
    mounting = _take(position, body, to, by=by, at=at, when=when or at, looked=looked_bare)
    _tell(
        body,
        "unmount",
        f"roller {body.serial} taken out of {position.code}, now {to}",
        mounting,
        tape_state(body),
        by,
        at,
    )
    return mounting


@transaction.atomic
def swap_body(
    position: Position,
    incoming: Body,
    *,
    to: str,
    by: Person,
    at: datetime,
    orientation: str = Mounting.Orientation.NORMAL,
    when: datetime | None = None,
    looked_bare: bool = False,
    outgoing_bare: bool = False,
) -> Mounting:
    """Take one roller out and mount another, in one act. `looked_bare` tells of the one that comes in."""
    require_role(by, *KEEPERS_OF_ROLLERS, at=at, act="Swapping a roller")
    there = Mounting.objects.filter(position=position, removed_at=None).select_related("body").first()
    if there is None:
        sentence = f"No roller is recorded at {position.code}; mount one instead of swapping."
        raise Refused("empty-position", sentence, field="position")
    when = when or at
    position, (outgoing, body) = _locked(position, there.body, incoming)
    _refuse_unmountable(body)
    _take(position, outgoing, to, by=by, at=at, when=when, looked=outgoing_bare)
    state = _incoming_state(body, position, looked_bare, by=by, at=at, when=when)
    made = _put(body, position, _orientation(orientation), when)
    sentence = f"{position.code}: roller {outgoing.serial} out ({to}), roller {body.serial} in, {orientation}"
    _tell(body, "swap-body", sentence, made, state, by, at)
    return made


@transaction.atomic
def turn_body(position: Position, *, by: Person, at: datetime, when: datetime | None = None) -> Mounting:
    """Turn the roller end for end in its place. Tape on it then has its tail leading and its ends changed."""
    require_role(by, *KEEPERS_OF_ROLLERS, at=at, act="Turning a roller end for end")
    there = Mounting.objects.filter(position=position, removed_at=None).select_related("body").first()
    if there is None:
        raise Refused("empty-position", f"No roller is recorded at {position.code}.", field="position")
    position, (body,) = _locked(position, there.body)
    mounting = Mounting.objects.select_for_update().filter(pk=there.pk, removed_at=None).first()
    if mounting is None:
        raise Conflict("changed-since", f"{position.code} changed since you looked. Look at the position again.")
    when = when or at
    _refuse_bad_time(when, at, mounting)
    flips = {Mounting.Orientation.NORMAL: Mounting.Orientation.FLIPPED}
    orientation = flips.get(Mounting.Orientation(mounting.orientation), Mounting.Orientation.NORMAL)
    mounting.removed_at = when
    mounting.save(update_fields=["removed_at"])
    made = Mounting.objects.create(body=body, position=position, orientation=orientation, mounted_at=when)
    _tell(
        body, "turn-body", f"roller {body.serial} turned end for end at {position.code}", made, tape_state(body), by, at
    )
    return made
