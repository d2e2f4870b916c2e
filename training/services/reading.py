"""Read and understood: a person says so of one version of a module."""

from datetime import datetime

from django.db import transaction

from plant.audit.services import Confirmation, record, sign
from plant.errors import Conflict, Refused
from plant.people.models import Person
from training.models import ModuleVersion, Reading
from training.queries_modules import current_version

STREAM = "training"
MEANING = "read and understood"


@transaction.atomic
def read_module(
    version: ModuleVersion,
    *,
    opened_at: datetime,
    by: Person,
    at: datetime,
    confirmation: Confirmation | None = None,
) -> Reading:
    """The person read this version. Said twice, it stands once."""
    by = Person.objects.select_for_update().get(pk=by.pk)
    if not by.active_at(at):
        raise Refused("not-active", f"{by.name} has no access now. Ask the system keeper.")
    now = current_version(version.module, version.lang)
    if now is None or now.number != version.number:
        sentence = "The module has a newer version since you opened it. Read that one; the page shows what changed."
        raise Conflict("newer-version", sentence)
    before = Reading.objects.filter(person=by, version=version).first()
    if before is not None:
        return before
    if version.needs_signature and (confirmation is None or confirmation.person.pk != by.pk):
        raise Refused("sign-it", "This module is signed: type your own password under the text.", field="secret")
    signature = None
    content = {"module": version.module.number, "version": version.number, "lang": version.lang, "text": version.digest}
    if confirmation is not None:
        signature = sign(confirmation, meaning=MEANING, subject=version, content=content)
    reading = Reading.objects.create(
        person=by, version=version, opened_at=min(opened_at, at), at=at, signature=signature
    )
    record(
        stream=STREAM,
        action="read-module",
        subject=version,
        sentence=f"{by.name} read and understood module {version.module.number}, {version.title}, "
        f"version {version.number}",
        by=by,
        at=at,
        facts=content | ({"signature": signature.digest} if signature else {}),
    )
    return reading
