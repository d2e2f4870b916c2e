"""What is due for whom, worked out afresh from certificates, triggers and practice. Reads only."""

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, datetime

from plant.people.models import Person
from training.models import Certificate, Due, JobDone, Skill, Trigger, WorkKind
from training.queries import Register, register
from training.rules import State
from training.rules_due import add_months
from training.rules_practice import COUNTS_FOR, FOUNDING, HORIZON, Count, practice_count
from training.sentences import day


@dataclass(frozen=True)
class Wanted:
    """A due as it should stand."""

    key: str
    person: Person
    skill: Skill
    kind: str
    due_on: date
    reason: str
    rule: str
    rule_version: int
    certificate: Certificate | None = None
    trigger: Trigger | None = None


@dataclass(frozen=True)
class Practised:
    """The days of the jobs of some persons, by person and kind."""

    days: dict[tuple[int, str], list[date]]

    def of(self, person: Person, kind: str) -> list[date]:
        """Days on which the person did what counts as practice of that kind."""
        return [day for counted in COUNTS_FOR.get(kind, (kind,)) for day in self.days.get((person.pk, counted), [])]


def practised(persons: Iterable[Person], at: datetime, book: Register) -> Practised:
    """Own work only: a trainee's job is the practice of the person who answered for it."""
    days: dict[tuple[int, str], list[date]] = defaultdict(list)
    rows = JobDone.objects.filter(person__in=[person.pk for person in persons], supervised_by=None, at__lte=at)
    for person, kind, when in rows.values_list("person", "kind", "at"):
        days[person, kind].append(when.astimezone(book.zone).date())
    return Practised(days)


def count_of(skill: Skill, person: Person, jobs: Practised, since: date, today: date) -> Count | None:
    """The practice of a person in a skill; None where the skill asks for none."""
    if not skill.currency_count:
        return None
    return practice_count(
        jobs.of(person, skill.currency_kind),
        asked=skill.currency_count,
        months=skill.currency_months,
        since=since,
        today=today,
    )


def wanted(persons: list[Person], at: datetime) -> list[Wanted]:
    """Everything that falls due up to the horizon, or is overdue, for these persons."""
    book = register(persons, at)
    jobs, today = practised(persons, at, book), at.astimezone(book.zone).date()
    found = _refreshers(persons, book, today)
    for person in persons:
        if book.absent(person):
            continue
        for code, skill in book.skills.items():
            held = book.holding(person, code)
            if held is None:
                continue
            certificates = book.held[person.pk][code]
            found += _renewal(person, skill, certificates, book)
            if held.state == State.VALID:
                since = min(each.issued_at for each in certificates).astimezone(book.zone).date()
                found += _founding(person, skill, held.certificate, certificates, book)
                found += _practice(person, skill, jobs, since, today)
    return [each for each in found if each.due_on <= today + HORIZON]


def _renewal(person: Person, skill: Skill, certificates: list[Certificate], book: Register) -> list[Wanted]:
    """The certificate that ends last, unless it was withdrawn: then there is nothing to renew."""
    standing = [each for each in certificates if book.state(each) != State.WITHDRAWN]
    if not standing:
        return []
    last = max(standing, key=lambda each: (each.valid_to, each.pk))
    rule, version = last.rule or "chosen day", last.rule_version
    reason = f"{skill.name} certificate {last.number} ends at midnight after {day(last.valid_to)}"
    key = f"renewal:{last.pk}"
    return [Wanted(key, person, skill, Due.Kind.RENEWAL, last.valid_to, reason, rule, version, last)]


def _founding(
    person: Person, skill: Skill, held: Certificate, certificates: list[Certificate], book: Register
) -> list[Wanted]:
    if not held.founding or any(not each.founding and each.issued_at > held.issued_at for each in certificates):
        return []
    ends = held.issued_at.astimezone(book.zone).date() + FOUNDING
    reason = f"{skill.name} rests on papers ({held.number}); another assessor looks at it again within 90 days"
    return [Wanted(f"founding:{held.pk}", person, skill, Due.Kind.FOUNDING, ends, reason, "founding", 1, held)]


def _practice(person: Person, skill: Skill, jobs: Practised, since: date, today: date) -> list[Wanted]:
    found = []
    count = count_of(skill, person, jobs, since, today)
    if count is not None:
        said = WorkKind(skill.currency_kind).label
        reason = (
            f"{skill.name} stays current by {count.asked} in {count.months} months ({said}); {count.done} on record. "
            f"After {day(count.due_on)} a refresher is due"
        )
        key = f"currency:{person.pk}:{skill.code}:{count.due_on}"
        found.append(
            Wanted(key, person, skill, Due.Kind.CURRENCY, count.due_on, reason, "practice", skill.rule_version)
        )
    if skill.joint_marking_months:
        last = max([since, *jobs.of(person, WorkKind.JOINT_MARKING)])
        ends = add_months(last, skill.joint_marking_months)
        reason = f"{skill.name} takes a joint marking every {skill.joint_marking_months} months"
        key = f"joint-marking:{person.pk}:{skill.code}:{ends}"
        found.append(
            Wanted(key, person, skill, Due.Kind.JOINT_MARKING, ends, reason, "joint marking", skill.rule_version)
        )
    return found


def _refreshers(persons: list[Person], book: Register, today: date) -> list[Wanted]:
    """Refreshers that were asked for, not done, and not overtaken by a new certificate of the skill."""
    asked = Trigger.objects.filter(person__in=[each.pk for each in persons], asks=True, answered=None)
    found = []
    for trigger in asked.select_related("person", "skill"):
        certificates = book.held.get(trigger.person_id, {}).get(trigger.skill.code, [])
        if book.absent(trigger.person) or any(each.issued_at > trigger.at for each in certificates):
            continue
        reason = f"{trigger.get_kind_display()}: {trigger.reason}"[:300]
        found.append(
            Wanted(
                f"refresher:{trigger.pk}",
                trigger.person,
                trigger.skill,
                Due.Kind.REFRESHER,
                trigger.due_on or today,
                reason,
                f"event {trigger.kind}"[:30],
                1,
                trigger=trigger,
            )
        )
    return found
