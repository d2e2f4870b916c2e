"""What other parts of the plant tell training: that a job was done, and that something calls a skill into question.

Call these inside the transaction of the act that is told of: that act has its own event, so `tell_job_done` writes
none. Both may be called twice with the same fact; the second call changes nothing.
"""

from datetime import datetime

from plant.people.models import Person
from training.models import JobDone, Trigger, WorkKind
from training.services.refreshers import note_trigger


def tell_job_done(
    person: Person,
    kind: str,
    room_kind: str,
    at: datetime,
    subject: str,
    supervised_by: Person | None = None,
    *,
    key: str = "",
    recorded_at: datetime | None = None,
) -> JobDone:
    """A person did a job: one row, counted for currency.

    Parameters
    ----------
    kind : one of `WorkKind`: apply, remove, check, study, teach, assess, joint-marking.
    room_kind : the class of the room at that moment; empty for desk work.
    subject : what it was done on, as a person would find it again: `A05, SF-17 version 2`.
    supervised_by : the certified person who signed in the same job. The job is then practice of a trainee and counts
        for the person who answered for it.
    key : names the fact (`tape-fact:481`); left out, person, kind, moment and subject do.
    """
    if kind not in WorkKind.values:
        raise ValueError(f"no kind of work is called {kind}; use one of {', '.join(WorkKind.values)}")
    key = key or f"{kind}:{person.pk}:{at.isoformat()}:{subject}"
    fields = {"kind": kind, "room_kind": room_kind, "at": at, "subject": subject[:160]}
    fields["recorded_at"] = recorded_at or at
    made, new = JobDone.objects.get_or_create(
        key=key[:120], defaults=fields | {"person": person, "supervised_by": supervised_by}
    )
    if new and supervised_by is not None:
        JobDone.objects.get_or_create(key=f"{key[:108]}:answerable", defaults=fields | {"person": supervised_by})
    return made


def tell_trigger(
    person: Person,
    kind: str,
    *,
    skill_code: str,
    reason: str,
    by: Person,
    at: datetime,
    subject: str = "",
    key: str = "",
) -> Trigger:
    """Something happened that calls a person's skill into question: a finding, a failed check, a near miss.

    Who may say so was asked at the door of the act that found it. `kind` is one of `Trigger.Kind`; a finding, a near
    miss and the second failed check in 90 days suspend at once, the others ask for a refresher.
    """
    key = key or f"{kind}:{person.pk}:{skill_code}:{at.isoformat()}:{subject}"
    return note_trigger(
        person, skill_code, kind, reason=reason, by=by, at=at, subject=subject, key=key[:120], suspends=None
    )
