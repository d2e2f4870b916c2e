"""The doors: who may do what, by role."""

from datetime import datetime

from plant.errors import Forbidden, NotFound
from plant.people.models import Person, Role
from plant.people.queries import people_with_role, roles_of


def names_of(people: list[Person], most: int = 4) -> str:
    """Names in a sentence, at most so many."""
    names = [person.name for person in people[:most]]
    return ", ".join(names) + (f" and {len(people) - most} more" if len(people) > most else "")


def require_role(person: Person, *roles: str, at: datetime, act: str) -> None:
    """Let pass who holds one of the roles.

    Raises
    ------
    Forbidden
        Naming the roles that may, and persons who hold them.
    """
    if roles_of(person, at) & set(roles):
        return
    needed = " or ".join(Role(role).label for role in roles)
    others = [other for other in people_with_role(*roles, at=at) if other.pk != person.pk]
    who = f" {names_of(others)} can." if others else " Nobody holds that role yet: ask the system keeper."
    raise Forbidden("wrong-role", f"{act} takes the role {needed}; {person.name} does not hold it.{who}")


def person_by_id(key: int) -> Person:
    """One person, by the key that stands in addresses (a staff number may hold any character)."""
    person = Person.objects.filter(pk=key).first()
    if person is None:
        raise NotFound("person", str(key), "Choose from the list of people.")
    return person


def require_insider(person: Person, *, at: datetime) -> None:
    """Let pass everybody but guests: names, roles and certificates of persons are no matter for outsiders."""
    if roles_of(person, at) - {Role.GUEST}:
        return
    sentence = "A guest's access shows no list of people. Ask the shift supervisor whom you look for."
    raise Forbidden("guest", sentence)


def may_read_trail(reader: Person, about: Person, *, at: datetime) -> bool:
    """Whether a person may read the audit trail of another: the overseers may, and everybody the own."""
    return reader.pk == about.pk or bool(roles_of(reader, at) & {Role.KEEPER, Role.QA, Role.MANAGER})


def person_by_number(staff_no: str) -> Person:
    """One person, by staff number."""
    person = Person.objects.filter(staff_no__iexact=staff_no.strip()).first()
    if person is None:
        raise NotFound("person with staff number", staff_no, "Check the number, or ask the system keeper.")
    return person
