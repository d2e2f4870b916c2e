"""What the database refuses by itself: 21 CFR 11.10(e) asks that changes do not obscure what was recorded."""

import pytest
from django.db import DatabaseError, connection, transaction
from django.test import TransactionTestCase

from plant.audit.canonical import ZERO, canonical, chained
from plant.audit.models import Event
from plant.audit.services import record, sign
from tests import make

pytestmark = pytest.mark.db_both


def one_event():
    person = make.person("Ines Varga", "operator")
    with transaction.atomic():
        return record(
            stream="test", action="say", subject=person, sentence="said", by=person, at=make.AT, facts={"x": 1}
        )


@pytest.mark.django_db
@pytest.mark.parametrize("sql", ["UPDATE audit_event SET sentence = 'other'", "DELETE FROM audit_event"])
def test_direct_sql_cannot_change_or_delete_an_event(sql):
    one_event()
    with pytest.raises(DatabaseError, match="append-only"), transaction.atomic(), connection.cursor() as cursor:
        cursor.execute(sql)
    assert Event.objects.get().sentence == "said"


@pytest.mark.django_db
def test_each_event_is_chained_to_the_one_before_from_the_first_on():
    first, second = one_event(), one_event()
    assert first.previous_hash == ZERO
    assert second.previous_hash == first.hash
    assert second.hash == chained(first.hash, second.body.encode())
    assert (first.seq, second.seq) == (1, 2)


def test_the_chain_rule_gives_the_hash_worked_out_by_hand():
    """SHA-256 (FIPS 180-4) over 32 zero bytes and RFC 8785 JSON; expected value computed apart from this code."""
    body = canonical({"seq": 1, "action": "create", "actor": "u7"})
    assert chained(ZERO, body) == "c671135c3e698badc964f361a9ba14595cccf4f991dfc1362cddd1720659da57"


class AfterAFlush(TransactionTestCase):
    """The suite empties the database between such tests; the guards must be there again afterwards."""

    def _refused(self) -> None:
        one_event()
        with self.assertRaisesMessage(DatabaseError, "append-only"), transaction.atomic():
            Event.objects.all().delete()

    def test_events_are_refused_deletion_before(self):
        self._refused()

    def test_events_are_refused_deletion_after(self):
        self._refused()


@pytest.mark.django_db
def test_a_meaning_that_the_column_cannot_hold_is_an_error_on_both_databases(cast):
    with pytest.raises(ValueError, match="at most 40 characters"):
        sign(make.confirmation(cast.yuki), meaning="x" * 41, subject=cast.yuki, content={})
