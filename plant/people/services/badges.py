"""Issuing and ending badges."""

from datetime import datetime

from django.db import transaction

from plant.audit.services import record
from plant.errors import Refused
from plant.people.access import require_role
from plant.people.models import Badge, Person, Role


@transaction.atomic
def issue_badge(person: Person, *, code: str, by: Person, at: datetime) -> Badge:
    """Give a card with an opaque code (made by the caller from the system's random source); the old card is ended."""
    require_role(by, Role.KEEPER, at=at, act="Issuing a badge")
    person = Person.objects.select_for_update().get(pk=person.pk)
    if not person.active_at(at):
        raise Refused("not-active", f"{person.name} does not belong to the plant now and gets no badge.")
    Badge.objects.filter(person=person, ended_at=None).update(ended_at=at, end_reason="replaced by a new badge")
    badge = Badge.objects.create(person=person, code=code, issued_at=at, issued_by=by)
    record(
        stream="people",
        action="issue-badge",
        subject=person,
        sentence=f"badge ending {code[-4:]} issued to {person.name}",
        by=by,
        at=at,
    )
    return badge


@transaction.atomic
def end_badge(badge: Badge, *, reason: str, by: Person, at: datetime) -> None:
    """A lost or returned card stops working now."""
    require_role(by, Role.KEEPER, at=at, act="Ending a badge")
    if not reason.strip():
        raise Refused("no-reason", "Say why the badge ends (lost, returned, damaged).", field="reason")
    if not Badge.objects.filter(pk=badge.pk, ended_at=None).update(ended_at=at, end_reason=reason):
        raise Refused("ended-already", "This badge was ended before.")
    record(
        stream="people",
        action="end-badge",
        subject=badge.person,
        sentence=f"badge ending {badge.code[-4:]} of {badge.person.name} ended",
        by=by,
        at=at,
        reason=reason,
    )
