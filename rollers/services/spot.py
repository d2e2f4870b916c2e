"""One mounted roller, locked for one act, and how a fact about it is written."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from typing import Any
from uuid import UUID

from plant.audit.models import Attachment
from plant.audit.services import record
from plant.errors import Conflict, Refused
from plant.floor.models import Position
from plant.people.models import Person
from rollers.access import mounting_at
from rollers.control import controls
from rollers.models import Application, Body, Mounting, TapeFact
from rollers.models.tape import TapeState
from rollers.queries import newest_facts
from rollers.queries_application import conflict_on, open_application
from rollers.rooms import room_kinds
from rollers.rules_application import may_follow


@dataclass(frozen=True)
class Sent:
    """How a record came. `seen` is the newest fact its sender had looked at (0: none), `key` was made where it was
    made, `reason` says why it comes late."""

    done_at: datetime | None = None
    seen: int | None = None
    key: UUID | None = None
    reason: str = ""
    photo: Attachment | None = None


NOW = Sent()


@dataclass(frozen=True)
class Spot:
    """A mounted roller with its newest fact and its open taping, locked for one act."""

    position: Position
    mounting: Mounting
    fact: TapeFact | None
    kind: str
    application: Application | None
    at: datetime
    done_at: datetime
    sent: Sent
    late: bool = False
    known: TapeFact | None = None
    controls: Mapping[str, float] = field(default_factory=dict)

    @property
    def body(self) -> Body:
        return self.mounting.body

    @property
    def state(self) -> str:
        return self.fact.state if self.fact else TapeState.UNKNOWN

    @property
    def pieces(self) -> int:
        return self.fact.pieces if self.fact else 0


def lock_spot(
    position: Position,
    by: Person,
    at: datetime,
    sent: Sent = NOW,
    *,
    ordered: bool = True,
    in_conflict: bool = False,
) -> Spot:
    """Take the body. A record that was sent before comes back as `known`; refused is one that rests on an older look.

    `ordered` is False for reports of what was done: they may lie before what is on record. Where two persons recorded
    different things only what settles that is let in (`in_conflict`).
    """
    mounting = mounting_at(position)
    Body.objects.select_for_update().get(pk=mounting.body_id)
    if mounting_at(position).pk != mounting.pk:
        raise Conflict("changed", f"The roller at {position} was changed since you looked. Look again.")
    fact = newest_facts([mounting.body]).get(mounting.body_id)
    known = _known(sent, mounting.body, by)
    settings = controls()
    done_at = sent.done_at or at
    if known is None:
        _refuse_unseen(position, fact, sent.seen if ordered else None)
        _refuse_time(position, fact if ordered else None, sent, done_at, at, settings)
        if not in_conflict:
            _refuse_conflict(mounting)
    return Spot(
        position=position,
        mounting=mounting,
        fact=fact,
        kind=room_kinds({position.room_id}, done_at)[position.room_id],
        application=open_application(mounting.body),
        at=at,
        done_at=done_at,
        sent=sent,
        late=at - done_at > timedelta(hours=settings["late_hours"]),
        known=known,
        controls=settings,
    )


def _known(sent: Sent, body: Body, by: Person) -> TapeFact | None:
    """What was recorded under this key before: sending again changes nothing."""
    fact = TapeFact.objects.filter(key=sent.key).first() if sent.key else None
    if fact is not None and (fact.body_id, fact.by_id) != (body.pk, by.pk):
        raise Conflict("key-taken", "Another record has this key already. Open the page again and record it anew.")
    return fact


def _refuse_unseen(position: Position, fact: TapeFact | None, seen: int | None) -> None:
    if seen is None or (fact.pk if fact else 0) == seen:
        return
    who = f"{fact.by.name} recorded “{fact.get_kind_display()}” at {position}" if fact else "the roller changed"
    raise Conflict("changed", f"Changed since you looked: {who}. Look again; nothing was overwritten.")


def _refuse_conflict(mounting: Mounting) -> None:
    if conflict_on(mounting.body) is not None:
        sentence = (
            f"{mounting.position}: two persons recorded different things about this roller. A person with Check who "
            "made neither entry looks first and settles it."
        )
        raise Refused("conflict", sentence)


def _refuse_time(
    position: Position,
    fact: TapeFact | None,
    sent: Sent,
    done_at: datetime,
    at: datetime,
    settings: Mapping[str, float],
) -> None:
    """Not in the future, not before what is on record already; later than two hours only with a reason."""
    if done_at - at > timedelta(minutes=settings["clock_ahead_minutes"]):
        raise Refused("in-the-future", "The time lies in the future. Check the clock and the date.", field="done_at")
    if fact is not None and done_at < fact.at:
        sentence = f"{position}: something was recorded at {fact.at:%Y-%m-%d %H:%M} UTC already, later than this."
        raise Refused("before-last", sentence, field="done_at")
    late = timedelta(hours=settings["late_hours"])
    if at - done_at > late and len(sent.reason.strip()) < 5:
        sentence = (
            f"This was done more than {settings['late_hours']:g} hours ago. Say in a few words why it is recorded now."
        )
        raise Refused("late-without-reason", sentence, field="late_reason")


def write_fact(spot: Spot, kind: str, state: str, *, by: Person, sentence: str, **fields: Any) -> TapeFact:
    """Add one fact and its audit event."""
    reason = fields.pop("reason", "") or spot.sent.reason.strip()
    fact = TapeFact.objects.create(
        body=spot.body,
        position=spot.position,
        kind=kind,
        state=state,
        by=by,
        at=spot.done_at,
        recorded_at=spot.at,
        late=spot.late,
        key=spot.sent.key,
        photo=spot.sent.photo,
        reason=reason,
        **({"application": spot.application} | fields),
    )
    facts = {"position": spot.position.code, "state": str(state), "pieces": fact.pieces, "details": fact.details}
    if spot.late:
        facts["done_at"] = spot.done_at
    if fact.application_id is not None:
        facts["application"] = fact.application_id
    record(
        stream=f"roller:{spot.body.serial}",
        action=f"tape-{kind.replace(' ', '-')}",
        subject=fact,
        sentence=sentence + (" (late entry)" if spot.late else ""),
        by=by,
        at=spot.at,
        facts=facts,
        reason=fact.reason,
    )
    return fact


KEPT = ("recipe_version", "orientation", "rotation", "applier", "measured", "checked", "pieces")


def carry_on(spot: Spot, kind: str, *, by: Person, sentence: str, state: str = "", **changes: Any) -> TapeFact:
    """A further fact about the same roller: what is not said stays."""
    kept = {name: getattr(spot.fact, name) for name in KEPT} if spot.fact else {}
    return write_fact(spot, kind, state or spot.state, by=by, sentence=sentence, **(kept | changes))


def move_on(application: Application, state: str, **changes: Any) -> Application:
    """Bring a taping into its next state; the order of the states allows it, or it is refused."""
    if application.state != state and not may_follow(application.state, state):
        sentence = f"{application.position}: this taping is {application.get_state_display()}; that does not follow."
        raise Refused("not-now", sentence)
    changes = {"state": state} | changes
    for name, value in changes.items():
        setattr(application, name, value)
    application.save(update_fields=list(changes))
    return application


def need_application(spot: Spot, *states: str, what: str) -> Application:
    """The open taping, in one of these states."""
    application = spot.application
    if application is not None and application.state in states:
        return application
    if application is None:
        sentence = f"{spot.position} is {spot.state}: there is no recorded tape to {what}."
        raise Refused("no-job", sentence)
    sentence = f"{spot.position}: this taping is {application.get_state_display()}; there is nothing to {what} now."
    raise Refused("not-now", sentence)
