"""Raising what is due, closing what is done, and telling the persons concerned: each once, also after a standstill."""

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, datetime, timedelta

from django.db import transaction
from django.db.models import Q
from django.urls import reverse

from plant.audit.services import record
from plant.errors import Refused
from plant.floor.queries import plant_date, the_plant
from plant.people.access import require_role
from plant.people.models import Person, Role
from plant.people.queries import active_people, people_with_role
from training.models import Certificate, Due, Note
from training.rules_practice import REMIND_AT, reminder
from training.sentences import day
from training.wanted import Wanted, wanted

STREAM = "training"
CLOSERS = (Role.TRAINER, Role.QA)
# Persons gone through at a time by the clock.
GROUP = 200


@dataclass(frozen=True)
class Changes:
    """What has to be written so that the dues of some persons are true again."""

    fresh: list[Due]
    over: list[Due]
    again: list[Due]

    def __len__(self) -> int:
        return len(self.fresh) + len(self.over) + len(self.again)


def settle_dues(persons: Iterable[Person], at: datetime) -> int:
    """Bring the dues of some persons up to date: raise what is new, close what is done. Returns how many changed.

    No event: it follows from the act that called it, or is recorded by the clock that did.
    """
    changes = _changes(list(persons), at)
    if not len(changes):
        return 0
    with transaction.atomic():
        Due.objects.bulk_create(changes.fresh, ignore_conflicts=True, batch_size=200)
        rows = [*changes.over, *changes.again]
        Due.objects.bulk_update(rows, ["closed_at", "closed_why"], batch_size=100)
    return len(changes)


def _changes(people: list[Person], at: datetime) -> Changes:
    want = {each.key: each for each in wanted(people, at)}
    of_people = Due.objects.filter(person__in=[each.pk for each in people])
    rows = {due.key: due for due in of_people.filter(Q(closed_at=None) | Q(key__in=list(want)))}
    fresh = [_row(each, at) for key, each in want.items() if key not in rows]
    over = [due for due in rows.values() if due.closed_at is None and due.key not in want]
    whys = _whys(over)
    for due in over:
        due.closed_at, due.closed_why = at, whys[due.pk]
    # Due again as it was, after a suspension or a return to the plant; what was set aside stays aside.
    closed = [due for due in rows.values() if due.closed_at is not None and due.key in want]
    again = [due for due in closed if due.set_aside_by_id is None]
    for due in again:
        due.closed_at, due.closed_why = None, ""
    return Changes(fresh, over, again)


def _row(each: Wanted, at: datetime) -> Due:
    return Due(
        person=each.person,
        skill=each.skill,
        kind=each.kind,
        due_on=each.due_on,
        reason=each.reason[:300],
        rule=each.rule,
        rule_version=each.rule_version,
        certificate=each.certificate,
        trigger=each.trigger,
        key=each.key,
        raised_at=at,
    )


def _whys(over: list[Due]) -> dict[int, str]:
    """Why each is no longer due."""
    newest: dict[tuple[int, int], Certificate] = {}
    rows = Certificate.objects.filter(person__in={due.person_id for due in over}).order_by("issued_at", "pk")
    for each in rows:
        newest[each.person_id, each.skill_id] = each
    words = {
        Due.Kind.CURRENCY: "practice is on record, or the skill does not count now",
        Due.Kind.JOINT_MARKING: "a joint marking is on record, or the skill does not count now",
    }
    found = {}
    for due in over:
        last = newest.get((due.person_id, due.skill_id))
        renewed = last is not None and last.issued_at >= due.raised_at and last.pk != due.certificate_id
        plain = words.get(Due.Kind(due.kind), "done, withdrawn, or the person left")
        found[due.pk] = f"certificate {last.number} issued" if last and renewed else plain
    return found


def raise_dues(at: datetime) -> dict[str, int]:
    """What the clock does: bring all dues up to date, note what has passed, and remind. Safe to run again.

    Group by group, and reading before writing: nobody else's work waits for the whole plant to be gone through.
    """
    persons = list(active_people(at).exclude(employer=Person.Employer.OUTSIDE).order_by("pk"))
    persons += list(Person.objects.filter(dues__closed_at=None, dues__isnull=False, active_to__lte=at).distinct())
    changed = sum(settle_dues(persons[first : first + GROUP], at) for first in range(0, len(persons), GROUP))
    notes = _reminders(at)
    with transaction.atomic():
        lapsed = _note_passed(at)
        Note.objects.bulk_create(notes, batch_size=500, ignore_conflicts=True)
        told = len(notes)
        if changed or lapsed or told:
            record(
                stream=STREAM,
                action="raise-dues",
                subject=the_plant(),
                sentence=f"the clock brought {changed} dues up to date, noted {lapsed} that passed, sent {told} notes",
                by=None,
                at=at,
                facts={"changed": changed, "passed": lapsed, "notes": told},
            )
    return {"changed": changed, "passed": lapsed, "notes": told}


def _note_passed(at: datetime) -> int:
    """The day of a due has passed: for a certificate that is its lapse, which stands in the trail with its true day."""
    passed = Due.objects.filter(closed_at=None, passed_at=None, due_on__lt=plant_date(at))
    rows = list(passed.select_related("person", "skill", "certificate"))
    for due in rows:
        due.passed_at = at
        if due.kind == Due.Kind.RENEWAL and due.certificate:
            record(
                stream=STREAM,
                action="lapse-certificate",
                subject=due.person,
                sentence=f"{due.skill.name} certificate {due.certificate.number} of {due.person.name} lapsed at the "
                f"end of {day(due.due_on)}",
                by=None,
                at=at,
                facts={"certificate": due.certificate.number, "last_day": due.due_on, "rule": due.rule},
            )
    Due.objects.bulk_update(rows, ["passed_at"], batch_size=200)
    return len(rows)


def _reminders(at: datetime) -> list[Note]:
    """Notes to the person, the supervisors of the person's shift and the trainers; each reminder once."""
    today = plant_date(at)
    near = Due.objects.filter(closed_at=None, due_on__lte=today + timedelta(days=max(REMIND_AT)))
    told = set(Note.objects.filter(due__in=near).values_list("due", "days").distinct())
    stands = {key: reminder(due_on, today) for key, due_on in near.values_list("pk", "due_on")}
    silent = [key for key, days in stands.items() if days is not None and (key, days) not in told]
    supervisors, trainers = _overseers(at)
    notes = []
    for first in range(0, len(silent), 500):
        for due in Due.objects.filter(pk__in=silent[first : first + 500]).select_related("person", "skill"):
            concerned = {due.person_id, *supervisors.get(due.person.home_shift, supervisors[""]), *trainers}
            days = stands[due.pk] or 0
            notes += [_note(due, days, to, f"due:{due.pk}:{days}", at, today) for to in sorted(concerned)]
    return notes


def _overseers(at: datetime) -> tuple[dict[str, list[int]], list[int]]:
    """Supervisors by home shift (all of them under the empty name) and trainers."""
    by_shift: dict[str, list[int]] = defaultdict(list)
    for each in people_with_role(Role.SUPERVISOR, at=at):
        by_shift[""].append(each.pk)
        if each.home_shift:
            by_shift[each.home_shift].append(each.pk)
    by_shift.setdefault("", [])
    return dict(by_shift), [each.pk for each in people_with_role(Role.TRAINER, at=at)]


def _note(due: Due, days: int, to: int, key: str, at: datetime, today: date) -> Note:
    left = (due.due_on - today).days
    when = f"was due on {day(due.due_on)}" if left < 0 else f"is due on {day(due.due_on)}"
    span = "" if left < 0 else ", today" if left == 0 else ", tomorrow" if left == 1 else f", in {left} days"
    who = "Your" if to == due.person_id else f"{due.person.name}:"
    sentence = f"{who} {due.skill.name}, {due.get_kind_display()}, {when}{span}. {due.reason}."
    return Note(
        to_id=to,
        key=key,
        sentence=sentence[:400],
        address=reverse("training:person", args=[due.person_id]),
        at=at,
        due=due,
        days=days,
    )


@transaction.atomic
def set_aside(due: Due, *, reason: str, by: Person, at: datetime) -> Due:
    """The person needs the skill no more: nothing is due. The lapsed certificate stays lapsed."""
    require_role(by, *CLOSERS, at=at, act="Setting a due aside")
    due = Due.objects.select_for_update().select_related("person", "skill").get(pk=due.pk)
    if due.person_id == by.pk:
        raise Refused("own-due", "Nobody sets aside what he or she has to do. Another trainer or QA can.")
    if due.closed_at is not None:
        raise Refused("closed", f"It is closed already: {due.closed_why}. Look at the page again.")
    if len(reason.strip()) < 5:
        raise Refused("no-reason", "Say why nothing has to be done; the person reads it.", field="reason")
    due.closed_at, due.closed_why, due.set_aside_by = at, reason.strip()[:300], by
    due.save(update_fields=["closed_at", "closed_why", "set_aside_by"])
    record(
        stream=STREAM,
        action="set-due-aside",
        subject=due.person,
        sentence=f"{by.name} set aside {due.skill.name}, {due.get_kind_display()} of {due.person.name}",
        by=by,
        at=at,
        facts={"due": due.key, "due_on": due.due_on},
        reason=reason.strip(),
    )
    return due
