"""The grid of who may do what now: persons on shift by the work there is."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta

from django.db.models import Q, QuerySet

from plant.floor.models import RoomKind, Shift
from plant.people.models import Person
from plant.people.queries import active_people
from training.models import Certificate
from training.queries import Register, Standing, register
from training.standard_skills import APPLY, CHECK, HOT, IN_THE_ROOM, ROOM_ADD_ON, SIZE
from training.tally import tally

# How long before its end a certificate is pointed out on the grid (our own default).
ENDS_SOON = timedelta(days=30)
PER_PAGE = 60
SHORT = {
    "never-certified": "no",
    "not-yet-valid": "not yet",
    "lapsed": "lapsed",
    "suspended": "suspended",
    "withdrawn": "withdrawn",
    "add-on-missing": "no add-on",
    "add-on-not-yet-valid": "add-on not yet",
    "add-on-lapsed": "add-on lapsed",
    "add-on-suspended": "add-on suspended",
    "add-on-withdrawn": "add-on withdrawn",
    "outside": "guest",
}
# Where nothing was ever lost there is nothing to mend: these read as an empty place, not as a refusal.
NEVER_HELD = frozenset({"never-certified", "add-on-missing", "outside"})


@dataclass(frozen=True)
class Work:
    """A column: a skill, where it is used."""

    label: str
    place: str
    skill: str
    room_kind: str = RoomKind.GENERAL.value
    hot: bool = False

    @property
    def code(self) -> str:
        """A short name for addresses and keys."""
        return f"{self.skill}-hot" if self.hot else f"{self.skill}-{self.room_kind}"


@dataclass(frozen=True)
class Cell:
    """One person, one work: the mark, the word beside it, and the whole sentence."""

    mark: str
    word: str
    sentence: str


@dataclass(frozen=True)
class Grid:
    """Rows of persons, with for every column how many may."""

    works: list[Work]
    rows: list[tuple[Person, list[Cell]]]
    counts: list[int]
    of: int = 0

    @property
    def gaps(self) -> list[Work]:
        """Work that nobody of these persons may do."""
        return [work for work, count in zip(self.works, self.counts, strict=True) if not count] if self.of else []

    @property
    def reasons(self) -> list[str]:
        """Why somebody may no more or not yet, each sentence once."""
        said = (cell.sentence for _, cells in self.rows for cell in cells if cell.mark == "refused")
        return list(dict.fromkeys(said))


def works() -> list[Work]:
    """The columns, in the order of the work."""
    rooms = [(RoomKind.GENERAL.value, "general rooms"), *((kind, f"{kind} rooms") for kind in ROOM_ADD_ON)]
    hands = [(code, label) for code, label in ((APPLY, "Apply"), (CHECK, "Check")) if code in IN_THE_ROOM]
    found = [Work(label, place, code, kind) for code, label in hands for kind, place in rooms]
    return [*found, Work("Apply", "hot rollers", APPLY, hot=True), Work("Size", "recipes", SIZE)]


def _cell(found: Standing, ending: Sequence[Certificate]) -> Cell:
    if not found.ok:
        word = SHORT.get(found.code, found.code)
        return Cell("not-evaluated" if found.code in NEVER_HELD else "refused", word, found.sentence)
    if ending:
        last = min(each.valid_to for each in ending)
        return Cell("caution", f"to {last.day} {last:%b}", found.sentence)
    return Cell("fits", "may", found.sentence)


def shift_grid(
    at: datetime,
    *,
    everybody: bool = False,
    search: str = "",
    shift: str = "",
    skill: str = "",
    page: int = 1,
) -> Grid:
    """Who of the present shift (or of the whole plant) may do what at this moment.

    The counts are of everybody who was asked for; the rows are those of the page.
    """
    found = active_people(at).exclude(employer=Person.Employer.OUTSIDE).order_by("name", "pk")
    if not everybody:
        found = found.filter(shifts__in=Shift.objects.filter(starts_at__lte=at, ends_at__gt=at)).distinct()
    if search:
        found = found.filter(Q(name__icontains=search) | Q(staff_no=search))
    if shift:
        found = found.filter(home_shift=shift)
    asked = frozenset(found.values_list("pk", flat=True))
    columns = [work for work in works() if not skill or work.skill == skill]
    shown = list(found[(page - 1) * PER_PAGE : page * PER_PAGE])
    book = register(shown, at)
    counts = _counts(columns, book, shown) if len(asked) == len(shown) else _totals(columns, found, asked, at)
    soon = (at + ENDS_SOON).astimezone(book.zone).date()
    rows = [(each, [_asked(book, each, work, soon) for work in columns]) for each in shown]
    return Grid(columns, rows, counts, len(asked))


def _counts(columns: list[Work], book: Register, persons: list[Person]) -> list[int]:
    """How many of the persons on the page, where that is everybody."""
    return [sum(book.allows(each, work.skill, work.room_kind, hot=work.hot) for each in persons) for work in columns]


def _totals(columns: list[Work], found: QuerySet[Person], asked: frozenset[int], at: datetime) -> list[int]:
    """How many of everybody who was asked for, beyond the page."""
    totals = tally(found, at)
    return [len(asked & totals.able(work.skill, work.room_kind, hot=work.hot)) for work in columns]


def _asked(book: Register, person: Person, work: Work, soon: date) -> Cell:
    found = book.judge(person, work.skill, work.room_kind, hot=work.hot)
    hot = book.holding(person, HOT) if work.hot else None
    behind = [found.certificate, found.add_on, hot.certificate if hot else None]
    return _cell(found, [each for each in behind if each is not None and each.valid_to <= soon])
