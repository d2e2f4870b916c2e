"""Who may assess whom: never oneself, never who taught, coached or supervised the person for it in this cycle."""

from collections.abc import Collection, Iterable
from dataclasses import dataclass
from datetime import datetime

from django.db.models import Q

from plant.errors import Refused
from plant.floor.queries import plant_zone
from plant.people.models import Person, Role
from plant.people.queries import active_people, people_with_role
from training.models import Assessment, Attendance, Certificate, Coaching, JobDone, Practice, Session, Skill
from training.queries import Register, register
from training.rules import begins_at
from training.sentences import day, names
from training.standard_skills import APPLY, ASSESS, CHECK, SIZE, TEACH

# The kinds of work that are practice of a skill.
WORK_OF = {APPLY: ("apply", "remove"), CHECK: ("check",), SIZE: ("study",)}


@dataclass(frozen=True)
class Trouble:
    """Why somebody may not assess this person for this skill now."""

    code: str
    sentence: str


def cycle_starts(persons: Collection[int], at: datetime) -> dict[tuple[int, int], datetime]:
    """For (person, skill): when the last certificate was earned; what came after belongs to the next one."""
    zone, found = plant_zone(), dict[tuple[int, int], datetime]()
    for each in Certificate.objects.filter(person__in=persons, issued_at__lte=at):
        key = (each.person_id, each.skill_id)
        moment = begins_at(each.valid_from, zone) if each.founding else each.issued_at
        found[key] = max(moment, found.get(key, moment))
    return found


def cycle_start(person: Person, skill: Skill, at: datetime) -> datetime | None:
    """The same for one person and skill. None: never certified yet."""
    return cycle_starts([person.pk], at).get((person.pk, skill.pk))


def direct_supervisors(person: Person, at: datetime) -> list[Person]:
    """Supervisors of the home shift of a person; nobody where no home shift is entered."""
    if not person.home_shift:
        return []
    found = people_with_role(Role.SUPERVISOR, at=at).filter(home_shift__iexact=person.home_shift)
    return list(found.exclude(pk=person.pk))


@dataclass(frozen=True)
class Deed:
    """Somebody taught, coached or supervised a person."""

    at: datetime
    by: int
    verb: str
    person: int
    skill: str


def deeds(persons: Collection[int], at: datetime, by: Person | None = None) -> list[Deed]:
    """What was done to bring these persons on, by anybody or by one, in the order of time; four queries."""
    present = Attendance.objects.filter(person__in=persons, corrected_by=None, minutes__gt=0)
    present = present.filter(session__cancelled_at=None).select_related("session__skill")
    practice = Practice.objects.filter(person__in=persons).select_related("skill")
    talks = Coaching.objects.filter(person__in=persons).select_related("skill")
    jobs = JobDone.objects.filter(person__in=persons, supervised_by__isnull=False)
    if by is not None:
        present, practice, talks = present.filter(session__trainer=by), practice.filter(by=by), talks.filter(by=by)
        jobs = jobs.filter(supervised_by=by)
    found = [
        Deed(each.session.starts_at, each.session.trainer_id, "taught", each.person_id, each.session.skill.code)
        for each in present
    ]
    found += [Deed(each.done_at, each.by_id, "supervised", each.person_id, each.skill.code) for each in practice]
    found += [Deed(each.at, each.by_id, "coached", each.person_id, each.skill.code) for each in talks]
    for job in jobs:
        codes = [code for code, kinds in WORK_OF.items() if job.kind in kinds]
        if job.supervised_by_id is not None:
            found += [Deed(job.at, job.supervised_by_id, "supervised", job.person_id, code) for code in codes]
    return sorted((each for each in found if each.at <= at), key=lambda deed: deed.at)


def taught_by(person: Person, skill: Skill, since: datetime | None, done: Iterable[Deed]) -> dict[int, str]:
    """Who taught, coached or supervised a person for a skill in a cycle, each with the last that he or she did."""
    inside = [each for each in done if each.person == person.pk and each.skill == skill.code]
    return {
        each.by: f"{each.verb} {person.name} for {skill.name} on {day(each.at.date())}"
        for each in inside
        if since is None or each.at >= since
    }


@dataclass(frozen=True)
class Bench:
    """Everybody who could be asked to assess one person for one skill, with what stands in the way of each."""

    person: Person
    skill: Skill
    at: datetime
    people: dict[int, Person]
    book: Register
    taught: dict[int, str]
    bosses: frozenset[int]

    def trouble(self, assessor: Person) -> Trouble | None:
        """Why not; None where the assessor may."""
        name, whom, skill = assessor.name, self.person.name, self.skill.name
        if assessor.pk == self.person.pk:
            return Trouble("own-assessment", f"Nobody assesses himself or herself: {name} is the person concerned.")
        for code in (ASSESS, self.skill.code):
            held = self.book.skill_trouble(assessor, code)
            if held is not None:
                what = "to assess anybody" if code == ASSESS else f"to assess {skill}"
                need = self.book.skills[code].name
                return Trouble(f"assessor-{held.code}", f"It takes a valid {need} certificate {what}. {held.sentence}")
        if assessor.pk in self.taught:
            said = f"{name} {self.taught[assessor.pk]}; who taught a person does not judge what was learnt."
            return Trouble("taught-by-assessor", said)
        if assessor.pk in self.bosses:
            said = f"{name} is the direct supervisor of {whom}; somebody without that tie assesses."
            return Trouble("assessor-supervises", said)
        return None

    def able(self) -> list[Person]:
        """Who may, by name."""
        return [each for each in self.people.values() if self.trouble(each) is None]

    def who_can(self) -> str:
        """The end of a refusal."""
        able = [each.name for each in self.able()]
        if able:
            return f"{names(able)} may assess {self.person.name} for {self.skill.name}."
        return (
            f"Nobody here may assess {self.person.name} for {self.skill.name}. "
            "Ask the trainer or QA to book an outside assessor and to enter the certificate on that evidence."
        )


def bench(person: Person, skill: Skill, at: datetime, also: Iterable[Person] = ()) -> Bench:
    """Read what is needed to judge assessors, in a fixed number of queries."""
    holders = Certificate.objects.filter(skill__code=ASSESS).values("person")
    wanted = Q(pk__in=holders) | Q(pk__in=[each.pk for each in also])
    people = {each.pk: each for each in active_people(at).filter(wanted).order_by("name", "pk")}
    taught = taught_by(person, skill, cycle_start(person, skill, at), deeds([person.pk], at))
    bosses = frozenset(each.pk for each in direct_supervisors(person, at))
    return Bench(person, skill, at, people, register(people.values(), at), taught, bosses)


def markable(assessor: Person, found: Iterable[Assessment], at: datetime) -> list[Assessment]:
    """Those that this assessor may mark, of many, in a fixed number of queries."""
    found = list(found)
    if not found:
        return []
    persons = {each.person_id for each in found}
    starts, done = cycle_starts(persons, at), deeds(persons, at, by=assessor)
    book, leads = register([assessor], at), people_with_role(Role.SUPERVISOR, at=at).filter(pk=assessor.pk).exists()

    def trouble(each: Assessment) -> Trouble | None:
        home = each.person.home_shift.casefold()
        boss = leads and home and assessor.home_shift.casefold() == home and assessor.pk != each.person_id
        taught = taught_by(each.person, each.skill, starts.get((each.person_id, each.skill_id)), done)
        people, bosses = {assessor.pk: assessor}, frozenset([assessor.pk] if boss else [])
        return Bench(each.person, each.skill, at, people, book, taught, bosses).trouble(assessor)

    return [each for each in found if trouble(each) is None]


def require_independent(assessor: Person, person: Person, skill: Skill, at: datetime) -> None:
    """Let an assessor pass who is certified and has no tie to the person for this skill.

    Raises
    ------
    Refused
        With a code for each reason; the sentence names who may.
    """
    found = bench(person, skill, at, also=[assessor])
    trouble = found.trouble(assessor)
    if trouble is not None:
        raise Refused(trouble.code, f"{trouble.sentence} {found.who_can()}", field="assessor")


def teacher_trouble(trainer: Person, skill: Skill, at: datetime) -> str:
    """Why a session of this trainer does not count; empty where it does: Teach and the level taught, both valid."""
    book = register([trainer], at)
    codes = [TEACH] if skill.code in (TEACH, ASSESS) else [TEACH, skill.code]
    for code in codes:
        trouble = book.skill_trouble(trainer, code)
        if trouble is not None:
            return f"It takes a valid {book.skills[code].name} certificate to teach {skill.name}. {trouble.sentence}"
    return ""


def session_trouble(session: Session) -> str:
    """Why a class does not count, judged for the moment it was held; empty where it does."""
    if session.cancelled_at is not None:
        return "The class was called off."
    return teacher_trouble(session.trainer, session.skill, session.starts_at)


def teachers(skill: Skill, at: datetime) -> list[Person]:
    """Who may teach a skill at a moment, by name."""
    holders = Certificate.objects.filter(skill__code=TEACH).values("person")
    people = list(active_people(at).filter(pk__in=holders).order_by("name", "pk"))
    book = register(people, at)
    codes = {TEACH, skill.code} - ({ASSESS} if skill.code == ASSESS else set())
    return [each for each in people if all(book.skill_trouble(each, code) is None for code in codes)]


def require_teacher(trainer: Person, skill: Skill, at: datetime) -> None:
    """Let a trainer pass whose Teach and whose level are valid."""
    trouble = teacher_trouble(trainer, skill, at)
    if trouble:
        able = [each.name for each in teachers(skill, at)]
        who = f"{names(able)} may." if able else "Nobody may now: ask QA to renew a trainer's certificates."
        raise Refused("may-not-teach", f"{trouble} {who}", field="trainer")
