"""Writing an event: inside the transaction of the act it tells of."""

from datetime import datetime
from typing import Any

from django.db import connection, models

from plant.audit.canonical import ZERO, canonical, chained, plain
from plant.audit.models import Event, StreamHead


def name_of(subject: models.Model | None) -> tuple[str, str]:
    """A record's kind and id as the trail keeps them; empty where an act is about no record."""
    if subject is None:
        return "", ""
    return subject._meta.model_name or "", str(subject.pk)


def record(
    *,
    stream: str,
    action: str,
    subject: models.Model | None,
    sentence: str,
    by: Any,
    at: datetime,
    facts: dict[str, Any] | None = None,
    reason: str = "",
) -> Event:
    """Append one event to a stream.

    Parameters
    ----------
    stream : what must stay in one order: `people`, `line:A`, `roller:<serial>`, `recipes` ...
    action : verb and noun, `sign-recipe`.
    sentence : what a person reads in the trail.
    by : the person who did it; None for the clock. This layer lies below people and only knows the staff number.
    facts : old and new values, digests of signatures, whatever proves the act.

    Raises
    ------
    RuntimeError
        Outside a transaction: an act and its event are written together or not at all.
    """
    if not connection.in_atomic_block:
        raise RuntimeError("record() belongs inside the transaction of the act")
    locked = StreamHead.objects.select_for_update()
    head = locked.filter(stream=stream).first()
    if head is None:
        StreamHead.objects.get_or_create(stream=stream, defaults={"hash": ZERO})
        head = locked.get(stream=stream)
    kind, key = name_of(subject)
    body = canonical(
        {
            "stream": stream,
            "seq": head.seq + 1,
            "at": at,
            "actor": by.staff_no if by is not None else None,
            "action": action,
            "subject": [kind, key],
            "sentence": sentence,
            "reason": reason,
            "facts": plain(facts or {}),
        }
    )
    event = Event.objects.create(
        stream=stream,
        seq=head.seq + 1,
        at=at,
        actor=by,
        action=action,
        subject_type=kind,
        subject_id=key,
        sentence=sentence,
        reason=reason,
        body=body.decode(),
        previous_hash=head.hash,
        hash=chained(head.hash, body),
    )
    head.seq, head.hash = event.seq, event.hash
    head.save(update_fields=["seq", "hash"])
    return event
