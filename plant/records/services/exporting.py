"""Taking parts of the trail away: each is an act and stands in the trail."""

import json
from datetime import UTC, datetime

from django.db import transaction

from plant.audit.models import Event
from plant.audit.proofs import as_file, proof_of
from plant.audit.services import record
from plant.audit.verification.roots import as_line, stored_roots
from plant.errors import Refused
from plant.floor.queries import local, plant_zone, the_plant
from plant.people.access import require_role
from plant.people.models import Person
from plant.records import access
from plant.records.queries import Filter, filtered
from plant.web.csvfile import csv_text

STREAM = "exports"
MOST_ROWS = 100_000
HEADS = (
    "at (UTC)",
    "at (plant time)",
    "staff number",
    "name",
    "action",
    "record",
    "record id",
    "what",
    "reason",
    "stream",
    "number",
    "hash",
    "canonical JSON",
)


def _row(event: Event) -> list[object]:
    actor = event.actor
    return [
        event.at.astimezone(UTC).isoformat(timespec="microseconds"),
        local(event.at).isoformat(timespec="seconds"),
        actor.staff_no if actor else "",
        actor.name if actor else "",
        event.action,
        event.subject_type,
        event.subject_id,
        event.sentence,
        event.reason,
        event.stream,
        event.seq,
        event.hash,
        event.body,
    ]


@transaction.atomic
def export_trail(wanted: Filter, *, by: Person, at: datetime) -> str:
    """The events that fit a filter as CSV, with filter, time, person and row count on top."""
    require_role(by, *access.EXPORTERS, at=at, act="Exporting the audit trail")
    found = filtered(access.trail(by, at), wanted, plant_zone())
    count = found.count()
    if count > MOST_ROWS:
        sentence = f"{count} events fit; {MOST_ROWS} are the most for one file. Take a shorter time, and export twice."
        raise Refused("too-many", sentence)
    plant = the_plant()
    about = [
        "Bandkeeper: audit trail",
        f"plant: {plant.name}",
        f"filter: {wanted.as_text()}",
        f"written: {local(at).isoformat(timespec='seconds')}",
        f"by: {by.name} ({by.staff_no})",
        f"rows: {count}",
    ]
    text = csv_text(about, HEADS, (_row(event) for event in found))
    sentence = f"{by.name} exported {count} events of the trail, filter {wanted.as_text()}"
    facts = {"filter": wanted.as_text(), "rows": count}
    record(stream=STREAM, action="export-trail", subject=plant, sentence=sentence, by=by, at=at, facts=facts)
    return text


@transaction.atomic
def export_proof(event: Event, *, by: Person, at: datetime) -> bytes:
    """The proof file of one event."""
    require_role(by, *access.EXPORTERS, at=at, act="Taking a proof of an event")
    file = as_file(proof_of(event))
    sentence = f"{by.name} took the proof of {event.stream} {event.seq}"
    record(stream=STREAM, action="export-proof", subject=event, sentence=sentence, by=by, at=at)
    return file


@transaction.atomic
def export_roots(*, by: Person, at: datetime) -> str:
    """All daily roots as JSON lines, to be kept elsewhere."""
    require_role(by, *access.EXPORTERS, at=at, act="Taking the daily roots")
    lines = [json.dumps(as_line(rooted), ensure_ascii=False) for rooted in stored_roots()]
    sentence = f"{by.name} took {len(lines)} daily roots to keep them elsewhere"
    record(stream=STREAM, action="export-roots", subject=the_plant(), sentence=sentence, by=by, at=at)
    return "".join(f"{line}\n" for line in lines)
