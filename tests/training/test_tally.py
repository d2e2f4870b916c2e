"""Counting who may do what over a whole plant says the same as asking for each person."""

import random
from datetime import timedelta

import pytest

from plant.people.models import Person
from tests import make
from tests.make import AT
from training.grid import shift_grid, works
from training.models import CertificateAct
from training.queries import register
from training.tally import tally

pytestmark = [pytest.mark.django_db, pytest.mark.db_both]
SKILLS = ("aware", "apply", "check", "size", "food", "medical", "hot")


def random_plant(draw: random.Random, count: int) -> None:
    """Certificates that lapsed, run, begin later, overlap, and were suspended, reinstated or withdrawn."""
    author = make.person("Author", "supervisor")
    for number in range(count):
        outside = draw.random() < 0.05
        person = make.person(
            f"P{number:03d}",
            *(["guest"] if draw.random() < 0.05 else ["operator"]),
            employer="outside" if outside else "plant",
        )
        for skill in SKILLS:
            for _ in range(draw.choice((0, 1, 1, 2))):
                since = AT.date() + timedelta(days=draw.randint(-400, 40))
                held = make.certificate(person, skill, since=since, until=since + timedelta(days=draw.randint(0, 500)))
                at = AT - timedelta(days=draw.randint(-2, 30))
                for kind in draw.choice((*[()] * 6, ("suspended",), ("suspended", "reinstated"), ("withdrawn",))):
                    at += timedelta(minutes=1)
                    CertificateAct.objects.create(certificate=held, kind=kind, at=at, by=author, reason="drawn")


def test_the_count_agrees_with_the_answer_for_each_person_on_a_random_plant(cast) -> None:
    make.plant()
    random_plant(random.Random(20260325), 60)
    people = Person.objects.all()
    book, found = register(people, AT), tally(people, AT)
    for work in works():
        one_by_one = {person.pk for person in people if book.allows(person, work.skill, work.room_kind, hot=work.hot)}
        judged = {person.pk for person in people if book.judge(person, work.skill, work.room_kind, hot=work.hot).ok}
        assert found.able(work.skill, work.room_kind, hot=work.hot) == one_by_one == judged, work


def test_the_rows_are_those_of_the_page_and_the_counts_those_of_everybody(cast) -> None:
    make.plant()
    for number in range(70):
        make.person(f"P{number:03d}", "operator", skills="aware apply")
    first, second = shift_grid(AT, everybody=True), shift_grid(AT, everybody=True, page=2)
    assert (len(first.rows), len(second.rows), first.of) == (60, 10, 70)
    assert first.counts == second.counts
    assert first.counts[0] == 70
    assert [work.label for work in first.gaps][:1] == ["Apply"]  # in food rooms
    assert shift_grid(AT, everybody=True, search="p00").of == 10
