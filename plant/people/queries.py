"""Reads about persons."""

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime

from django.db.models import Q, QuerySet

from plant.audit.models import Event
from plant.people.models import AccessReview, Badge, Person, Role, RoleGrant


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


def grants_of(person: Person, at: datetime) -> list[RoleGrant]:
    """The roles a person holds, with who granted them and when."""
    return list(RoleGrant.objects.filter(_held(at), person=person).select_related("granted_by").order_by("role"))


def badges_of(person: Person) -> list[Badge]:
    """All badges a person ever had, the newest first."""
    return list(Badge.objects.filter(person=person).select_related("issued_by").order_by("-issued_at"))


def badge_in_use(person: Person, at: datetime) -> Badge | None:
    """The badge that works now."""
    return Badge.objects.filter(Q(ended_at=None) | Q(ended_at__gt=at), person=person).first()


def events_around(person: Person) -> QuerySet[Event]:
    """What the audit trail says of a person and of what he or she did, the newest first."""
    about = Q(subject_type="person", subject_id=str(person.pk))
    return Event.objects.filter(about | Q(actor=person)).select_related("actor").order_by("-at", "-pk")


def needs_voucher(person: Person) -> bool:
    """Whether somebody must confirm who it is that uses a starter code: as soon as anybody else ever signed in.

    A code from the command line has no issuer; the trail says where it came from.
    """
    if not person.must_choose_secret or person.starter_by_id is None:
        return False
    others = Person.objects.exclude(pk__in=[person.pk, person.starter_by_id])
    return others.filter(last_login__isnull=False).exclude(role_grants__role=Role.GUEST).exists()


def may_vouch(voucher: Person, person: Person, at: datetime) -> bool:
    """Anybody of the plant with an own password, but not the person and not who issued the code."""
    outsider = not roles_of(voucher, at) - {Role.GUEST}
    return not outsider and not voucher.must_choose_secret and voucher.pk not in (person.pk, person.starter_by_id)


@dataclass(frozen=True)
class Access:
    """A person with the roles held, as the list of people and the review of access show it."""

    person: Person
    roles: list[str]
    active: bool

    @property
    def role_words(self) -> str:
        """The roles as printed."""
        return ", ".join(role_words(self.roles)) or "no role"


def access_list(at: datetime, *, everybody: bool = False, search: str = "") -> list[Access]:
    """Persons with their roles, by name; `everybody` also those who left or have not come yet."""
    found = Person.objects.all() if everybody else active_people(at)
    if search:
        found = found.filter(Q(name__icontains=search) | Q(staff_no__icontains=search))
    held = roles_by_person(at)
    return [
        Access(person, held.get(person.pk, []) if person.active_at(at) else [], person.active_at(at))
        for person in found.order_by("name", "pk")
    ]


def reviews() -> QuerySet[AccessReview]:
    """The reviews of access, the newest first."""
    return AccessReview.objects.select_related("reviewer", "signature").order_by("-at", "-pk")
