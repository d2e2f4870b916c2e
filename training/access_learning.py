"""The doors of learning: who may see whose answers, and the rows that addresses name."""

from datetime import datetime

from plant.errors import Forbidden, NotFound
from plant.people.access import names_of
from plant.people.models import Person, Role
from plant.people.queries import people_with_role, roles_of
from training.models import Assessment, Attempt, Module, Question, Session

# Scores and own answers: the person, the trainer and the assessor. Others see valid or not valid only.
SEE_SCORES = (Role.TRAINER, Role.ASSESSOR)


def may_see_scores(reader: Person, person: Person, at: datetime) -> bool:
    """Whether a reader may see how a person answered and was marked."""
    return reader.pk == person.pk or bool(roles_of(reader, at) & set(SEE_SCORES))


def require_scores(reader: Person, person: Person, at: datetime) -> None:
    """Let pass who may see how a person answered and was marked."""
    if may_see_scores(reader, person, at):
        return
    others = names_of(list(people_with_role(*SEE_SCORES, at=at))) or "a trainer, once there is one,"
    sentence = (
        f"What {person.name} answered is for {person.name}, the trainer and the assessor; "
        f"others see whether a certificate is valid. Ask {others}."
    )
    raise Forbidden("scores", sentence)


def module_by_number(number: int) -> Module:
    """One module."""
    found = Module.objects.filter(number=number).first()
    if found is None:
        raise NotFound("module", str(number), "Choose from the list of modules.")
    return found


def attempt_for(key: int, reader: Person, at: datetime) -> Attempt:
    """One attempt: the own while it is open, afterwards also for trainer and assessor."""
    found = Attempt.objects.select_related("person", "skill", "result", "reader", "witness").filter(pk=key).first()
    if found is None:
        raise NotFound("test", str(key), "Go to your path; it lists your tests.")
    if reader.pk != found.person_id:
        require_scores(reader, found.person, at)
        if not hasattr(found, "result"):
            sentence = f"This test is open: only {found.person.name} sees it until it is handed in."
            raise Forbidden("not-your-test", sentence)
    return found


def own_attempt(key: int, person: Person) -> Attempt:
    """One's own attempt, to write in it."""
    found = Attempt.objects.select_related("person", "skill", "reader", "witness").filter(pk=key).first()
    if found is None:
        raise NotFound("test", str(key), "Go to your path; it lists your tests.")
    if found.person_id != person.pk:
        sentence = "This is somebody else's test. Only the person tested answers and hands it in."
        raise Forbidden("not-your-test", sentence)
    return found


def session_by_id(key: int) -> Session:
    """One class."""
    found = Session.objects.select_related("skill", "trainer", "planned_by").filter(pk=key).first()
    if found is None:
        raise NotFound("class", str(key), "Choose from the list of classes.")
    return found


def assessment_for(key: int, reader: Person, at: datetime) -> Assessment:
    """One practical: for the assessor, the person assessed, trainers and assessors."""
    found = (
        Assessment.objects.select_related("person", "skill", "assessor", "verdict__candidate__signature")
        .filter(pk=key)
        .first()
    )
    if found is None:
        raise NotFound("practical", str(key), "Choose from the list of practicals.")
    if reader.pk != found.assessor_id:
        require_scores(reader, found.person, at)
    return found


def question_by_code(code: str) -> Question:
    """One question of the bank."""
    found = Question.objects.filter(code=code).first()
    if found is None:
        raise NotFound("question", code, "Choose from the question bank.")
    return found
