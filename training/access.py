"""The doors: whose certificates let pass, and who may see and change certificates."""

from datetime import datetime

from plant.errors import Forbidden, NotFound
from plant.people.models import Person
from training.models import Certificate, Due, Skill, SkillProposal, Trigger
from training.queries import Standing, standing, with_acts
from training.supervised import supervised_standing


def require_skill(
    person: Person,
    skill_code: str,
    room_kind: str,
    at: datetime,
    act: str,
    *,
    hot: bool = False,
    started_at: datetime | None = None,
) -> Standing:
    """Let pass who is certified for the skill in a room of this kind, at the moment the step begins.

    When the step is finished, name its beginning in `started_at`: who was certified then may finish it although
    the certificate has ended since. The standing's `exception` is then a sentence to be noted.

    Raises
    ------
    Forbidden
        With the code of the standing; the sentence says why and who on this shift can.
    """
    found = standing(person, skill_code, room_kind, at, hot=hot, started_at=started_at)
    if found.ok:
        return found
    raise Forbidden(found.code, f"{act} is refused. {found.sentence}")


def require_supervised(
    trainee: Person, certified: Person, skill_code: str, room_kind: str, at: datetime, act: str, *, hot: bool = False
) -> Standing:
    """Let pass a trainee who works beside a certified person; that person signs in the same job and answers for it."""
    found = supervised_standing(trainee, certified, skill_code, room_kind, at, hot=hot)
    if found.ok:
        return found
    raise Forbidden(found.code, f"{act} is refused. {found.sentence}")


def certificate_by_id(key: int) -> Certificate:
    """One certificate, with its person, its skill and what was done to it."""
    found = with_acts().select_related("person").filter(pk=key).first()
    if found is None:
        raise NotFound("certificate", str(key), "Choose from the page of the person.")
    return found


def due_by_id(key: int) -> Due:
    """One due, with its person and skill."""
    found = Due.objects.select_related("person", "skill").filter(pk=key).first()
    if found is None:
        raise NotFound("due", str(key), "Choose from the due wall.")
    return found


def trigger_by_id(key: int) -> Trigger:
    """One event that calls a skill into question."""
    found = Trigger.objects.select_related("person", "skill", "by").filter(pk=key).first()
    if found is None:
        raise NotFound("refresher", str(key), "Choose from the page of the person.")
    return found


def skill_by_code(code: str) -> Skill:
    """One skill."""
    found = Skill.objects.filter(code=code).first()
    if found is None:
        raise NotFound("skill", code, "Choose from the page of skills.")
    return found


def proposal_by_id(key: int) -> SkillProposal:
    """One proposal for the figures of a skill."""
    found = SkillProposal.objects.select_related("skill", "proposed_by", "answered_by").filter(pk=key).first()
    if found is None:
        raise NotFound("proposal", str(key), "Choose from the page of skills.")
    return found
