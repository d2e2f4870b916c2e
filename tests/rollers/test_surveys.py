"""The go-live survey: every roller of a room looked at, closed by QA."""

import json
from typing import Any

import pytest

from plant.audit.models import Event, Signature
from plant.errors import Forbidden, Refused
from rollers.models import Survey, TapeFact
from rollers.queries_registry import survey_facts, surveyed
from rollers.services.surveys import close_survey, record_seen, start_survey
from tests import make
from tests.conftest import Cast
from tests.make import AT

pytestmark = [pytest.mark.django_db, pytest.mark.db_both]


@pytest.fixture
def floor(cast: Cast) -> Any:
    path, room = make.web_path(make.line("C")), make.room("M1", "medical")
    return {code: make.position(code, path=path, room=room, bare=False) for code in ("C01", "C06", "C09")}


@pytest.fixture
def survey(cast: Cast, floor: Any) -> Survey:
    return start_survey(floor["C01"].room, by=cast.yuki, at=AT)


def look_at_all(cast: Cast, survey: Survey, floor: Any) -> None:
    seen: dict[str, Any] = {"by": cast.lena, "at": AT}
    record_seen(survey, floor["C01"], state="bare", **seen)
    record_seen(survey, floor["C06"], state="taped", text="blue polyester, 1 wrap, both ends", pieces=4, **seen)
    record_seen(survey, floor["C09"], state="unknown", **seen)


def test_a_survey_records_what_is_there_without_findings(cast: Cast, survey: Survey, floor: Any) -> None:
    look_at_all(cast, survey, floor)
    facts = TapeFact.objects.order_by("pk")
    assert [(fact.kind, fact.state, fact.pieces) for fact in facts] == [
        ("surveyed", "bare", 0),
        ("surveyed", "taped", 4),
        ("surveyed", "unknown", 0),
    ]
    assert facts[1].details == {"seen": "blue polyester, 1 wrap, both ends"}
    assert not surveyed(survey.room, AT)
    close_survey(survey, confirmation=make.confirmation(cast.yuki))
    assert surveyed(survey.room, AT)
    signed = json.loads(Signature.objects.get().content)
    assert [roller["position"] for roller in signed["rollers"]] == ["C01", "C06", "C09"]
    assert "1 unknown" in Event.objects.get(action="close-survey").sentence


def test_a_survey_is_not_closed_while_a_roller_was_not_looked_at(cast: Cast, survey: Survey, floor: Any) -> None:
    record_seen(survey, floor["C01"], state="bare", by=cast.lena, at=AT)
    with pytest.raises(Refused, match="2 of 3 rollers were not looked at: C06, C09"):
        close_survey(survey, confirmation=make.confirmation(cast.yuki))


def test_only_qa_closes_a_survey_and_only_once(cast: Cast, survey: Survey, floor: Any) -> None:
    look_at_all(cast, survey, floor)
    with pytest.raises(Forbidden, match="QA"):
        close_survey(survey, confirmation=make.confirmation(cast.hanna))
    close_survey(survey, confirmation=make.confirmation(cast.yuki))
    with pytest.raises(Refused, match="was closed"):
        close_survey(survey, confirmation=make.confirmation(cast.yuki))
    with pytest.raises(Refused, match="found tape"):
        record_seen(survey, floor["C01"], state="bare", by=cast.lena, at=AT)


def test_looking_again_adds_an_entry_and_the_newest_counts(cast: Cast, survey: Survey, floor: Any) -> None:
    look_at_all(cast, survey, floor)
    record_seen(survey, floor["C09"], state="bare", by=cast.mei, at=AT)
    assert survey.facts.count() == 4
    assert survey_facts(survey)[floor["C09"].pk].state == "bare"


@pytest.mark.parametrize(
    ("changes", "match"),
    [
        ({"state": "taped", "pieces": 2}, "say in words"),
        ({"state": "taped", "text": "crepe"}, "count the pieces"),
        ({"state": "partial"}, "bare, taped or unknown"),
    ],
)
def test_an_entry_that_says_too_little_is_refused(
    cast: Cast, survey: Survey, floor: Any, changes: dict[str, Any], match: str
) -> None:
    with pytest.raises(Refused, match=match):
        record_seen(survey, floor["C01"], **changes, by=cast.lena, at=AT)
    assert not TapeFact.objects.exists()


def test_one_survey_at_a_time_and_none_of_an_empty_room(cast: Cast, survey: Survey) -> None:
    with pytest.raises(Refused, match="open already"):
        start_survey(survey.room, by=cast.hanna, at=AT)
    with pytest.raises(Refused, match="no mounted rollers"):
        start_survey(make.room("G9"), by=cast.hanna, at=AT)


def test_a_roller_of_another_room_is_not_looked_at_here(cast: Cast, survey: Survey) -> None:
    other = make.position("A01", path=make.web_path(make.line("A")), room=make.room("G1"))
    with pytest.raises(Refused, match="not in room M1"):
        record_seen(survey, other, state="bare", by=cast.lena, at=AT)
