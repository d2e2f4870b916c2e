"""The work of trainees: it counts only with a certified person signing in the same job."""

from dataclasses import replace
from datetime import datetime

from django.db.models import QuerySet

from plant.people.models import Person
from training import sentences
from training.models import Trigger
from training.queries import Register, Standing, register, who_can_help
from training.rules import State


def supervised_standing(
    trainee: Person, certified: Person, skill_code: str, room_kind: str, at: datetime, *, hot: bool = False
) -> Standing:
    """May the trainee do this with that certified person beside him or her?

    The trainee needs what the skill is built on, and may not be suspended, except on the way back through a
    refresher that was asked for. The certified person needs everything the work asks for here and now: a step that
    was begun before a certificate ended is no ground to supervise. The standing carries the certificate of the
    person who answers, never the trainee's.
    """
    book = register([trainee, certified], at)
    found = _trouble(book, trainee, certified, skill_code)
    if found is not None:
        return found
    theirs = book.judge(certified, skill_code, room_kind, hot=hot)
    if theirs.ok:
        said = sentences.supervised(trainee.name, certified.name, book.skills[skill_code].name)
        return replace(theirs, code="supervised", sentence=said, answerable=certified)
    who = who_can_help(skill_code, room_kind, at, excluding=[certified, trainee], hot=hot)
    return replace(theirs, sentence=f"{sentences.no_supervisor(certified.name)} {theirs.sentence} {who}")


def _trouble(book: Register, trainee: Person, certified: Person, skill_code: str) -> Standing | None:
    if trainee.pk == certified.pk:
        return Standing(False, "own-supervision", f"{trainee.name} cannot supervise himself or herself.")
    if absent := book.absent(trainee):
        return absent
    for need in book.needs[skill_code]:
        trouble = book.skill_trouble(trainee, need)
        if trouble is not None:
            said = sentences.needed_to_practise(book.skills[skill_code].name, book.skills[need].name, trouble.sentence)
            return replace(trouble, sentence=said)
    held = book.holding(trainee, skill_code)
    if held is not None and held.state == State.SUSPENDED and not open_triggers(trainee, skill_code).exists():
        trouble = book.skill_trouble(trainee, skill_code)
        said = f"{trouble.sentence} A trainer asks for a refresher first." if trouble else ""
        return Standing(False, "suspended", said, held.certificate)
    return None


def open_triggers(person: Person, skill_code: str) -> QuerySet[Trigger]:
    """Refreshers asked of a person for a skill and not done yet."""
    return Trigger.objects.filter(person=person, skill__code=skill_code, asks=True, answered=None)
