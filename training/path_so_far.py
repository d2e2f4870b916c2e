"""One person's page: what is due, what was practised, what calls for a refresher. Reads only."""

from dataclasses import dataclass
from datetime import datetime

from plant.people.models import Person
from training.models import Due, JobDone, Note, Skill, Trigger
from training.queries import register
from training.rules import State
from training.rules_due import TIER_WORDS
from training.rules_practice import Count
from training.wall import DueCard, cards_of, takes
from training.wanted import count_of, practised

JOBS_SHOWN = 30
NOTES_SHOWN = 20


@dataclass(frozen=True)
class Practice:
    """How current a person is in a skill."""

    skill: Skill
    count: Count
    short: bool


@dataclass(frozen=True)
class Record:
    """What the page of a person shows beside the certificates."""

    dues: list[DueCard]
    practice: list[Practice]
    jobs: list[JobDone]
    jobs_in_all: int
    triggers: list[Trigger]
    notes: list[Note]
    next_steps: list[str]


def record_of(person: Person, at: datetime, *, own: bool) -> Record:
    """Everything of one person at a moment; notes are for the own eyes."""
    book = register([person], at)
    today = at.astimezone(book.zone).date()
    jobs = practised([person], at, book)
    practice = []
    for code, skill in book.skills.items():
        held = book.holding(person, code)
        if held is None or held.state != State.VALID:
            continue
        since = min(each.issued_at for each in book.held[person.pk][code]).astimezone(book.zone).date()
        count = count_of(skill, person, jobs, since, today)
        if count is not None:
            practice.append(Practice(skill, count, count.short(today)))
    rows = JobDone.objects.filter(person=person, at__lte=at).select_related("supervised_by")
    dues = Due.objects.filter(person=person, closed_at=None).select_related("person", "skill", "certificate")
    triggers = Trigger.objects.filter(person=person, at__lte=at).select_related("skill", "by", "answered__by")
    notes = Note.objects.filter(to=person).order_by("read_at", "-at", "-pk")[:NOTES_SHOWN] if own else []
    due_rows = list(dues)
    return Record(
        cards_of(due_rows, today),
        practice,
        list(rows[:JOBS_SHOWN]),
        rows.count(),
        list(triggers),
        list(notes),
        [
            f"{due.skill.name}: {TIER_WORDS[takes(due.skill, due.certificate.valid_to, today)]}"
            for due in due_rows
            if due.kind == Due.Kind.RENEWAL and due.certificate
        ],
    )
