"""Issuing certificates, and taking them over from written evidence at the start of records."""

from datetime import date, datetime, timedelta
from typing import Any

from django.db import transaction

from plant.audit.services import Confirmation, record, sign
from plant.errors import Refused
from plant.floor.queries import plant_date
from plant.people.access import names_of, require_role
from plant.people.models import Person, Role
from plant.people.queries import people_with_role
from training.models import Certificate, Skill
from training.queries import register
from training.rules import State, last_day
from training.sentences import day

STREAM = "training"
ISSUERS = (Role.TRAINER, Role.ASSESSOR, Role.QA)
IMPORTERS = (Role.KEEPER, Role.QA, Role.TRAINER)
# How far ahead a certificate may begin: the window for early renewal (our own default).
AHEAD = timedelta(days=60)


def content_of(certificate: Certificate) -> dict[str, Any]:
    """What the issuer signs; any other content reads *not for this version*."""
    return {
        "number": certificate.number,
        "person": [certificate.person.staff_no, certificate.person.name],
        "skill": certificate.skill.code,
        "valid_from": certificate.valid_from,
        "valid_to": certificate.valid_to,
        "evidence": certificate.evidence,
        "founding": certificate.founding,
    }


@transaction.atomic
def issue_certificate(
    person: Person,
    skill_code: str,
    *,
    valid_from: date,
    evidence: str,
    confirmation: Confirmation,
    valid_to: date | None = None,
) -> Certificate:
    """Certify a person for a skill; trainer, assessor or QA signs, never the person concerned."""
    by, at = confirmation.person, confirmation.at
    require_role(by, *ISSUERS, at=at, act="Issuing a certificate")
    person, skill = _subject(person, skill_code, by, at, ISSUERS)
    ends = last_day(valid_from, skill.valid_months) if valid_to is None else valid_to
    _refuse_evidence(evidence)
    _refuse_days(skill, valid_from, ends, at)
    _refuse_standing(person, skill, at)
    certificate = Certificate.objects.create(
        person=person,
        skill=skill,
        number=_next_number(person),
        valid_from=valid_from,
        valid_to=ends,
        evidence=evidence.strip(),
        issued_at=at,
        issued_by=by,
    )
    content = content_of(certificate)
    signature = sign(confirmation, meaning="certificate issued", subject=certificate, content=content)
    record(
        stream=STREAM,
        action="issue-certificate",
        subject=person,
        sentence=f"{skill.name} certificate {certificate.number} issued to {person.name}, to {day(ends)}",
        by=by,
        at=at,
        facts=content | {"signature": signature.digest},
    )
    return certificate


@transaction.atomic
def import_founding_certificate(
    person: Person,
    skill_code: str,
    *,
    valid_from: date,
    valid_to: date,
    evidence: str,
    by: Person,
    at: datetime,
    number: str = "",
) -> Certificate:
    """Take over a certificate that was earned before these records began. It stays marked *founding*.

    Rows may come in any order, so what the skill is built on is not asked here; whether it counts is judged
    when somebody wants to work.
    """
    require_role(by, *IMPORTERS, at=at, act="Taking over a certificate")
    person, skill = _subject(person, skill_code, by, at, IMPORTERS)
    _refuse_evidence(evidence)
    if valid_to < valid_from:
        raise Refused("ends-first", "The last day lies before the first. Check both dates.", field="valid_to")
    if valid_from > plant_date(at):
        sentence = "A founding certificate was earned before today. Enter its own first day, or issue a new one."
        raise Refused("not-founding", sentence, field="valid_from")
    number = number.strip()
    if number and Certificate.objects.filter(number=number).exists():
        raise Refused("number-taken", f"Certificate number {number} is on record already.", field="number")
    certificate = Certificate.objects.create(
        person=person,
        skill=skill,
        number=number or _next_number(person),
        valid_from=valid_from,
        valid_to=valid_to,
        founding=True,
        evidence=evidence.strip(),
        issued_at=at,
        issued_by=by,
    )
    record(
        stream=STREAM,
        action="import-certificate",
        subject=person,
        sentence=f"founding {skill.name} certificate {certificate.number} of {person.name} taken over",
        by=by,
        at=at,
        facts=content_of(certificate),
    )
    return certificate


def _subject(person: Person, skill_code: str, by: Person, at: datetime, may: tuple[Role, ...]) -> tuple[Person, Skill]:
    """The person, locked so that two issuers wait for one another, and the skill."""
    person = Person.objects.select_for_update().get(pk=person.pk)
    skill = Skill.objects.filter(code=skill_code).first()
    if skill is None:
        known = ", ".join(Skill.objects.values_list("code", flat=True))
        raise Refused("no-skill", f"There is no skill {skill_code!r}. Use one of {known}.", field="skill")
    if person.pk == by.pk:
        others = [other for other in people_with_role(*may, at=at) if other.pk != by.pk]
        who = f"{names_of(others)} can." if others else "Ask the system keeper to give somebody else the role."
        raise Refused("own-certificate", f"Nobody issues a certificate to himself or herself. {who}")
    if not person.active_at(at):
        sentence = f"{person.name} does not belong to the plant now. Ask the system keeper."
        raise Refused("not-active", sentence, field="person")
    if person.employer == Person.Employer.OUTSIDE:
        sentence = f"{person.name} comes from an outside firm and may propose and comment only: no certificate."
        raise Refused("outside", sentence, field="person")
    return person, skill


def _refuse_evidence(evidence: str) -> None:
    if len(evidence.strip()) < 5:
        sentence = "Name the evidence: the test, the practical, the paper it stands on, and where it is kept."
        raise Refused("no-evidence", sentence, field="evidence")
    if len(evidence.strip()) > 300:
        sentence = "The evidence may have 300 characters. Name the document and where it is kept, not its text."
        raise Refused("long-evidence", sentence, field="evidence")


def _refuse_days(skill: Skill, first: date, last: date, at: datetime) -> None:
    today = plant_date(at)
    if first < today:
        sentence = (
            f"A certificate cannot begin before the day it is signed, {day(today)}: work already done stays judged."
        )
        raise Refused("backdated", sentence, field="valid_from")
    if first > today + AHEAD:
        sentence = f"A certificate may begin at the latest on {day(today + AHEAD)}. Issue it nearer to the day."
        raise Refused("too-early", sentence, field="valid_from")
    longest = last_day(first, skill.valid_months)
    if last < first:
        raise Refused("ends-first", "The last day lies before the first. Check both dates.", field="valid_to")
    if last > longest:
        sentence = f"{skill.name} lasts {skill.valid_months} months: to {day(longest)} at the latest."
        raise Refused("too-long", sentence, field="valid_to")


def _refuse_standing(person: Person, skill: Skill, at: datetime) -> None:
    book = register([person], at)
    held = book.holding(person, skill.code)
    if held is not None and held.state == State.SUSPENDED:
        sentence = f"{skill.name} of {person.name} is suspended. Reinstate or withdraw it first, with the reason."
        raise Refused("suspended", sentence, field="skill")
    for need in book.needs[skill.code]:
        trouble = book.skill_trouble(person, need)
        if trouble is not None:
            sentence = f"{skill.name} is built on {book.skills[need].name}. {trouble.sentence}"
            raise Refused("needs-first", f"{sentence} Certify that first.", field="skill")


def _next_number(person: Person) -> str:
    """A number of the plant's own, free also where imported certificates brought theirs."""
    n = Certificate.objects.filter(person=person).count() + 1
    while Certificate.objects.filter(number=f"C-{person.staff_no}-{n}").exists():
        n += 1
    return f"C-{person.staff_no}-{n}"
