"""Issuing certificates, and taking them over from written evidence at the start of records."""

import secrets
from datetime import date, datetime, timedelta
from typing import Any
from zoneinfo import ZoneInfo

from django.db import transaction

from plant.audit.services import Confirmation, record, sign
from plant.errors import Refused
from plant.floor.queries import plant_date, plant_zone
from plant.people.access import names_of, require_role
from plant.people.models import Person, Role
from plant.people.queries import people_with_role
from training.grounds import Grounds
from training.models import Certificate, CertificateCard, Skill
from training.queries import register, state_of, with_acts
from training.rules import State
from training.rules_due import DueRule, Period, next_due
from training.sentences import day
from training.services.dues import settle_dues

STREAM = "training"
ISSUERS = (Role.TRAINER, Role.ASSESSOR, Role.QA)
IMPORTERS = (Role.KEEPER, Role.QA, Role.TRAINER)
# How far ahead a certificate may begin: the window for early renewal (our own default).
AHEAD = timedelta(days=60)


def content_of(certificate: Certificate) -> dict[str, Any]:
    """What the issuer signs; any other content reads *not for this version*."""
    counted = {}
    if certificate.rule_version:  # certificates of before have none, and their signatures stay good
        counted = {
            "rule": certificate.rule,
            "rule_version": certificate.rule_version,
            "anchor": certificate.anchor,
            "grounds": certificate.grounds,
        }
    return counted | {
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
    completed_on: date | None = None,
    grounds: Grounds | None = None,
) -> Certificate:
    """Certify a person for a skill; trainer, assessor or QA signs, never the person concerned.

    Parameters
    ----------
    valid_to : a nearer last day than the rule of the skill gives; left out, the rule decides.
    completed_on : the day on which the last thing asked for was done; left out, the day of signing.
    grounds : the rows it stands on.
    """
    by, at = confirmation.person, confirmation.at
    require_role(by, *ISSUERS, at=at, act="Issuing a certificate")
    person, skill = _subject(person, skill_code, by, at, ISSUERS)
    _refuse_evidence(evidence)
    previous = renewed_by_now(person, skill, at)
    period = period_of(skill, valid_from, previous, completed_on, at)
    ends = period.valid_to if valid_to is None else valid_to
    _refuse_days(skill, valid_from, ends, period.valid_to, at)
    _refuse_standing(person, skill, at)
    chosen = ends != period.valid_to
    certificate = Certificate.objects.create(
        person=person,
        skill=skill,
        number=_next_number(person),
        valid_from=valid_from,
        valid_to=ends,
        evidence=evidence.strip(),
        issued_at=at,
        issued_by=by,
        rule="" if chosen else skill.due_rule,
        rule_version=skill.rule_version,
        anchor=None if chosen else period.anchor,
        renews=previous,
        grounds=grounds.as_dict() if grounds else {},
    )
    give_card(certificate, at)
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
    settle_dues([person], at)
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
    give_card(certificate, at)
    settle_dues([person], at)
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


def renewed_by_now(person: Person, skill: Skill, at: datetime) -> Certificate | None:
    """The certificate that a new one renews: whichever ends last and was not withdrawn."""
    zone = plant_zone()
    found = [each for each in with_acts().filter(person=person, skill=skill) if _stands(each, at, zone)]
    return max(found, key=lambda each: (each.valid_to, each.pk), default=None)


def _stands(certificate: Certificate, at: datetime, zone: ZoneInfo) -> bool:
    return state_of(certificate, at, zone) != State.WITHDRAWN


def period_of(
    skill: Skill, valid_from: date, previous: Certificate | None, completed_on: date | None, at: datetime
) -> Period:
    """The last day that the rule of the skill gives, and its anchor."""
    today = plant_date(at)
    if completed_on is not None and completed_on > today:
        sentence = f"The day of completion lies after today, {day(today)}. Enter the day on which all was done."
        raise Refused("not-done", sentence, field="completed_on")
    before = Period(previous.valid_to, previous.anchor or previous.valid_to) if previous else None
    done = completed_on or (today if before and before.valid_to >= today else valid_from)
    return next_due(
        DueRule(skill.due_rule),
        done,
        months=skill.valid_months,
        previous=before,
        window_days=skill.window_days,
    )


def give_card(certificate: Certificate, at: datetime) -> CertificateCard:
    """The opaque address that is printed on the card; made once."""
    return CertificateCard.objects.get_or_create(
        certificate=certificate, defaults={"token": secrets.token_urlsafe(24), "made_at": at}
    )[0]


def _refuse_days(skill: Skill, first: date, last: date, longest: date, at: datetime) -> None:
    today = plant_date(at)
    if first < today:
        sentence = (
            f"A certificate cannot begin before the day it is signed, {day(today)}: work already done stays judged."
        )
        raise Refused("backdated", sentence, field="valid_from")
    if first > today + AHEAD:
        sentence = f"A certificate may begin at the latest on {day(today + AHEAD)}. Issue it nearer to the day."
        raise Refused("too-early", sentence, field="valid_from")
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
