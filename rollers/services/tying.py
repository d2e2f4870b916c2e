"""A finding is tied to a person: QA says whose work it was, and training asks for more than a refresher."""

from datetime import datetime

from django.db import transaction

from plant.errors import Refused
from plant.people.access import require_role
from plant.people.models import Person, Role
from rollers.models import Deviation
from training.models import Trigger
from training.services.telling import tell_trigger

SKILLS = ("apply", "check", "size")
HEAVY = (Deviation.Severity.MAJOR, Deviation.Severity.CRITICAL)


@transaction.atomic
def tie_to_person(
    deviation: Deviation, person: Person, skill_code: str, *, reason: str, by: Person, at: datetime
) -> Trigger:
    """Say that a major or critical deviation came of how this person did the work; the certificate stops at once.

    Never done by the program alone: a missing piece or a check that let a fault pass has more than one possible
    cause, and a wrong guess teaches people not to report. Several persons may be named, one act each.
    """
    require_role(by, Role.QA, at=at, act="Tying a finding to a person")
    deviation = Deviation.objects.select_for_update().get(pk=deviation.pk)
    if deviation.severity not in HEAVY:
        sentence = "Only a major or critical deviation is tied to a person. A trainer asks for a refresher directly."
        raise Refused("too-light", sentence)
    if person.pk == by.pk:
        raise Refused("same-person", "It is about you: somebody else of QA says so.", field="person")
    if skill_code not in SKILLS:
        raise Refused("skill", f"Choose the work it was: {', '.join(SKILLS)}.", field="skill")
    if deviation.person_id is None and deviation.closed_at is None:
        deviation.person = person
        deviation.save(update_fields=["person"])
    return tell_trigger(
        person,
        Trigger.Kind.FINDING,
        skill_code=skill_code,
        reason=reason,
        by=by,
        at=at,
        subject=deviation.sentence[:160],
        key=f"deviation:{deviation.pk}:{person.pk}:{skill_code}",
    )
