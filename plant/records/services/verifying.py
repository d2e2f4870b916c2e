"""Verification as work that is done in the background, and whose outcome stands in the trail."""

from datetime import datetime

from django.db import transaction

from plant.audit.services import record
from plant.audit.verification.whole import Verified, verify
from plant.floor.models import Plant
from plant.jobs.models import Job
from plant.jobs.running import enqueue
from plant.people.access import require_role
from plant.people.models import Person
from plant.records.access import EXPORTERS

WORK = "verify records"
MOST_NAMED = 20


def verify_and_record(*, by: Person | None, at: datetime) -> Verified:
    """Verify everything, and write down what was found."""
    found = verify()
    plant = Plant.objects.first()
    if plant is None:
        return found
    named = [str(misfit) for misfit in found.first_of_each()[:MOST_NAMED]]
    facts = {
        "holds": found.holds,
        "events": found.events,
        "streams": found.streams,
        "roots": found.roots,
        "last_root": found.last_root,
        "misfits": len(found.misfits),
        "named": named,
    }
    said = "everything stands as it was written" if found.holds else f"{len(found.misfits)} things do not fit"
    with transaction.atomic():
        sentence = f"{found.events} events verified: {said}"
        record(
            stream="verification",
            action="verify-records",
            subject=plant,
            sentence=sentence,
            by=by,
            at=at,
            facts=facts,
        )
    return found


@transaction.atomic
def ask_verification(*, by: Person, at: datetime) -> Job:
    """Queue a verification now."""
    require_role(by, *EXPORTERS, at=at, act="Having the records verified")
    return enqueue(WORK, f"verify:{at.isoformat()}", at, person=by.pk)
