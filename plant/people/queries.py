"""Reads about persons."""

from collections import defaultdict
from collections.abc import Iterable
from datetime import datetime

from django.db.models import Q, QuerySet

from plant.people.models import Person, Role, RoleGrant


def _held(at: datetime) -> Q:
    return Q(granted_at__lte=at) & (Q(ended_at=None) | Q(ended_at__gt=at))


def roles_of(person: Person, at: datetime) -> frozenset[str]:
    """The roles a person holds at a moment; none before joining and after leaving."""
    if not person.active_at(at):
        return frozenset()
    return frozenset(RoleGrant.objects.filter(_held(at), person=person).values_list("role", flat=True))


def role_words(roles: Iterable[str]) -> tuple[str, ...]:
    """Roles as printed."""
    return tuple(sorted(Role(role).label for role in roles))


def active_people(at: datetime) -> QuerySet[Person]:
    """Persons who belong to the plant at a moment."""
    return Person.objects.filter(Q(active_from__lte=at) & (Q(active_to=None) | Q(active_to__gt=at)))


def people_with_role(*roles: str, at: datetime) -> QuerySet[Person]:
    """Active persons who hold one of the roles."""
    holders = RoleGrant.objects.filter(_held(at), role__in=roles).values("person")
    return active_people(at).filter(pk__in=holders)


def roles_by_person(at: datetime) -> dict[int, list[str]]:
    """Every active grant, by person."""
    found: dict[int, list[str]] = defaultdict(list)
    for grant in RoleGrant.objects.filter(_held(at)).order_by("role"):
        found[grant.person_id].append(grant.role)
    return dict(found)
