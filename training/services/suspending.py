"""Suspending, reinstating and withdrawing certificates: at once, with a reason."""

from collections.abc import Collection
from datetime import datetime

from django.db import transaction

from plant.audit.services import record
from plant.errors import Refused
from plant.floor.queries import plant_zone
from plant.people.access import names_of, require_role
from plant.people.models import Person, Role
from plant.people.queries import people_with_role
from training.models import Certificate, CertificateAct, Skill
from training.queries import state_of, with_acts
from training.rules import State
from training.sentences import names
from training.services.dues import settle_dues
from training.services.refreshers import suspending_open

STREAM = "training"
MAY = (Role.SUPERVISOR, Role.QA, Role.TRAINER)


@transaction.atomic
def suspend(certificate: Certificate, *, reason: str, by: Person, at: datetime) -> list[CertificateAct]:
    """Stop a skill of a person from this moment on, also in the middle of a job.

    Every certificate of the same skill that could still count is suspended, so that a renewal is no way
    round.
    """
    _refuse_author(by, at, reason, "Suspending a certificate")
    running = _of_the_skill(certificate, at, {State.VALID, State.NOT_YET})
    if not running:
        raise _nothing_to_do(certificate, at, "suspend")
    return _write(running, CertificateAct.Kind.SUSPENDED, reason, by, at, _what_stops(certificate.skill))


@transaction.atomic
def reinstate(certificate: Certificate, *, reason: str, by: Person, at: datetime) -> list[CertificateAct]:
    """Let a suspended skill count again; never one's own."""
    _refuse_author(by, at, reason, "Reinstating a certificate")
    if certificate.person_id == by.pk:
        others = [other for other in people_with_role(*MAY, at=at) if other.pk != by.pk]
        who = f"{names_of(others)} can." if others else "Ask the system keeper to give somebody else the role."
        raise Refused("own-certificate", f"Nobody reinstates his or her own certificate. {who}")
    waits = suspending_open(certificate.person, certificate.skill)
    if waits is not None:
        sentence = (
            f"{certificate.skill.name} of {certificate.person.name} waits for a refresher "
            f"({waits.get_kind_display()}, {waits.reason.rstrip('. ')}). A trainer or assessor says when it is done; "
            "then it counts again."
        )
        raise Refused("refresher-open", sentence)
    suspended = _of_the_skill(certificate, at, {State.SUSPENDED})
    if not suspended:
        raise _nothing_to_do(certificate, at, "reinstate")
    return _write(suspended, CertificateAct.Kind.REINSTATED, reason, by, at, "")


@transaction.atomic
def withdraw(certificate: Certificate, *, reason: str, by: Person, at: datetime) -> list[CertificateAct]:
    """End a skill of a person for good; only a new certificate brings it back."""
    _refuse_author(by, at, reason, "Withdrawing a certificate")
    running = _of_the_skill(certificate, at, {State.VALID, State.NOT_YET, State.SUSPENDED})
    if not running:
        raise _nothing_to_do(certificate, at, "withdraw")
    return _write(running, CertificateAct.Kind.WITHDRAWN, reason, by, at, _what_stops(certificate.skill))


def _refuse_author(by: Person, at: datetime, reason: str, act: str) -> None:
    require_role(by, *MAY, at=at, act=act)
    if len(reason.strip()) < 5:
        raise Refused("no-reason", "Say why; the person concerned and the supervisor read it.", field="reason")
    if len(reason.strip()) > 300:
        raise Refused("long-reason", "The reason may have 300 characters. Say it shorter.", field="reason")


def _of_the_skill(certificate: Certificate, at: datetime, wanted: Collection[State]) -> list[Certificate]:
    """The person's certificates of that skill in one of these states; the person is locked."""
    Person.objects.select_for_update().get(pk=certificate.person_id)
    zone = plant_zone()
    of_skill = with_acts().filter(person=certificate.person_id, skill=certificate.skill_id)
    return [each for each in of_skill if state_of(each, at, zone) in wanted]


def _nothing_to_do(certificate: Certificate, at: datetime, verb: str) -> Refused:
    now = state_of(with_acts().get(pk=certificate.pk), at, plant_zone())
    word = {State.NOT_YET: "not yet valid"}.get(now, now.value)
    sentence = f"{certificate.number} is {word} now; there is nothing to {verb}. Look at the page again."
    return Refused(f"nothing-to-{verb}", sentence)


def _what_stops(skill: Skill) -> str:
    """What is built on the skill and stops with it, as the end of a sentence."""
    found: list[Skill] = []
    layer = [skill]
    while layer:
        layer = list(Skill.objects.filter(needs__in=layer).exclude(pk__in=[each.pk for each in found]).distinct())
        found += layer
    return f"; {names([each.name for each in found], most=9)} built on it stop too" if found else ""


def _write(
    certificates: list[Certificate], kind: CertificateAct.Kind, reason: str, by: Person, at: datetime, more: str
) -> list[CertificateAct]:
    reason = reason.strip()
    acts = [
        CertificateAct.objects.create(certificate=each, kind=kind, at=at, by=by, reason=reason) for each in certificates
    ]
    first = certificates[0]
    numbers = names([each.number for each in certificates], most=9)
    record(
        stream=STREAM,
        action={"suspended": "suspend", "reinstated": "reinstate", "withdrawn": "withdraw"}[kind] + "-certificate",
        subject=first.person,
        sentence=f"{first.skill.name} of {first.person.name} ({numbers}) {kind.value}{more}",
        by=by,
        at=at,
        facts={"certificates": [each.number for each in certificates], "skill": first.skill.code},
        reason=reason,
    )
    settle_dues([first.person], at)
    return acts
