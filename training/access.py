"""The doors: whose certificates let pass, and who may see and change certificates."""

from datetime import datetime

from plant.errors import Forbidden, NotFound
from plant.people.models import Person
from training.models import Certificate
from training.queries import Standing, standing, with_acts


def require_skill(
    person: Person, skill_code: str, room_kind: str, at: datetime, act: str, *, hot: bool = False
) -> Standing:
    """Let pass who is certified for the skill in a room of this kind, at the moment the step begins.

    Raises
    ------
    Forbidden
        With the code of the standing; the sentence says why and who on this shift can.
    """
    found = standing(person, skill_code, room_kind, at, hot=hot)
    if found.ok:
        return found
    raise Forbidden(found.code, f"{act} is refused. {found.sentence}")


def certificate_by_id(key: int) -> Certificate:
    """One certificate, with its person, its skill and what was done to it."""
    found = with_acts().select_related("person").filter(pk=key).first()
    if found is None:
        raise NotFound("certificate", str(key), "Choose from the page of the person.")
    return found
