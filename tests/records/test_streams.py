"""Writers on different streams do not wait for one another; writers on one stream keep one order."""

import threading

import pytest
from django.db import OperationalError, connection, connections, transaction

from plant.audit.models import Event
from plant.audit.services import record
from plant.audit.verification.whole import verify
from tests import make

pytestmark = [pytest.mark.django_db(transaction=True), pytest.mark.db_both]


def say(stream, person, sentence):
    record(stream=stream, action="say", subject=person, sentence=sentence, by=person, at=make.AT)


def in_another_connection(act):
    """Run in a thread, which has a connection of its own; gives back what went wrong."""
    trouble = []

    def go():
        try:
            act()
        except Exception as problem:
            trouble.append(problem)
        finally:
            connections.close_all()

    thread = threading.Thread(target=go)
    thread.start()
    thread.join(timeout=30)
    assert not thread.is_alive()
    return trouble[0] if trouble else None


def with_short_patience(person, stream):
    def act():
        with transaction.atomic():
            with connection.cursor() as cursor:
                cursor.execute("SET LOCAL lock_timeout = '500ms'")
            say(stream, person, "meanwhile")

    return act


def test_an_open_act_on_one_line_holds_up_nobody_on_another(db):
    if connection.vendor != "postgresql":
        pytest.skip("SQLite has one writer at a time, whatever the stream")
    person = make.person("Ines Varga", "operator")
    for stream in ("line:A", "line:B"):
        with transaction.atomic():
            say(stream, person, "begun")
    with transaction.atomic():
        say("line:A", person, "not finished yet")
        assert in_another_connection(with_short_patience(person, "line:B")) is None
        waits = in_another_connection(with_short_patience(person, "line:A"))
        assert isinstance(waits, OperationalError) and "lock timeout" in str(waits)
    assert Event.objects.filter(stream="line:B").count() == 2


def test_eight_at_once_on_one_new_stream_make_one_chain(db):
    person = make.person("Ines Varga", "operator")
    trouble = []

    def go(number):
        try:
            for turn in range(5):
                with transaction.atomic():
                    say("line:A", person, f"{number} {turn}")
        except Exception as problem:
            trouble.append(problem)
        finally:
            connections.close_all()

    threads = [threading.Thread(target=go, args=(number,)) for number in range(8)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join(timeout=60)
    assert trouble == []
    assert list(Event.objects.order_by("seq").values_list("seq", flat=True)) == list(range(1, 41))
    assert [str(misfit) for misfit in verify().misfits if misfit.stream] == []
