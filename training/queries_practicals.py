"""Reads about practical assessments: marks, what waits for a signature or a second marking, and how assessors agree."""

from collections import defaultdict
from dataclasses import dataclass, field
from datetime import datetime, timedelta

from django.db.models import QuerySet

from plant.people.models import Person
from training.models import Assessment, Certificate, Marking, Skill, StepMark, Verdict
from training.practicals import JOINT_MARKINGS, LEAST_AGREEMENT
from training.rules_practice import FOUNDING
from training.standard_skills import ASSESS

# Fewer assessments than this say nothing about an assessor (our own default).
ENOUGH_GIVEN = 5


def assessments() -> QuerySet[Assessment]:
    """Assessments with what their lists show."""
    return Assessment.objects.select_related("person", "skill", "assessor", "verdict__candidate")


def marks_of(assessment: Assessment) -> dict[int, str]:
    """The mark that counts of each step: the last."""
    return {each.step: each.mark for each in assessment.marks.order_by("at", "pk")}


def open_assessment(person: Person, skill: Skill, kind: str) -> Assessment | None:
    """The assessment of this kind that is begun and not ended."""
    return assessments().filter(person=person, skill=skill, kind=kind, verdict=None).first()


def waiting_for_candidate(person: Person | None = None) -> QuerySet[Assessment]:
    """Ended, but not yet signed by the person assessed."""
    found = assessments().filter(verdict__isnull=False, verdict__candidate=None)
    return found if person is None else found.filter(person=person)


def second_markings_due() -> QuerySet[Assessment]:
    """Drawn for a second marking that nobody has done yet."""
    done = Marking.objects.filter(kind=Marking.Kind.SECOND).values("assessment")
    return assessments().filter(verdict__second_due=True).exclude(pk__in=done)


def awaits_second_eye(assessment: Assessment, reader: Person) -> bool:
    """Whether a reader must not see the first marks yet: they wait for a second marking, which is made blind."""
    if reader.pk in (assessment.assessor_id, assessment.person_id):
        return False
    return second_markings_due().filter(pk=assessment.pk).exists()


@dataclass
class StepRow:
    """A step with what was marked, noted and photographed."""

    number: int
    text: str
    critical: bool
    mark: str = ""
    note: str = ""
    photos: list[int] = field(default_factory=list)


def step_rows(assessment: Assessment) -> list[StepRow]:
    """The steps of an assessment as they stand."""
    rows = [StepRow(n, step["text"], step["critical"]) for n, step in enumerate(assessment.steps["steps"], start=1)]
    for mark in StepMark.objects.filter(assessment=assessment).order_by("at", "pk"):
        rows[mark.step - 1].mark, rows[mark.step - 1].note = mark.mark, mark.note
    for photo in assessment.photos.all():
        rows[photo.step - 1].photos.append(photo.attachment_id)
    return rows


@dataclass(frozen=True)
class AssessorRow:
    """One assessor: what was given, how many passed, and how the markings beside agree."""

    person: Person
    given: int
    passed: int
    agreements: list[int]
    founding_ends: datetime | None
    joint: int

    @property
    def enough(self) -> bool:
        """Whether the pass rate says anything."""
        return self.given >= ENOUGH_GIVEN

    @property
    def pass_percent(self) -> int:
        """Share passed."""
        return round(100 * self.passed / self.given) if self.given else 0

    @property
    def agreement(self) -> int | None:
        """Mean agreement, rounded down; None without any marking beside."""
        return sum(self.agreements) // len(self.agreements) if self.agreements else None

    @property
    def agrees(self) -> bool:
        """Whether the mean is high enough."""
        return self.agreement is not None and self.agreement >= LEAST_AGREEMENT


def assessor_rows(at: datetime) -> list[AssessorRow]:
    """Everybody who holds or held Assess, by name."""
    given: dict[int, list[bool]] = defaultdict(list)
    ended = Verdict.objects.exclude(outcome=Verdict.Outcome.BROKEN_OFF).values_list("assessment__assessor", "outcome")
    for who, how in ended:
        given[who].append(how == Verdict.Outcome.PASSED)
    alike: dict[int, list[int]] = defaultdict(list)
    joint: dict[int, int] = defaultdict(int)
    for first, second, kind, share in Marking.objects.values_list("assessment__assessor", "by", "kind", "agreement"):
        for who in (first, second):
            alike[who].append(share)
            joint[who] += kind == Marking.Kind.JOINT
    papers = (
        Certificate.objects.filter(skill__code=ASSESS).order_by("person__name", "issued_at").select_related("person")
    )
    people: dict[int, Person] = {}
    founding: dict[int, datetime | None] = {}
    for each in papers:
        people[each.person_id] = each.person
        founding[each.person_id] = each.issued_at + FOUNDING if each.founding else None
    return [
        AssessorRow(person, len(given[key]), sum(given[key]), alike[key], founding[key], joint[key])
        for key, person in people.items()
    ]


def joint_markings_of(person: Person, since: datetime | None) -> list[Marking]:
    """Joint markings with enough agreement, by this person as the second marker."""
    found = Marking.objects.filter(by=person, kind=Marking.Kind.JOINT, agreement__gte=LEAST_AGREEMENT)
    return list(found.filter(at__gte=since) if since else found)


def joint_markings_asked(skill_code: str) -> int:
    """How many joint markings a skill takes."""
    return JOINT_MARKINGS.get(skill_code, 0)


@dataclass(frozen=True)
class PassRow:
    """How the tests or the practicals of a skill went."""

    skill: str
    tried: int
    passed: int
    people: int
    first_time: int

    @property
    def percent(self) -> int:
        """Share passed."""
        return round(100 * self.passed / self.tried) if self.tried else 0

    @property
    def first_percent(self) -> int:
        """Share of persons who passed the first time."""
        return round(100 * self.first_time / self.people) if self.people else 0


def pass_rows(results: list[tuple[str, int, bool]]) -> list[PassRow]:
    """Pass rates from (skill, person, passed) in the order of time."""
    tried: dict[str, list[tuple[int, bool]]] = defaultdict(list)
    for skill, person, passed in results:
        tried[skill].append((person, passed))
    rows = []
    for skill, pairs in tried.items():
        first: dict[int, bool] = {}
        for person, passed in pairs:
            first.setdefault(person, passed)
        rows.append(PassRow(skill, len(pairs), sum(good for _, good in pairs), len(first), sum(first.values())))
    return rows


def recent(assessor: Person, at: datetime, days: int = 30) -> QuerySet[Assessment]:
    """What an assessor gave lately."""
    return assessments().filter(assessor=assessor, at__gte=at - timedelta(days=days))
