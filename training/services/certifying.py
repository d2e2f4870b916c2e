"""From a complete way to a certificate: the rows it stands on go with it."""

from datetime import datetime

from django.db import transaction

from plant.audit.services import Confirmation
from plant.errors import Refused
from plant.floor.queries import plant_date
from plant.people.models import Person
from training.models import Certificate, Skill
from training.paths import grounds_of, path_of
from training.rules_due import Tier
from training.rules_paths import Part, Way
from training.services.certificates import issue_certificate

WORDS = {
    Part.MODULES: "modules read",
    Part.CLASS: "class attended",
    Part.PRACTICE: "practice signed",
    Part.TEST: "test passed",
    Part.PRACTICAL: "practical passed",
    Part.JOINT: "joint markings",
}


def evidence_of(way: Way) -> str:
    """What the certificate says it stands on."""
    said = []
    for part, words in WORDS.items():
        rows = [demand for demand in way.demands if demand.part == part]
        keys = ", ".join(str(key) for demand in rows for key in demand.keys)
        if rows:
            said.append(f"{words} (no. {keys})" if keys else words)
    how = {None: "first certificate", Tier.IN_TIME: "renewal in time", Tier.LATE: "renewal after a lapse"}
    return f"{how.get(way.tier, 'full course again')}: {', '.join(said)}"[:300]


@transaction.atomic
def certify(person: Person, skill: Skill, *, confirmation: Confirmation) -> Certificate:
    """Issue the certificate that a complete way has earned.

    Raises
    ------
    Refused
        With every part that is missing, each on a line of its own.
    """
    at: datetime = confirmation.at
    person = Person.objects.select_for_update().get(pk=person.pk)
    way = path_of(person, skill, at).way
    if not way.complete:
        lines = [f"{demand.what}: {demand.have} of {demand.asked}. {demand.next_step}" for demand in way.missing]
        sentence = (
            f"{person.name} has not done all that {skill.name} asks for. The page of the path shows what is next."
        )
        raise Refused("incomplete", sentence, details=lines)
    today = plant_date(at)
    return issue_certificate(
        person,
        skill.code,
        valid_from=today,
        evidence=evidence_of(way),
        confirmation=confirmation,
        completed_on=min(way.completed_on or today, today),
        grounds=grounds_of(way),
    )
