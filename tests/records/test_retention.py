"""How long records are kept, and what a signed order removes: only that, with a digest left behind."""

import hashlib
from datetime import timedelta

import pytest
from django.db import DatabaseError, connection, transaction
from django.urls import reverse

from plant.audit.models import Event
from plant.audit.verification.whole import verify
from plant.errors import Conflict, Forbidden, Refused
from plant.records.models import Purged, PurgeOrder
from plant.records.rules import due_before, years_to_keep
from plant.records.services.retaining import digest_in, export_due, kept_for, purge, raise_retention
from plant.web import clock
from tests import make
from training.models import Answer, Attempt, AttemptResult, Drawn, Pick, Question, QuestionVersion, Skill

pytestmark = [pytest.mark.django_db, pytest.mark.db_both]
LONG_AGO = make.AT - timedelta(days=3 * 366)


@pytest.mark.parametrize(
    ("medical", "set_years", "life", "years"),
    [
        (False, None, None, 7),
        (False, 10, None, 10),
        (False, 2, None, 7),
        (False, None, 20, 7),
        (True, None, None, 7),
        (True, None, 5, 7),
        (True, None, 10, 11),
        (True, 15, 10, 15),
    ],
)
def test_records_are_kept_seven_years_or_product_life_and_one_in_medical_rooms(medical, set_years, life, years):
    """Our own defaults; ISO 13485 clause 4.2.5 asks for the life of the device and no less than two years."""
    assert years_to_keep(medical=medical, set_years=set_years, product_life_years=life, default=7) == years


def test_three_years_before_a_leap_day_is_the_last_of_february():
    assert due_before(make.AT.replace(year=2028, month=2, day=29), 3).date().isoformat() == "2025-02-28"


def answers_of(person, at, count=4):
    """A test that was handed in at a time: rows as the training keeps them."""
    attempt = Attempt.objects.create(
        person=person,
        skill=Skill.objects.get(code="apply"),
        paper={},
        seed="1",
        lang="en",
        began_at=at,
        closes_at=at + timedelta(hours=1),
    )
    result = AttemptResult.objects.create(attempt=attempt, at=at, right=count, asked=count, safety_wrong=0, passed=True)
    made = []
    for place in range(count):
        question = Question.objects.create(code=f"q{attempt.pk}-{place}")
        version = QuestionVersion.objects.create(
            question=question,
            number=1,
            lang="en",
            topic="causes",
            safety=False,
            text="?",
            options=["a", "b", "c", "d"],
            answer=place % 4,
            why="because",
            skills=["apply"],
            digest="0" * 64,
            laid_at=at,
        )
        drawn = Drawn.objects.create(attempt=attempt, place=place, version=version, order=[0, 1, 2, 3])
        Pick.objects.create(drawn=drawn, shown=place % 4, at=at)
        made.append(Answer.objects.create(drawn=drawn, result=result, chosen=place % 4, right=True))
    return made


@pytest.fixture
def answered(cast, monkeypatch):
    monkeypatch.setattr(clock, "now", lambda: make.AT)
    make.plant()
    return answers_of(cast.ines, LONG_AGO), answers_of(cast.mei, make.AT - timedelta(days=30))


def exported(cast):
    return export_due("answers", by=cast.keeper, at=make.AT)


def ordered(cast, order, **changes):
    given = {"kept_where": "safe of QA, folder 12", "reason": "three years are over"} | changes
    return purge(order, **given, confirmation=make.confirmation(cast.yuki))


def test_a_signed_order_empties_exactly_what_was_exported_and_verification_says_by_which_order(cast, answered):
    old, young = answered
    order, file = exported(cast)
    assert Answer.objects.filter(chosen=None).count() == 0
    ordered(cast, order)
    assert {answer.pk for answer in Answer.objects.filter(chosen=None)} == {answer.pk for answer in old}
    assert set(Pick.objects.values_list("drawn__answer", flat=True)) == {answer.pk for answer in young}
    assert Answer.objects.filter(right=True).count() == 8  # that it was right or wrong stays
    lines = file.splitlines()
    assert {digest_in(line) for line in lines} == set(Purged.objects.values_list("digest", flat=True))
    assert hashlib.sha256(file).hexdigest() == order.export_digest
    found = verify()
    assert [str(misfit) for misfit in found.misfits if not misfit.where.startswith("role ")] == []
    assert found.purged == [
        "4 rows of training_answer (which option a person chose in a test) purged by order "
        f"{order.pk}, export kept elsewhere"
    ]
    event = Event.objects.get(action="purge")
    assert event.actor == cast.yuki and event.reason == "three years are over"


def test_what_is_left_behind_does_not_tell_what_was_chosen(cast, answered):
    """A digest of one of four options alone could be found by trying; the salt stands in the export only."""
    order, _ = exported(cast)
    ordered(cast, order)
    kept = str(list(PurgeOrder.objects.values())) + str(list(Event.objects.values()))
    assert '"chosen"' not in kept and "salt" not in kept


def test_nothing_is_removed_without_an_export_a_place_a_reason_and_qa(cast, answered):
    order, _ = exported(cast)
    with pytest.raises(Refused, match="where the export is kept"):
        ordered(cast, order, kept_where=" ")
    with pytest.raises(Refused, match="Say why it is removed"):
        ordered(cast, order, reason="old")
    with pytest.raises(Forbidden):
        purge(order, kept_where="safe of QA", reason="three years", confirmation=make.confirmation(cast.keeper))
    assert Answer.objects.filter(chosen=None).count() == 0
    ordered(cast, order)
    with pytest.raises(Conflict, match="carried out already"):
        ordered(cast, order)
    with pytest.raises(Refused, match="Nothing is older than 2023-03-25"):
        exported(cast)


def test_an_order_whose_rows_are_no_longer_due_is_not_carried_out(cast, answered):
    order, _ = exported(cast)
    longer = {"years": 5, "product_life_years": None, "reason": "the works council asked for it"}
    raise_retention("answers", None, **longer, confirmation=make.confirmation(cast.yuki))
    with pytest.raises(Conflict, match="no longer due"):
        ordered(cast, order)
    assert Answer.objects.filter(chosen=None).count() == 0


def refused(sql, params=()):
    with pytest.raises(DatabaseError), transaction.atomic(), connection.cursor() as cursor:
        cursor.execute(sql, params)


def test_direct_sql_empties_no_answer_and_fills_none_that_was_emptied(cast, answered):
    old, young = answered
    refused("UPDATE training_answer SET chosen = NULL")
    refused("UPDATE training_answer SET chosen = 1")
    refused("DELETE FROM training_answer")
    order, _ = exported(cast)
    ordered(cast, order)
    refused("UPDATE training_answer SET chosen = 1 WHERE id = %s", [old[0].pk])
    refused("UPDATE training_answer SET chosen = NULL, result_id = result_id + 1 WHERE id = %s", [old[0].pk])
    refused("UPDATE training_answer SET chosen = NULL WHERE id = %s", [young[0].pk])
    refused("DELETE FROM records_purged")
    refused("UPDATE records_purgeorder SET kept_where = 'nowhere'")


def test_a_purge_that_nobody_signed_is_named(cast, answered):
    old, _ = answered
    order, _ = exported(cast)
    Purged.objects.create(order=order, table_name="training_answer", row_id=old[0].pk, digest="0" * 64)
    Answer.objects.filter(pk=old[0].pk).update(chosen=None)
    named = [str(misfit) for misfit in verify().misfits if "training_answer" in misfit.where]
    assert named == [f"training_answer {old[0].pk}: it is listed as removed by an order that nobody signed"]


def test_years_are_only_raised_and_qa_signs_for_them(cast):
    room = make.room("M1", kind="medical")

    def keep(years, life=None, where=room, by=None, matter="records"):
        given = {"years": years, "product_life_years": life, "reason": "the customer asks for it"}
        return raise_retention(matter, where, **given, confirmation=make.confirmation(by or cast.yuki))

    keep(7, 10)
    assert kept_for("records", room, "medical").years == 11
    with pytest.raises(Refused, match="only ever raised"):
        keep(6, 10)
    with pytest.raises(Refused, match="only ever raised"):
        keep(8, 9)
    with pytest.raises(Refused, match="kept already"):
        keep(7, 10)
    keep(15, 10)
    assert kept_for("records", room, "medical").years == 15
    assert kept_for("records").years == 7
    keep(20, where=None)
    assert kept_for("records", room, "medical").years == 20
    with pytest.raises(Refused, match="not to a room"):
        keep(5, matter="answers")
    with pytest.raises(Forbidden):
        keep(30, 10, by=cast.keeper)
    event = Event.objects.filter(action="raise-retention").earliest("pk")
    assert '"before":{"product_life_years":null,"years":7}' in event.body


def test_qa_exports_and_removes_on_the_screen(cast, answered, signed_in):
    client = signed_in(cast.yuki)
    page = client.get(reverse("records:retention")).content.decode()
    assert "Export them" in page and "start value" in page
    file = client.post(reverse("records:export-due", args=["answers"]))
    order = PurgeOrder.objects.get()
    assert hashlib.sha256(file.content).hexdigest() == order.export_digest
    url = reverse("records:order", args=[order.pk])
    assert order.export_digest in client.get(url).content.decode()
    typed = {"kept_where": "safe of QA, folder 12", "reason": "three years are over"}
    wrong = client.post(url, typed | {"secret": "not it"})
    assert wrong.status_code == 422 and "folder 12" in wrong.content.decode()
    assert client.post(url, typed | {"secret": make.SECRET}).status_code == 302
    assert "Carried out" in client.get(url).content.decode()
    longer = {"matter": "answers", "room": "", "years": "4", "reason": "the works council asked for it"}
    assert client.post(reverse("records:retention"), longer | {"secret": make.SECRET}).status_code == 302
    assert "the works council asked for it" in client.get(reverse("records:retention")).content.decode()
