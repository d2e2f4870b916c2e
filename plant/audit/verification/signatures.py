"""Signatures: each stands in the chain of its signer, and its content gives its digest."""

import hashlib
import json
from collections.abc import Iterator
from typing import Any

from django.db.models import QuerySet

from plant.audit.canonical import plain
from plant.audit.models import Event, Signature
from plant.audit.services.signing import sealed
from plant.audit.verification.events import as_written, spelling_changed
from plant.audit.verification.registry import Misfit, verifier

CHAINED = ("sign", "adopt-signature")


def told_by_chain(pk: int | None = None) -> dict[int, dict[str, Any]]:
    """What the chains say of signatures, by number."""
    rows = Event.objects.filter(stream__startswith="signatures:", action__in=CHAINED)
    if pk is not None:
        rows = rows.filter(body__contains=f'"signature":{pk}')
    told = {}
    for body in rows.values_list("body", flat=True).iterator():
        try:
            facts = json.loads(body)["facts"]
            told[int(facts["signature"])] = facts
        except (ValueError, KeyError, TypeError):
            continue  # the event itself is named by the check of the chains
    return told


def misfit_of(signature: Signature, told: dict[str, Any] | None) -> Misfit | None:
    """Why a stored signature is not the one that was given."""
    where = f"signature {signature.pk}"
    if told is None:
        return Misfit(where, "no chain tells of it: it was put in, or its number was changed")
    if hashlib.sha256(signature.content.encode()).hexdigest() != signature.digest:
        return Misfit(where, "its content does not give its digest: one of the two was changed")
    for name, value in plain(sealed(signature, signature.person.staff_no)).items():
        if told.get(name) != value:
            return Misfit(where, f"its {name} differs from what was signed")
    if spelling_changed(signature.at, signature.written_at):  # type: ignore[attr-defined]
        return Misfit(where, "its at is not written as this program writes it")
    return None


def _stored() -> QuerySet[Signature]:
    return Signature.objects.select_related("person").annotate(written_at=as_written("at"))


def _signatures(keys: list[int]) -> Iterator[Signature | Misfit]:
    for key in keys:
        try:
            yield _stored().get(pk=key)
        except Exception:  # a changed byte may make a text or a time unreadable for the driver
            yield Misfit(f"signature {key}", "it cannot be read, or its person is not there")


def misfits_among(keys: list[int], told: dict[int, dict[str, Any]]) -> Iterator[Misfit]:
    """The signatures among these that do not fit."""
    try:
        found: list[Signature | Misfit] = list(_stored().filter(pk__in=keys))
        if len(found) < len(keys):
            raise LookupError
    except Exception:
        found = list(_signatures(keys))
    for each in found:
        misfit = each if isinstance(each, Misfit) else misfit_of(each, told.get(each.pk))
        if misfit:
            yield misfit


@verifier("signatures")
def signatures() -> Iterator[Misfit]:
    """Every signature, then those that a chain tells of and that are gone."""
    told = told_by_chain()
    keys = list(Signature.objects.order_by("pk").values_list("pk", flat=True))
    for start in range(0, len(keys), 500):
        yield from misfits_among(keys[start : start + 500], told)
    for pk in sorted(set(told) - set(keys)):
        yield Misfit(f"signature {pk}", f"{told[pk].get('printed_name')} gave it and it is gone")
