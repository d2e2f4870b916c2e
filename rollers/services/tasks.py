"""Work that waits, what broke a rule, and what should be looked at now: opened once, closed with an outcome.

Inside one act the order is: its own event, then deviations, then tasks, then alerts. Each has a stream of its own, and
writers who take the streams in this order never wait for one another in a ring.
"""

from datetime import datetime, timedelta
from typing import Any

from django.db import transaction

from plant.audit.services import record
from plant.errors import Conflict, Forbidden, Refused
from plant.people.models import Person, Role
from plant.people.queries import role_words, roles_of
from rollers.models import Alert, Deviation, TapeFact, Task

WITHIN = {  # our proposal: how long a deviation may stay open
    Deviation.Severity.INFO: None,
    Deviation.Severity.MINOR: timedelta(days=30),
    Deviation.Severity.MAJOR: timedelta(days=5),
    Deviation.Severity.CRITICAL: timedelta(days=1),
}


def open_task(
    kind: str,
    key: str,
    sentence: str,
    *,
    at: datetime,
    by: Person | None = None,
    for_role: str = "",
    owner: Person | None = None,
    due: datetime | None = None,
    **about: Any,
) -> Task:
    """Open a task, or give the one that the same reason opened before. Runs inside the act that causes it.

    `about`: line, position, application.
    """
    task, made = Task.objects.get_or_create(
        key=key,
        defaults={
            "kind": kind,
            "sentence": sentence,
            "for_role": for_role,
            "owner": owner,
            "opened_at": at,
            "opened_by": by,
            "due": due,
            **about,
        },
    )
    if made:
        facts = {"kind": str(kind), "key": key, "for": for_role, "due": due, "owner": owner.staff_no if owner else ""}
        record(stream="tasks", action="open-task", subject=task, sentence=sentence, by=by, at=at, facts=facts)
    return task


@transaction.atomic
def close_task(task: Task, *, outcome: str, by: Person, at: datetime) -> Task:
    """Close a task with what came of it; its owner or somebody of its role does."""
    task = Task.objects.select_for_update().get(pk=task.pk)
    if task.closed_at is not None:
        raise Conflict("closed", "Somebody closed this already. Reload the page.")
    roles = roles_of(by, at)
    if by.pk != task.owner_id and task.for_role not in roles:
        wanted = task.owner.name if task.owner else ", ".join(role_words([task.for_role]))
        raise Forbidden("not-yours", f"This is for {wanted}. Ask there.")
    if len(outcome.strip()) < 5:
        raise Refused("no-outcome", "Say what came of it, in a few words.", field="outcome")
    task.closed_at, task.closed_by, task.outcome = at, by, outcome.strip()
    task.save(update_fields=["closed_at", "closed_by", "outcome"])
    sentence = f"{by.name} closed: {task.sentence}"
    record(
        stream="tasks", action="close-task", subject=task, sentence=sentence, by=by, at=at, facts={"outcome": outcome}
    )
    return task


def open_deviation(
    code: str,
    severity: str,
    sentence: str,
    *,
    at: datetime,
    owner_role: str,
    by: Person | None = None,
    fact: TapeFact | None = None,
    **about: Any,
) -> Deviation:
    """A rule was broken, or something was done that could not be asked first. Runs inside the act that shows it.

    `about`: line, position, application, person.
    """
    allowed = WITHIN[Deviation.Severity(severity)]
    made = Deviation.objects.create(
        code=code,
        severity=severity,
        sentence=sentence,
        owner_role=owner_role,
        opened_at=at,
        due=at + allowed if allowed else None,
        fact=fact,
        **about,
    )
    record(
        stream="deviations",
        action="open-deviation",
        subject=made,
        sentence=sentence,
        by=by,
        at=at,
        facts={"code": code, "severity": str(severity), "owner": owner_role, "fact": fact.pk if fact else None},
    )
    return made


@transaction.atomic
def close_deviation(deviation: Deviation, *, outcome: str, by: Person, at: datetime) -> Deviation:
    """Close a deviation: somebody of the role that owns it, never the person it is about."""
    deviation = Deviation.objects.select_for_update().get(pk=deviation.pk)
    if deviation.closed_at is not None:
        raise Conflict("closed", "Somebody closed this already. Reload the page.")
    if deviation.owner_role not in roles_of(by, at):
        wanted = ", ".join(role_words([deviation.owner_role]))
        raise Forbidden("not-yours", f"This is closed by: {wanted}. Ask there.")
    if deviation.person_id == by.pk:
        raise Refused("same-person", "It is about you: somebody else of this role closes it.")
    if len(outcome.strip()) < 10:
        raise Refused("no-outcome", "Say what was found and done, in a sentence.", field="outcome")
    deviation.closed_at, deviation.closed_by, deviation.outcome = at, by, outcome.strip()
    deviation.save(update_fields=["closed_at", "closed_by", "outcome"])
    sentence = f"{by.name} closed: {deviation.sentence}"
    record(
        stream="deviations",
        action="close-deviation",
        subject=deviation,
        sentence=sentence,
        by=by,
        at=at,
        facts={"outcome": outcome.strip()},
    )
    return deviation


def raise_alert(
    key: str,
    level: str,
    sentence: str,
    *,
    next_action: str,
    for_role: str,
    at: datetime,
    due_at: datetime | None = None,
    address: str = "",
    line: Any = None,
) -> Alert:
    """Raise an alert once; the same trouble never twice. `due_at` is when it became true."""
    alert, made = Alert.objects.get_or_create(
        key=key,
        defaults={
            "level": level,
            "sentence": sentence,
            "next_action": next_action,
            "for_role": for_role,
            "due_at": due_at or at,
            "raised_at": at,
            "address": address,
            "line": line,
        },
    )
    if made:
        facts = {"key": key, "level": str(level), "for": for_role, "due_at": due_at or at}
        record(stream="alerts", action="raise-alert", subject=alert, sentence=sentence, by=None, at=at, facts=facts)
    return alert


@transaction.atomic
def acknowledge_alert(alert: Alert, *, by: Person, at: datetime) -> Alert:
    """A person of the role takes it: it is not escalated any more."""
    alert = Alert.objects.select_for_update().get(pk=alert.pk)
    if alert.acknowledged_at is not None:
        raise Conflict(
            "taken", f"{alert.acknowledged_by.name if alert.acknowledged_by else 'Somebody'} took it already."
        )
    wanted = [alert.for_role, alert.escalated_to] if alert.escalated_to else [alert.for_role]
    if not set(wanted) & set(roles_of(by, at)):
        raise Forbidden("not-yours", f"This alert is for: {', '.join(role_words(wanted))}.")
    alert.acknowledged_at, alert.acknowledged_by = at, by
    alert.save(update_fields=["acknowledged_at", "acknowledged_by"])
    sentence = f"{by.name} takes: {alert.sentence}"
    record(stream="alerts", action="acknowledge-alert", subject=alert, sentence=sentence, by=by, at=at)
    return alert


LEADERS = {Role.OPERATOR: Role.SUPERVISOR, Role.SUPERVISOR: Role.MANAGER, Role.QA: Role.MANAGER}
"""One up from a role, for alerts that nobody takes."""
