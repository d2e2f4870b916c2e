"""Telling supervisors before it bites: a certificate that ends on shift, and a shift that nobody covers."""

from datetime import datetime, timedelta

from django.db import transaction
from django.urls import reverse

from plant.audit.services import record
from plant.floor.models import Shift
from plant.floor.queries import plant_zone, the_plant
from plant.people.models import Person, Role
from plant.people.queries import people_with_role
from training.models import Note
from training.rules_practice import LAPSE_WARNING
from training.sentences import moment, names
from training.shifts_ahead import lapsing_on_shift, shifts_ahead

# A gap is told so long before the shift begins, when a crew can still be changed.
GAP_TOLD = timedelta(hours=24)


@transaction.atomic
def warn_of_lapses(at: datetime, *, until_next: timedelta = timedelta(0)) -> int:
    """Half an hour before a person on shift lapses, the supervisors on that shift are told (all, where none is).

    `until_next` is how long it is to the next call: half an hour is the least, not the most.
    """
    zone, notes = plant_zone(), []
    for shift, certificate, ends in lapsing_on_shift(at, LAPSE_WARNING + until_next):
        person = certificate.person
        verb = "ends" if ends > at else "ended"
        sentence = (
            f"{person.name} is on shift, and the {certificate.skill.name} certificate {certificate.number} {verb} on "
            f"{moment(ends, zone)}. A step begun before may be finished to a safe state; no other may be begun."
        )
        to = _supervisors(shift, at, without=person)
        notes += _notes(to, f"lapse:{certificate.pk}:{shift.pk}", sentence, "training:person", [person.pk], at)
    return _send(notes, "a certificate that ends on shift", at)


@transaction.atomic
def warn_of_gaps(at: datetime) -> int:
    """A shift begins within a day and nobody of its crew may do some work: the supervisors are told."""
    notes = []
    for ahead in shifts_ahead(at, days=1):
        gaps = ahead.gaps
        if not gaps or ahead.shift.starts_at > at + GAP_TOLD:
            continue
        what = names([f"{work.label} in {work.place}" for work in gaps], most=9)
        shift = ahead.shift
        sentence = f"{shift.name} of {shift.date.day} {shift.date:%B}: nobody of the crew may {what}. Change the crew."
        key = f"gap:{shift.pk}:" + "+".join(sorted(work.code for work in gaps))
        to = _supervisors(shift, at, without=None)
        notes += _notes(to, key[:120], sentence[:400], "training:coverage", [], at)
    return _send(notes, "work that nobody of a crew may do", at)


def _supervisors(shift: Shift, at: datetime, *, without: Person | None) -> list[Person]:
    everyone = [each for each in people_with_role(Role.SUPERVISOR, at=at) if without is None or each.pk != without.pk]
    crew = {each.pk for each in shift.crew.all()}
    return [each for each in everyone if each.pk in crew] or everyone


def _notes(to: list[Person], key: str, sentence: str, page: str, parts: list[int], at: datetime) -> list[Note]:
    address = reverse(page, args=parts)
    return [Note(to=each, key=key, sentence=sentence, address=address, at=at) for each in to]


def _send(notes: list[Note], about: str, at: datetime) -> int:
    """Write what was not written yet; one event where anything was."""
    known = set(Note.objects.filter(key__in={each.key for each in notes}).values_list("to", "key"))
    fresh = [each for each in notes if (each.to_id, each.key) not in known]
    if not fresh:
        return 0
    Note.objects.bulk_create(fresh, ignore_conflicts=True)
    told = names(sorted({each.to.name for each in fresh}), most=9)
    record(
        stream="training",
        action="warn",
        subject=the_plant(),
        sentence=f"{told} told of {about}",
        by=None,
        at=at,
        facts={"notes": sorted({each.key for each in fresh})},
    )
    return len(fresh)
