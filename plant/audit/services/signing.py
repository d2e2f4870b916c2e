"""Putting a signature on content."""

import hashlib
from dataclasses import dataclass
from datetime import datetime
from typing import Any
from zoneinfo import ZoneInfo

from django.db import models

from plant.audit.canonical import canonical
from plant.audit.models import Signature
from plant.audit.services.recording import name_of, record
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
    """Bind a confirmed person, a meaning and a time to the digest of exactly this content.

    The signature itself goes into a chain of its signer, so that no name, role, time or meaning can be changed later
    and no signature be taken away or put in (21 CFR 11.70); signers do not wait for one another.
    """
    longest = Signature._meta.get_field("meaning").max_length or 0
    if len(meaning) > longest:  # SQLite would keep it, PostgreSQL refuse it
        raise ValueError(f"a meaning has at most {longest} characters: {meaning!r}")
    person = confirmation.person
    if not confirmation.roles:
        raise Refused("no-role", f"{person.name} has no role here and cannot sign. Ask the system keeper for a role.")
    body = canonical(content)
    kind, key = name_of(subject)
    local = confirmation.at.astimezone(ZoneInfo(confirmation.time_zone))
    signature = Signature.objects.create(
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
    record(
        stream=stream_of(person.staff_no),
        action="sign",
        subject=subject,
        sentence=f"{person.name} signed: {meaning}",
        by=person,
        at=confirmation.at,
        facts=sealed(signature, person.staff_no),
    )
    return signature


def stream_of(staff_no: str) -> str:
    """The chain of a person's signatures."""
    return f"signatures:{staff_no}"


def sealed(signature: Any, staff_no: str) -> dict[str, Any]:
    """What the chain keeps of a signature: all but the content, for which the digest stands."""
    return {
        "signature": signature.pk,
        "person": staff_no,
        "printed_name": signature.printed_name,
        "roles": signature.roles_then,
        "meaning": signature.meaning,
        "at": signature.at,
        "local_time": signature.local_time,
        "method": signature.method,
        "of": [signature.subject_type, signature.subject_id],
        "digest": signature.digest,
    }


def as_shown(signature: Signature, content: dict[str, Any] | None = None) -> dict[str, Any]:
    """A signature as every screen, print, export and answer of the API has it (21 CFR 11.50).

    With the content as it is now, it says whether the signature stands for it.
    """
    return {
        "printed_name": signature.printed_name,
        "role": signature.roles_then,
        "meaning": signature.meaning,
        "signed_at": signature.signed_at,
        "method": signature.get_method_display(),
        "digest": signature.digest,
        "is_for_this_version": None if content is None else stands_for(signature, content),
    }


def stands_for(signature: Signature, content: dict[str, Any]) -> bool:
    """Whether the signature is for this version of the content; otherwise it reads *not for this version*."""
    return hashlib.sha256(canonical(content)).hexdigest() == signature.digest
