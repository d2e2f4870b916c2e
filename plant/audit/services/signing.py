"""Putting a signature on content."""

import hashlib
from dataclasses import dataclass
from datetime import datetime
from typing import Any
from zoneinfo import ZoneInfo

from django.db import models

from plant.audit.canonical import canonical
from plant.audit.models import Signature
from plant.audit.services.recording import name_of
from plant.errors import Refused


@dataclass(frozen=True)
class Confirmation:
    """Proof that a person typed the own secret again just now (made by `plant.people` only)."""

    person: Any
    roles: tuple[str, ...]
    at: datetime
    method: str
    time_zone: str


def sign(confirmation: Confirmation, *, meaning: str, subject: models.Model, content: dict[str, Any]) -> Signature:
    """Bind a confirmed person, a meaning and a time to the digest of exactly this content."""
    person = confirmation.person
    if not confirmation.roles:
        raise Refused("no-role", f"{person.name} has no role here and cannot sign. Ask the system keeper for a role.")
    body = canonical(content)
    kind, key = name_of(subject)
    local = confirmation.at.astimezone(ZoneInfo(confirmation.time_zone))
    return Signature.objects.create(
        person=person,
        printed_name=person.name,
        roles_then=", ".join(confirmation.roles),
        meaning=meaning,
        at=confirmation.at,
        local_time=local.isoformat(sep=" ", timespec="seconds"),
        method=confirmation.method,
        subject_type=kind,
        subject_id=key,
        content=body.decode(),
        digest=hashlib.sha256(body).hexdigest(),
    )


def stands_for(signature: Signature, content: dict[str, Any]) -> bool:
    """Whether the signature is for this version of the content; otherwise it reads *not for this version*."""
    return hashlib.sha256(canonical(content)).hexdigest() == signature.digest
