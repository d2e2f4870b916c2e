"""Who is missing on the shifts to come, and whose certificate ends while he or she works. Reads only."""

from dataclasses import dataclass
from datetime import datetime, timedelta

from plant.floor.models import Shift
from plant.floor.queries import room_kinds, shifts_after
from plant.people.models import Person
from training.grid import Work, works
from training.models import Certificate
from training.queries import Register, register
from training.rules import State, lapses_at
from training.rules_practice import LAPSE_WARNING
from training.standard_skills import IN_THE_ROOM

AHEAD_DAYS = 7


@dataclass(frozen=True)
class Covered:
    """One work on one shift: who of the crew may do it as the shift begins, and who no more when it ends."""

    work: Work
    able: list[Person]
    ending: list[Person]

    @property
    def gap(self) -> bool:
        """Nobody of the crew may do it."""
        return not self.able


@dataclass(frozen=True)
class ShiftAhead:
    """A shift to come, with what its crew can do."""

    shift: Shift
    crew: list[Person]
    works: list[Covered]

    @property
    def gaps(self) -> list[Work]:
        """Work that nobody of a planned crew may do; an empty crew is not planned yet.

        A hot roller is rare and planned for: its column says nobody, and nobody is alarmed by it.
        """
        return [each.work for each in self.works if each.gap and not each.work.hot] if self.crew else []


def works_here(at: datetime) -> list[Work]:
    """The works with hands on a roller, in the kinds of room that this plant has; desk work waits for the day."""
    kinds = {"general", *room_kinds(at).values()}
    return [work for work in works() if work.room_kind in kinds and work.skill in IN_THE_ROOM]


def shifts_ahead(at: datetime, *, days: int = AHEAD_DAYS) -> list[ShiftAhead]:
    """The shifts of the next days, each judged at its own beginning and end. A fixed number of queries."""
    shifts = list(shifts_after(at, days=days).prefetch_related("crew"))
    crews = {shift.pk: sorted(shift.crew.all(), key=lambda each: (each.name, each.pk)) for shift in shifts}
    people = {person.pk: person for crew in crews.values() for person in crew}
    book, columns = register(people.values(), at), works_here(at)
    return [_ahead(shift, crews[shift.pk], columns, book) for shift in shifts]


def _ahead(shift: Shift, crew: list[Person], columns: list[Work], book: Register) -> ShiftAhead:
    begins, ends = book.at_moment(shift.starts_at), book.at_moment(shift.ends_at)
    found = []
    for work in columns:
        able = [each for each in crew if begins.allows(each, work.skill, work.room_kind, hot=work.hot)]
        ending = [each for each in able if not ends.allows(each, work.skill, work.room_kind, hot=work.hot)]
        found.append(Covered(work, able, ending))
    return ShiftAhead(shift, crew, found)


def lapsing_on_shift(at: datetime, ahead: timedelta = LAPSE_WARNING) -> list[tuple[Shift, Certificate, datetime]]:
    """Certificates of persons on shift that end so soon, or ended since the shift began, unrenewed."""
    shifts = list(Shift.objects.filter(starts_at__lte=at, ends_at__gt=at).prefetch_related("crew"))
    people = {person.pk: person for shift in shifts for person in shift.crew.all()}
    soon = register(people.values(), at)
    found = []
    for shift in shifts:
        for person in shift.crew.all():
            if soon.absent(person):
                continue
            for code in soon.held.get(person.pk, {}):
                held = soon.at_moment(shift.starts_at).holding(person, code)
                if held is None or held.state != State.VALID:
                    continue
                ends = lapses_at(held.certificate.valid_to, soon.zone)
                if ends - ahead <= at and ends < shift.ends_at and not _carried_on(soon, person, code, ends):
                    found.append((shift, held.certificate, ends))
    return found


def _carried_on(book: Register, person: Person, code: str, ends: datetime) -> bool:
    """A renewal takes over at that moment."""
    held = book.at_moment(ends).holding(person, code)
    return held is not None and held.state == State.VALID
