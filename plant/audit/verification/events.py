"""Events against their chain: hash, link, number, and the columns that repeat the body."""

import json
from collections.abc import Iterator
from datetime import datetime
from typing import Any, NamedTuple

from django.db import connection
from django.db.models import F, Max, TextField, Value
from django.db.models.expressions import Combinable
from django.db.models.functions import Cast

from plant.audit.canonical import ZERO, chained, plain
from plant.audit.models import Event, StreamHead
from plant.audit.verification.registry import Misfit

COLUMNS = (
    "stream",
    "seq",
    "at",
    "actor__staff_no",
    "action",
    "subject_type",
    "subject_id",
    "sentence",
    "reason",
    "body",
    "previous_hash",
    "hash",
)
CHUNK = 2000


class Row(NamedTuple):
    """An event as it is stored."""

    stream: str
    seq: int
    at: datetime
    actor: str | None
    action: str
    subject_type: str
    subject_id: str
    sentence: str
    reason: str
    body: str
    previous_hash: str
    hash: str
    written_at: str


class Place(NamedTuple):
    """Where a chain stands: the next event follows this one."""

    seq: int
    hash: str


START = Place(0, ZERO)


def as_written(field: str) -> Combinable:
    """A time as its column holds it. SQLite keeps text, of which several mean one moment; only one was written."""
    return Cast(F(field), TextField()) if connection.vendor == "sqlite" else Value("")


def spelling_changed(moment: datetime, written: str) -> bool:
    """Whether the text of a time was changed without changing its moment."""
    return bool(written) and written != connection.ops.adapt_datetimefield_value(moment)


def misfit_of(row: Row, before: Place) -> Misfit | None:
    """Why an event does not follow the one before, or does not say what was hashed."""

    def says(sentence: str) -> Misfit:
        return Misfit(f"{row.stream} {row.seq}", sentence, row.stream, row.seq)

    if row.seq != before.seq + 1:
        return says(f"event {before.seq + 1} is missing before it")
    if row.previous_hash != before.hash:
        return says("it does not follow the event before it (other link)")
    try:
        link = chained(row.previous_hash, row.body.encode())
    except (ValueError, AttributeError):
        return says("it cannot be read")
    if link != row.hash:
        return says("its body does not give its hash: one of the two was changed")
    told = _told(row.body)
    if told is None:
        return says("its body is no event")
    for name, value in _repeated(row).items():
        if told.get(name) != value:
            return says(f"its column {name} differs from the body that was hashed")
    if spelling_changed(row.at, row.written_at):
        return says("its column at is not written as this program writes it")
    return None


def _told(body: str) -> dict[str, Any] | None:
    try:
        told = json.loads(body)
    except ValueError:
        return None
    return told if isinstance(told, dict) else None


def _repeated(row: Row) -> dict[str, Any]:
    return {
        "stream": row.stream,
        "seq": row.seq,
        "at": plain(row.at),
        "actor": row.actor,
        "action": row.action,
        "subject": [row.subject_type, row.subject_id],
        "sentence": row.sentence,
        "reason": row.reason,
    }


def rows_of(stream: str, first: int, last: int) -> Iterator[Row | Misfit]:
    """The stored events of a stretch of a stream, in order. One that the database cannot give is a misfit itself."""
    for start in range(first, last + 1, CHUNK):
        stop = min(start + CHUNK - 1, last)
        try:
            yield from _read(stream, start, stop)
        except Exception:  # a changed byte may make a text or a time unreadable for the driver
            yield from _read_singly(stream, start, stop)


def _read(stream: str, start: int, stop: int) -> list[Row]:
    found = Event.objects.filter(stream=stream, seq__gte=start, seq__lte=stop).order_by("seq")
    return [Row(*values) for values in found.values_list(*COLUMNS, as_written("at"))]


def _read_singly(stream: str, start: int, stop: int) -> Iterator[Row | Misfit]:
    for seq in range(start, stop + 1):
        try:
            yield from _read(stream, seq, seq)
        except Exception:
            yield Misfit(f"{stream} {seq}", "it cannot be read: a text or a time in it is broken", stream, seq)


def misfits_in(stream: str, after: Place, last: int, head: Place | None) -> Iterator[Misfit]:
    """Every event of a stretch that does not fit, then whether the stream ends where its head says.

    After a misfit the chain goes on from what stands there, so that one change is named once.
    """
    place = after
    for row in rows_of(stream, after.seq + 1, last):
        if isinstance(row, Misfit):
            yield row
            place = Place(row.seq, "")
            continue
        known = place if place.hash else Place(place.seq, row.previous_hash)
        misfit = misfit_of(row, known)
        if misfit:
            yield misfit
        place = Place(row.seq, row.hash)
    if head is None:
        yield Misfit(f"{stream} {place.seq}", "the stream has events but no head", stream, place.seq)
    elif place.seq != head.seq:
        sentence = f"the stream ends at event {place.seq}, its head says {head.seq}"
        yield Misfit(f"{stream} {min(place.seq, head.seq) + 1}", sentence, stream, min(place.seq, head.seq) + 1)
    elif place.hash and place.hash != head.hash:
        yield Misfit(f"{stream} {head.seq}", "the last event is not the one that the head names", stream, head.seq)


def heads() -> dict[str, Place]:
    """Where every stream ends by its head."""
    rows = StreamHead.objects.values_list("stream", "seq", "hash")
    return {stream: Place(seq, link) for stream, seq, link in rows}


def ends() -> dict[str, int]:
    """The last number of every stream by its events."""
    return dict(Event.objects.values("stream").annotate(last=Max("seq")).values_list("stream", "last"))
