"""Pure rules about certificates: when one is valid, and which of several decides."""

from collections.abc import Iterable, Sequence
from datetime import UTC, date, datetime, time, timedelta
from enum import StrEnum
from typing import Protocol, TypeVar
from zoneinfo import ZoneInfo


class State(StrEnum):
    """What a certificate is at a moment."""

    VALID = "valid"
    NOT_YET = "not-yet-valid"
    LAPSED = "lapsed"
    SUSPENDED = "suspended"
    WITHDRAWN = "withdrawn"


class Act(Protocol):
    """Something that was done to a certificate: suspended, reinstated or withdrawn."""

    kind: str
    at: datetime


class Dated(Protocol):
    """Anything with a last day."""

    valid_to: date


D = TypeVar("D", bound=Dated)


def lapses_at(valid_to: date, zone: ZoneInfo) -> datetime:
    """The first moment after 23:59:59 plant time of the last day, in UTC.

    The day of a clock change has 23 or 25 hours. Where the clock jumps over midnight the zone gives the
    moment of the jump, which is the end of the day before.
    """
    return begins_at(valid_to + timedelta(days=1), zone)


def begins_at(valid_from: date, zone: ZoneInfo) -> datetime:
    """The first moment of the first day by the clock of the plant, in UTC."""
    return datetime.combine(valid_from, time(0), tzinfo=zone).astimezone(UTC)


def state_at(
    valid_from: date,
    valid_to: date,
    acts: Iterable[Act],
    *,
    at: datetime,
    zone: ZoneInfo,
    issued_at: datetime | None = None,
) -> State:
    """What a certificate is at a moment, from its days and from what was done to it up to then.

    With `issued_at` it does not count for the hours of its first day before it was signed, or a certificate
    signed at noon would make good what was done uncertified in the morning. An act counts from its own
    second on. Withdrawn is final. A lapsed certificate reads lapsed even where it was suspended before:
    reinstating it would no longer help.
    """
    done = [act.kind for act in sorted(acts, key=lambda act: act.at) if act.at <= at]
    if "withdrawn" in done:
        return State.WITHDRAWN
    today = at.astimezone(zone).date()
    if today > valid_to:
        return State.LAPSED
    if done and done[-1] == "suspended":
        return State.SUSPENDED
    before_issue = issued_at is not None and at < issued_at
    return State.NOT_YET if today < valid_from or before_issue else State.VALID


def deciding(found: Sequence[tuple[State, D]]) -> tuple[State, D] | None:
    """Of all certificates of one person for one skill, the one that decides.

    A suspension holds against every other certificate of the skill, also a renewal; then a valid one
    counts, then one that will begin, then whichever ended last.
    """
    order = {State.SUSPENDED: 3, State.VALID: 2, State.NOT_YET: 1}
    return max(found, key=lambda pair: (order.get(pair[0], 0), pair[1].valid_to), default=None)
