"""How many of many persons may do something: yes or no for everybody in a few queries, without sentences.

Says the same as `Register.allows` for each person; a test compares the two on random plants.
"""

from dataclasses import dataclass
from datetime import datetime

from django.db.models import Q, QuerySet

from plant.floor.queries import plant_zone
from plant.people.models import Person, Role
from plant.people.queries import people_with_role
from training.models import Certificate, CertificateAct, Skill
from training.standard_skills import HOT, IN_THE_ROOM, ROOM_ADD_ON


@dataclass(frozen=True)
class Tally:
    """Who holds which skill, together with what it is built on."""

    holders: dict[str, frozenset[int]]

    def able(self, skill_code: str, room_kind: str, *, hot: bool = False) -> frozenset[int]:
        """Keys of the persons who may do it."""
        asked = [skill_code]
        if skill_code in IN_THE_ROOM:
            asked += [ROOM_ADD_ON[room_kind]] if room_kind in ROOM_ADD_ON else []
            asked += [HOT] if hot else []
        return frozenset.intersection(*(self.holders[code] for code in asked))


def tally(persons: QuerySet[Person], at: datetime) -> Tally:
    """Read it for persons who belong to the plant at that moment."""
    today = at.astimezone(plant_zone()).date()
    present = frozenset(persons.exclude(employer=Person.Employer.OUTSIDE).values_list("pk", flat=True))
    present -= frozenset(people_with_role(Role.GUEST, at=at).values_list("pk", flat=True))
    running = Certificate.objects.filter(valid_to__gte=today)
    last: dict[int, tuple[int, int, str]] = {}
    acts = CertificateAct.objects.filter(certificate__in=running, at__lte=at).order_by("at", "pk")
    withdrawn = set()
    for key, person, skill, kind in acts.values_list(
        "certificate", "certificate__person", "certificate__skill", "kind"
    ):
        last[key] = (person, skill, kind)
        if kind == CertificateAct.Kind.WITHDRAWN:
            withdrawn.add(key)
    suspended = {
        (person, skill)
        for key, (person, skill, kind) in last.items()
        if kind == CertificateAct.Kind.SUSPENDED and key not in withdrawn
    }
    begun = running.filter(valid_from__lte=today).filter(Q(founding=True) | Q(issued_at__lte=at))
    pairs = begun.exclude(pk__in=withdrawn).values_list("person", "skill").distinct()
    valid: dict[int, set[int]] = {}
    for person, skill in pairs:
        if person in present and (person, skill) not in suspended:
            valid.setdefault(skill, set()).add(person)
    return Tally(_with_needs(valid))


def _with_needs(valid: dict[int, set[int]]) -> dict[str, frozenset[int]]:
    skills = {skill.pk: skill for skill in Skill.objects.prefetch_related("needs")}
    found: dict[int, frozenset[int]] = {}

    def of(key: int) -> frozenset[int]:
        if key not in found:
            own = frozenset(valid.get(key, ()))
            found[key] = own.intersection(*(of(need.pk) for need in skills[key].needs.all()))
        return found[key]

    return {skill.code: of(key) for key, skill in skills.items()}
