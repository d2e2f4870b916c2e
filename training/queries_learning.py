"""Reads for the pages of learning: classes ahead, the practice log, and how it goes over all."""

from datetime import datetime

from django.db.models import QuerySet

from plant.floor.models import Position
from plant.people.models import Person
from training.models import AttemptResult, Coaching, Practice, Session, Verdict
from training.queries_practicals import PassRow, pass_rows


def classes_ahead(person: Person, at: datetime) -> QuerySet[Session]:
    """Classes to which a person is invited and that are not over."""
    rows = Session.objects.filter(invited=person, ends_at__gte=at, cancelled_at=None)
    return rows.select_related("skill", "trainer").order_by("starts_at")


def practice_log(person: Person) -> QuerySet[Practice]:
    """What a person practised, the newest first."""
    return Practice.objects.filter(person=person).select_related("skill", "by", "signature")


def coachings_of(person: Person) -> QuerySet[Coaching]:
    """Talks with a trainer."""
    return Coaching.objects.filter(person=person).select_related("skill", "by").order_by("-at")


def test_rates() -> list[PassRow]:
    """Pass rates of the tests."""
    rows = AttemptResult.objects.order_by("at", "pk").values_list("attempt__skill__name", "attempt__person", "passed")
    return pass_rows(list(rows))


def practical_rates() -> list[PassRow]:
    """Pass rates of the practicals, without those broken off."""
    rows = Verdict.objects.exclude(outcome=Verdict.Outcome.BROKEN_OFF).order_by("at", "pk")
    named = rows.values_list("assessment__skill__name", "assessment__person", "outcome")
    return pass_rows([(skill, person, outcome == Verdict.Outcome.PASSED) for skill, person, outcome in named])


def rollers_to_draw(line: str = "") -> list[str]:
    """Codes of the positions that may carry tape, of one line where it is named."""
    rows = Position.objects.select_related("line").filter(line__in_use=True)
    return sorted(each.code for each in rows if not each.never_taped and (not line or each.line.code == line))
