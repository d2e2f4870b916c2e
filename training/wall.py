"""The due wall: what is due in 30, 60 and 90 days, and what is overdue. Reads only."""

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, datetime

from django.db.models import QuerySet
from django.utils.translation import gettext, ngettext

from plant.floor.queries import plant_date
from plant.people.models import Person
from training.models import Due, Skill
from training.rules_due import Tier, tier
from training.rules_practice import column
from training.sentences import names

COLUMNS = (
    ("overdue", "Overdue", "refused"),
    ("30", "Within 30 days", "caution"),
    ("60", "31 to 60 days", "notice"),
    ("90", "61 to 90 days", "fits"),
)
CARDS_SHOWN = 40


@dataclass(frozen=True)
class DueCard:
    """What one person has to do of one kind by one day, for one skill or several."""

    person: Person
    kind: str
    word: str
    due_on: date
    left: int
    skills: str
    reasons: list[str]
    dues: list[Due]

    @property
    def when(self) -> str:
        """How far the day is away, in words."""
        if self.left < 0:
            return ngettext("%(n)s day ago", "%(n)s days ago", -self.left) % {"n": -self.left}
        if self.left < 2:
            return gettext("tomorrow" if self.left else "today")
        return gettext("in %(n)s days") % {"n": self.left}


@dataclass(frozen=True)
class WallColumn:
    """A column with its cards; `more` did not fit on the page."""

    code: str
    title: str
    mark: str
    count: int
    people: int
    cards: list[DueCard]

    @property
    def more(self) -> int:
        """Cards that the page leaves out."""
        return self.count - len(self.cards)


def home_shifts() -> list[str]:
    """The shifts that persons belong to."""
    found = Person.objects.exclude(home_shift="").values_list("home_shift", flat=True)
    return list(found.distinct().order_by("home_shift"))


def open_dues(*, kind: str = "", skill: str = "", shift: str = "", search: str = "") -> QuerySet[Due]:
    """What is due, the nearest first."""
    found = (
        Due.objects.filter(closed_at=None).select_related("person", "skill").order_by("due_on", "person__name", "pk")
    )
    if kind:
        found = found.filter(kind=kind)
    if skill:
        found = found.filter(skill__code=skill)
    if shift:
        found = found.filter(person__home_shift=shift)
    return found.filter(person__name__icontains=search) if search else found


def cards_of(dues: Iterable[Due], today: date) -> list[DueCard]:
    """Dues of one person, kind and day on one card."""
    groups: dict[tuple[date, int, str], list[Due]] = defaultdict(list)
    for due in dues:
        groups[due.due_on, due.person_id, due.kind].append(due)
    return [_card(group, today) for group in groups.values()]


def _card(group: list[Due], today: date) -> DueCard:
    first = group[0]
    left = (first.due_on - today).days
    word = first.get_kind_display()
    if first.kind == Due.Kind.FOUNDING:
        word = "assessed again by another"
    return DueCard(
        first.person,
        first.kind,
        word,
        first.due_on,
        left,
        names([due.skill.name for due in group], most=9),
        [due.reason for due in group],
        group,
    )


def due_wall(at: datetime, **chosen: str) -> list[WallColumn]:
    """The four columns, in two queries."""
    today = plant_date(at)
    chosen_dues = open_dues(**chosen)
    groups: dict[str, dict[tuple[date, int, str], list[int]]] = {code: defaultdict(list) for code, _, _ in COLUMNS}
    # Keys first: of thousands of dues only those on the page are read whole.
    for key, due_on, person, of_kind in chosen_dues.values_list("pk", "due_on", "person", "kind"):
        groups[column(due_on, today)][due_on, person, of_kind].append(key)
    wanted = [key for cards in groups.values() for keys in list(cards.values())[:CARDS_SHOWN] for key in keys]
    rows = {due.pk: due for due in Due.objects.filter(pk__in=wanted).select_related("person", "skill")}
    found = []
    for code, title, mark in COLUMNS:
        cards = [_card([rows[key] for key in keys], today) for keys in list(groups[code].values())[:CARDS_SHOWN]]
        people = len({person for _, person, _ in groups[code]})
        found.append(WallColumn(code, title, mark, len(groups[code]), people, cards))
    return found


def takes(skill: Skill, valid_to: date, today: date) -> Tier:
    """What a renewal of a certificate takes today."""
    return tier(valid_to, today, skill.late_days)
