"""Photographs and other attached files: each lies there with the bytes that were recorded."""

import hashlib
import json
from collections.abc import Iterator
from pathlib import Path
from typing import Any

from plant.audit.models import Attachment, Event
from plant.audit.services.attaching import file_of
from plant.audit.verification.registry import Misfit, verifier


def digest_of(path: Path) -> str:
    """SHA-256 of a file, read in pieces."""
    with path.open("rb") as file:
        return hashlib.file_digest(file, "sha256").hexdigest()


def misfit_of_file(where: str, path: Path, digest: str) -> Misfit | None:
    """Why a stored file is not the one that was recorded."""
    if not path.is_file():
        return Misfit(where, "its file is gone")
    if digest_of(path) != digest:
        return Misfit(where, "its file was changed: the bytes do not give the recorded digest")
    return None


def facts_by_subject(kind: str, action: str) -> dict[str, dict[str, Any]]:
    """What the events of an action say, by the record they are about; the newest where there are more."""
    rows = Event.objects.filter(subject_type=kind, action=action).order_by("pk")
    told = {}
    for key, body in rows.values_list("subject_id", "body").iterator():
        try:
            told[key] = json.loads(body)["facts"]
        except (ValueError, KeyError):
            continue  # the event itself is named by the check of the chains
    return told


def misfit_of_attachment(row: Attachment, told: dict[str, Any] | None) -> Misfit | None:
    """Why an attachment is not the one that was recorded."""
    where = f"attachment {row.pk}"
    if told is None:
        return Misfit(where, "no event tells of it")
    here = {"digest": row.digest, "size": row.size, "type": row.media_type, "name": row.name, "purpose": row.purpose}
    for name, value in here.items():
        if name in told and told[name] != value:
            return Misfit(where, f"its {name} differs from what was recorded")
    return misfit_of_file(where, file_of(row), row.digest)


@verifier("attachments")
def attachments() -> Iterator[Misfit]:
    """Every attachment, then those that were recorded and are gone."""
    told, seen = facts_by_subject("attachment", "attach"), set()
    for row in Attachment.objects.order_by("pk").iterator():
        seen.add(str(row.pk))
        misfit = misfit_of_attachment(row, told.get(str(row.pk)))
        if misfit:
            yield misfit
    for key in sorted(set(told) - seen, key=int):
        yield Misfit(f"attachment {key}", "it was recorded and is gone")
