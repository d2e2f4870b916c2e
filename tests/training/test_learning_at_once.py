"""Two presses at once: a test handed in, a test begun, a verdict signed. One counts, whatever the database."""

import threading
from collections.abc import Callable

import pytest
from django.db import connection

from plant.errors import Refused
from tests import make
from tests.training import lessons
from training import content_files
from training.models import Attempt, AttemptResult, Verdict
from training.services.assessing import end_assessment, mark_step
from training.services.testing import begin_attempt, hand_in

AT = make.AT
pytestmark = [pytest.mark.django_db(transaction=True), pytest.mark.db_both]


@pytest.fixture(autouse=True)
def course(transactional_db, tmp_path, monkeypatch):
    make.plant()
    monkeypatch.setattr(content_files, "topics", lambda: content_files.Topics({}, {}))
    return lessons.lay_down(tmp_path)


def at_once(act: Callable[[], object], hands: int = 4) -> list[str]:
    """What each of several hands got that pressed at the same moment: `done` or the code of the refusal."""
    gate, said = threading.Barrier(hands), list[str]()

    def press() -> None:
        try:
            gate.wait(20)
            act()
            said.append("done")
        except Refused as refusal:
            said.append(refusal.code)
        finally:
            connection.close()

    threads = [threading.Thread(target=press) for _ in range(hands)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join(60)
    return sorted(said)


def test_a_test_begun_twice_at_once_is_one_paper(cast):
    person, aware = cast.ines, lessons.skill("aware")
    said = at_once(lambda: begin_attempt(person, aware, lang="en", seed="x", at=AT))
    assert said == ["done"] * 4
    assert Attempt.objects.count() == 1


def test_a_test_handed_in_twice_at_once_is_marked_once(cast):
    attempt = begin_attempt(cast.ines, lessons.skill("aware"), lang="en", seed="x", at=AT)
    ticks, person = lessons.answers(attempt), cast.ines
    assert at_once(lambda: hand_in(attempt, ticks, by=person, at=AT)) == ["done", *["handed-in"] * 3]
    assert AttemptResult.objects.count() == 1


def test_a_practical_ended_twice_at_once_has_one_verdict(cast):
    trainee = make.person("Tilda Roos", "operator", skills="aware")
    made, signed = lessons.begin(cast.dara, trainee, "apply"), make.confirmation(cast.dara)
    for step in range(1, 16):
        mark_step(made, step, "done", by=cast.dara, at=AT)
    assert at_once(lambda: end_assessment(made, confirmation=signed)) == ["done", *["ended"] * 3]
    assert Verdict.objects.count() == 1
