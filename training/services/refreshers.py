"""Asking for a refresher, and saying that it is done. What suspends does so at once, whatever the calendar says."""

from datetime import date, datetime

from django.db import transaction

from plant.audit.services import record
from plant.errors import Refused
from plant.floor.queries import plant_date, plant_zone
from plant.people.access import names_of, require_role
from plant.people.models import Person, Role
from plant.people.queries import people_with_role
from training.grounds import Grounds
from training.models import CertificateAct, Skill, Trigger, TriggerAnswer
from training.queries import state_of, with_acts
from training.rules import State
from training.rules_practice import REFRESHER, trigger_suspends
from training.sentences import day
from training.services.dues import settle_dues

STREAM = "training"
ASKERS = (Role.SUPERVISOR, Role.QA, Role.TRAINER, Role.ASSESSOR, Role.ENGINEER)
ANSWERERS = (Role.TRAINER, Role.ASSESSOR, Role.QA)


@transaction.atomic
def ask_refresher(
    person: Person,
    skill_code: str,
    kind: str,
    *,
    reason: str,
    by: Person,
    at: datetime,
    subject: str = "",
    suspends: bool | None = None,
    due_on: date | None = None,
) -> Trigger:
    """Ask a person to come for a refresher. With `suspends` left out, the kind of event decides."""
    require_role(by, *ASKERS, at=at, act="Asking for a refresher")
    return note_trigger(
        person,
        skill_code,
        kind,
        reason=reason,
        by=by,
        at=at,
        subject=subject,
        key=f"asked:{person.pk}:{skill_code}:{kind}:{at.isoformat()}",
        suspends=suspends,
        due_on=due_on,
    )


def note_trigger(
    person: Person,
    skill_code: str,
    kind: str,
    *,
    reason: str,
    by: Person,
    at: datetime,
    subject: str,
    key: str,
    suspends: bool | None = None,
    due_on: date | None = None,
) -> Trigger:
    """Write down what happened, once per key, and suspend where that kind of event does.

    Who may say so was asked at the door of the act that found it.
    """
    person = Person.objects.select_for_update().get(pk=person.pk)
    known = Trigger.objects.filter(key=key).first()
    if known is not None:
        return known
    skill = _skill(skill_code)
    _refuse_words(kind, reason)
    today = plant_date(at)
    if due_on is not None and due_on < today:
        raise Refused("past", f"The day lies before today, {day(today)}. Choose a later one.", field="due_on")
    zone = plant_zone()
    earlier = Trigger.objects.filter(person=person, skill=skill, kind=Trigger.Kind.FAILED_CHECK, at__lte=at)
    failed = [when.astimezone(zone).date() for when in earlier.values_list("at", flat=True)]
    stops = trigger_suspends(kind, failed, today) if suspends is None else suspends
    asks = stops or kind != Trigger.Kind.FAILED_CHECK
    made = Trigger.objects.create(
        person=person,
        skill=skill,
        kind=kind,
        reason=reason.strip(),
        subject=subject[:160],
        at=at,
        by=by,
        asks=asks,
        suspends=stops,
        due_on=(due_on or (today if stops else today + REFRESHER)) if asks else None,
        key=key,
    )
    numbers = _suspend(made) if stops else []
    tail = f"; {', '.join(numbers)} suspended until it is done" if numbers else ""
    asked = f"a refresher of {skill.name} is asked of {person.name}" if asks else f"{person.name}, {skill.name}: noted"
    record(
        stream=STREAM,
        action="ask-refresher" if asks else "note-trigger",
        subject=person,
        sentence=f"{made.get_kind_display()}: {asked}{tail}",
        by=by,
        at=at,
        facts={"trigger": made.pk, "kind": kind, "skill": skill.code, "subject": subject, "suspended": numbers},
        reason=reason.strip(),
    )
    settle_dues([person], at)
    return made


def _skill(code: str) -> Skill:
    found = Skill.objects.filter(code=code).first()
    if found is None:
        known = ", ".join(Skill.objects.values_list("code", flat=True))
        raise Refused("no-skill", f"There is no skill {code!r}. Use one of {known}.", field="skill")
    return found


def _refuse_words(kind: str, reason: str) -> None:
    if kind not in Trigger.Kind.values:
        raise Refused("no-kind", f"Choose what happened: {', '.join(Trigger.Kind.values)}.", field="kind")
    if len(reason.strip()) < 5:
        raise Refused("no-reason", "Say what happened; the person concerned and the trainer read it.", field="reason")
    if len(reason.strip()) > 300:
        raise Refused("long-reason", "The reason may have 300 characters. Say it shorter.", field="reason")


def _suspend(trigger: Trigger) -> list[str]:
    """Suspend every certificate of the skill that could still count; return their numbers."""
    zone = plant_zone()
    running = [
        each
        for each in with_acts().filter(person=trigger.person, skill=trigger.skill)
        if state_of(each, trigger.at, zone) in (State.VALID, State.NOT_YET)
    ]
    for each in running:
        CertificateAct.objects.create(
            certificate=each,
            kind=CertificateAct.Kind.SUSPENDED,
            at=trigger.at,
            by=trigger.by,
            reason=trigger.reason,
        )
    return [each.number for each in running]


def suspending_open(person: Person, skill: Skill) -> Trigger | None:
    """A refresher that keeps the skill suspended until it is done."""
    return Trigger.objects.filter(person=person, skill=skill, suspends=True, answered=None).order_by("at").first()


@transaction.atomic
def answer_refresher(
    trigger: Trigger, *, evidence: str, by: Person, at: datetime, grounds: Grounds | None = None
) -> TriggerAnswer:
    """The refresher is done. What it had suspended counts again, unless another one is still open."""
    require_role(by, *ANSWERERS, at=at, act="Saying that a refresher is done")
    person = Person.objects.select_for_update().get(pk=trigger.person_id)
    if person.pk == by.pk:
        others = [other for other in people_with_role(*ANSWERERS, at=at) if other.pk != by.pk]
        who = f"{names_of(others)} can." if others else "Ask the system keeper to give somebody else the role."
        raise Refused("own-refresher", f"Nobody says this of his or her own refresher. {who}")
    if TriggerAnswer.objects.filter(trigger=trigger).exists():
        raise Refused("done", "This refresher is done already. Look at the page again.")
    if not trigger.asks:
        raise Refused("not-asked", "No refresher was asked for here; there is nothing to answer.")
    if len(evidence.strip()) < 5:
        sentence = "Name what was done: the talk, the test, the practical, and where it is kept."
        raise Refused("no-evidence", sentence, field="evidence")
    if len(evidence.strip()) > 300:
        raise Refused("long-evidence", "The evidence may have 300 characters. Say it shorter.", field="evidence")
    made = TriggerAnswer.objects.create(
        trigger=trigger, at=at, by=by, evidence=evidence.strip(), grounds=grounds.as_dict() if grounds else {}
    )
    numbers = _release(trigger, by, at)
    tail = f"; {', '.join(numbers)} count again" if numbers else ""
    record(
        stream=STREAM,
        action="answer-refresher",
        subject=person,
        sentence=f"refresher of {trigger.skill.name} done by {person.name}{tail}",
        by=by,
        at=at,
        facts={"trigger": trigger.pk, "evidence": made.evidence, "grounds": made.grounds, "reinstated": numbers},
    )
    settle_dues([person], at)
    return made


def _release(trigger: Trigger, by: Person, at: datetime) -> list[str]:
    """Reinstate what this event suspended; a suspension by anybody else's hand stays."""
    if not trigger.suspends or suspending_open(trigger.person, trigger.skill) is not None:
        return []
    zone, numbers = plant_zone(), []
    for each in with_acts().filter(person=trigger.person, skill=trigger.skill):
        last = each.acts.all()[len(each.acts.all()) - 1] if each.acts.all() else None
        ours = last is not None and Trigger.objects.filter(
            person=trigger.person, skill=trigger.skill, suspends=True, at=last.at, by=last.by_id
        )
        if state_of(each, at, zone) == State.SUSPENDED and ours and ours.exists():
            CertificateAct.objects.create(
                certificate=each,
                kind=CertificateAct.Kind.REINSTATED,
                at=at,
                by=by,
                reason=f"refresher done: {trigger.reason}"[:300],
            )
            numbers.append(each.number)
    return numbers
