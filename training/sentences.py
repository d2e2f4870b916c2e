"""What is said to somebody who may not do something, and why. Pure: facts in, sentence out."""

from collections.abc import Sequence
from datetime import date, datetime
from typing import NamedTuple
from zoneinfo import ZoneInfo

from training.rules import State

# The state of an add-on, as the code of the refusal for the room.
ADD_ON_CODES = {
    State.NOT_YET: "add-on-not-yet-valid",
    State.LAPSED: "add-on-lapsed",
    State.SUSPENDED: "add-on-suspended",
    State.WITHDRAWN: "add-on-withdrawn",
}


class Deed(NamedTuple):
    """Who suspended or withdrew, when and why."""

    by: str
    at: datetime
    reason: str


def day(when: date) -> str:
    """A day as it is said: 5 March 2026."""
    return f"{when.day} {when:%B %Y}"


def moment(at: datetime, zone: ZoneInfo) -> str:
    """A moment in plant time with its offset, without which autumn's repeated hour would be two moments."""
    local = at.astimezone(zone)
    return f"{day(local.date())} {local:%H:%M} (UTC{local:%z})"


def names(of: Sequence[str], most: int = 4) -> str:
    """Names as they are said: A, B and C."""
    if len(of) > most:
        return f"{', '.join(of[:most])} and {len(of) - most} more"
    return " and ".join(part for part in (", ".join(of[:-1]), *of[-1:]) if part)


def certificate_trouble(
    name: str,
    skill: str,
    number: str,
    state: State,
    *,
    first: date,
    last: date,
    issued: datetime | None,
    deed: Deed | None,
    zone: ZoneInfo,
) -> str:
    """Why this certificate does not count now."""
    if state == State.NOT_YET and issued is not None and issued.astimezone(zone).date() >= first:
        return f"{name}'s {skill} certificate {number} was issued on {moment(issued, zone)}, not before."
    if state == State.NOT_YET:
        return f"{name}'s {skill} certificate {number} begins on {day(first)} and does not count before."
    if state == State.LAPSED or deed is None:
        return f"{name}'s {skill} certificate {number} lapsed at the end of {day(last)}."
    when = f"{moment(deed.at, zone)} by {deed.by}: {deed.reason.rstrip('. ')}."
    if state == State.SUSPENDED:
        return f"{name}'s {skill} certificate {number} is suspended since {when}"
    return f"{name}'s {skill} certificate {number} was withdrawn on {when}"


def never_certified(name: str, skill: str) -> str:
    """Nothing on record at all."""
    return f"{name} has never been certified for {skill}."


def needed_beside(skill: str, need: str, trouble: str) -> str:
    """The certificate itself is good, but one it is built on is not."""
    return f"{skill} counts only beside a valid {need} certificate. {trouble}"


def add_on_missing(name: str, skill: str, add_on: str, place: str) -> str:
    """Certified, but not here."""
    return f"{name} holds {skill}, but {place} also takes the {add_on} add-on, which {name} has never held."


def add_on_trouble(add_on: str, place: str, trouble: str) -> str:
    """Certified, but the add-on for here does not count now."""
    return f"{place[0].upper()}{place[1:]} also takes the {add_on} add-on. {trouble}"


def finishing(name: str, started: datetime, ended: str, zone: ZoneInfo) -> str:
    """Begun while certified; the certificate ended before it was done."""
    return f"{name} may finish the step begun on {moment(started, zone)} to a safe state, and begin no other. {ended}"


def supervised(trainee: str, certified: str, skill: str) -> str:
    """A trainee beside a certified person."""
    return f"{trainee} may practise {skill}; {certified} signs in the same job and answers for it."


def no_supervisor(certified: str) -> str:
    """The one who should answer for a trainee may not do the work either."""
    return f"{certified} cannot supervise this."


def needed_to_practise(skill: str, need: str, trouble: str) -> str:
    """What a trainee has to hold before the first supervised job."""
    return f"{skill} is practised only beside a valid {need} certificate. {trouble}"


def outside(name: str) -> str:
    """A guest, whatever certificates a guest may hold."""
    return f"{name} has a guest's access and may look, propose and comment, but not do or sign this work."


def left(name: str, at: datetime, zone: ZoneInfo) -> str:
    """No longer of the plant."""
    return f"{name} left the plant on {moment(at, zone)} and may do nothing here any more."


def not_joined(name: str, at: datetime, zone: ZoneInfo) -> str:
    """Not of the plant yet."""
    return f"{name} joins the plant on {moment(at, zone)} and may do nothing here before."


def who_can(able: Sequence[str], supervisors: Sequence[str], trainers: Sequence[str]) -> str:
    """The end of every refusal: who on this shift may do it, or whom to ask when nobody may."""
    if able:
        return f"On this shift {names(able)} may do it."
    ask = f"Ask {names(supervisors)} (shift supervisor)" if supervisors else "Ask the shift supervisor"
    train = f"{names(trainers)} (trainer)" if trainers else "a trainer"
    nobody = "Nobody on this shift may do it."
    return f"{nobody} {ask} to call in somebody certified, or {train} to certify somebody."
