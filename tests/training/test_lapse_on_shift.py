"""A certificate that ends while its holder works, in ordinary weeks and in the weeks of both clock changes.

Europe/Vienna puts its clocks forward on 29 March 2026 at 02:00 and back on 25 October 2026 at 03:00. Midnight is
the plant's, so it is 23:00 UTC in winter and 22:00 UTC in summer.
"""

from datetime import UTC, date, datetime, timedelta

import pytest

from plant.errors import Forbidden
from tests import make
from training.access import require_skill, require_supervised
from training.models import CertificateAct, Note
from training.queries import is_certified, standing
from training.services import suspend
from training.services.warning import warn_of_gaps, warn_of_lapses

pytestmark = [pytest.mark.django_db, pytest.mark.db_both]

# Last day, midnight in UTC.
NIGHTS = [
    pytest.param(date(2026, 3, 25), datetime(2026, 3, 25, 23, tzinfo=UTC), id="winter time"),
    pytest.param(date(2026, 3, 28), datetime(2026, 3, 28, 23, tzinfo=UTC), id="the night the clocks go forward"),
    pytest.param(date(2026, 3, 29), datetime(2026, 3, 29, 22, tzinfo=UTC), id="the day of 23 hours"),
    pytest.param(date(2026, 10, 24), datetime(2026, 10, 24, 22, tzinfo=UTC), id="the night the clocks go back"),
    pytest.param(date(2026, 10, 25), datetime(2026, 10, 25, 23, tzinfo=UTC), id="the day of 25 hours"),
]
MINUTE = timedelta(minutes=1)


@pytest.fixture
def rui(cast):
    make.plant()
    return make.person("Rui Castell", "operator", skills="aware")


@pytest.mark.parametrize(("last", "midnight"), NIGHTS)
def test_a_step_begun_before_midnight_is_finished_and_no_other_begun(rui, last, midnight) -> None:
    make.certificate(rui, "apply", until=last)
    begun, done = midnight - 20 * MINUTE, midnight + 15 * MINUTE
    require_skill(rui, "apply", "general", begun, "Taping D04")
    found = require_skill(rui, "apply", "general", done, "Finishing D04", started_at=begun)
    assert found.code == "finishing"
    assert "may finish the step begun on" in found.exception
    assert "and begin no other" in found.exception
    with pytest.raises(Forbidden) as refusal:
        require_skill(rui, "apply", "general", done + 5 * MINUTE, "Taping A05")
    assert refusal.value.code == "lapsed"


@pytest.mark.parametrize(("last", "midnight"), NIGHTS)
def test_the_last_second_counts_and_the_next_does_not(rui, last, midnight) -> None:
    make.certificate(rui, "apply", until=last)
    assert is_certified(rui, "apply", "general", midnight - timedelta(seconds=1))
    assert not is_certified(rui, "apply", "general", midnight)


@pytest.mark.parametrize(("last", "midnight"), NIGHTS)
def test_the_supervisor_on_shift_is_told_half_an_hour_before_and_once(rui, cast, last, midnight) -> None:
    make.certificate(rui, "apply", until=last)
    make.shift(rui, cast.babak, name="Night", starts=midnight - timedelta(hours=2), ends=midnight + timedelta(hours=6))
    warn_of_lapses(midnight - 31 * MINUTE)
    assert not Note.objects.exists()
    warn_of_lapses(midnight - 30 * MINUTE)
    warn_of_lapses(midnight - 10 * MINUTE)
    (note,) = Note.objects.all()
    assert note.to == cast.babak
    assert "Rui Castell is on shift" in note.sentence
    assert "00:00 (UTC" in note.sentence


def test_the_warning_comes_late_but_once_after_a_standstill(rui, cast) -> None:
    midnight = datetime(2026, 3, 28, 23, tzinfo=UTC)
    make.certificate(rui, "apply", until=date(2026, 3, 28))
    make.shift(rui, cast.babak, name="Night", starts=midnight - timedelta(hours=1), ends=midnight + timedelta(hours=6))
    warn_of_lapses(midnight + timedelta(hours=1))
    warn_of_lapses(midnight + timedelta(hours=2))
    (note,) = Note.objects.all()
    assert "ended on 29 March 2026 00:00 (UTC+0100)" in note.sentence


def test_a_renewal_that_takes_over_at_midnight_needs_no_warning(rui, cast) -> None:
    midnight = datetime(2026, 3, 25, 23, tzinfo=UTC)
    make.certificate(rui, "apply", until=date(2026, 3, 25))
    make.certificate(rui, "apply", since=date(2026, 3, 20), until=date(2027, 3, 25))
    make.shift(rui, cast.babak, name="Night", starts=midnight - timedelta(hours=2), ends=midnight + timedelta(hours=6))
    assert warn_of_lapses(midnight - 10 * MINUTE) == 0


def test_a_check_is_no_step_to_be_finished(rui) -> None:
    midnight = datetime(2026, 3, 25, 23, tzinfo=UTC)
    make.certificate(rui, "apply")
    make.certificate(rui, "check", until=date(2026, 3, 25))
    found = standing(rui, "check", "general", midnight + MINUTE, started_at=midnight - MINUTE)
    assert (found.ok, found.code) == (False, "lapsed")


def test_an_add_on_that_ends_mid_job_lets_the_step_be_finished_too(rui) -> None:
    midnight = datetime(2026, 3, 25, 23, tzinfo=UTC)
    make.certificate(rui, "apply")
    make.certificate(rui, "food", until=date(2026, 3, 25))
    assert standing(rui, "apply", "food", midnight + MINUTE, started_at=midnight - MINUTE).code == "finishing"
    assert standing(rui, "apply", "food", midnight + MINUTE).code == "add-on-lapsed"


def test_suspended_mid_job_hands_over_also_when_the_certificate_then_ends(rui, cast) -> None:
    midnight = datetime(2026, 3, 25, 23, tzinfo=UTC)
    held = make.certificate(rui, "apply", until=date(2026, 3, 25))
    begun = midnight - 20 * MINUTE
    suspend(held, reason="hand in the nip", by=cast.babak, at=midnight - 10 * MINUTE)
    at_once = standing(rui, "apply", "general", midnight - 9 * MINUTE, started_at=begun)
    assert (at_once.ok, at_once.code) == (False, "suspended")
    assert not standing(rui, "apply", "general", midnight + 5 * MINUTE, started_at=begun).ok


def test_a_suspension_of_what_it_is_built_on_stops_the_finishing(rui, cast) -> None:
    midnight = datetime(2026, 3, 25, 23, tzinfo=UTC)
    make.certificate(rui, "apply", until=date(2026, 3, 25))
    aware = rui.certificates.get(skill__code="aware")
    CertificateAct.objects.create(
        certificate=aware, kind="suspended", at=midnight + MINUTE, by=cast.babak, reason="not fit tonight"
    )
    assert not standing(rui, "apply", "general", midnight + 5 * MINUTE, started_at=midnight - MINUTE).ok


def test_who_was_not_certified_at_the_beginning_finishes_nothing(rui) -> None:
    midnight = datetime(2026, 3, 25, 23, tzinfo=UTC)
    make.certificate(rui, "apply", since=date(2026, 3, 25), until=date(2026, 3, 25))
    begun = datetime(2026, 3, 24, 22, 50, tzinfo=UTC)  # the evening before its first day
    assert not standing(rui, "apply", "general", midnight + MINUTE, started_at=begun).ok


def test_a_trainee_works_beside_a_certified_person_who_answers_for_it(rui, cast) -> None:
    found = require_supervised(rui, cast.lena, "apply", "medical", make.AT, "Taping C06")
    assert (found.code, found.answerable) == ("supervised", cast.lena)
    assert found.certificate.person == cast.lena


@pytest.mark.parametrize(
    ("trainee", "beside", "room", "code"),
    [
        ("rui", "rui", "general", "own-supervision"),
        ("rui", "hanna", "general", "never-certified"),
        ("rui", "ines", "medical", "add-on-missing"),
        ("keeper", "lena", "general", "never-certified"),  # without Aware nobody begins to practise
    ],
)
def test_supervision_that_does_not_hold_is_refused(rui, cast, trainee, beside, room, code) -> None:
    persons = {"rui": rui, "hanna": cast.hanna, "ines": cast.ines, "lena": cast.lena, "keeper": cast.keeper}
    with pytest.raises(Forbidden) as refusal:
        require_supervised(persons[trainee], persons[beside], "apply", room, make.AT, "Taping")
    assert refusal.value.code == code


def test_a_suspended_person_practises_only_on_the_way_back_through_a_refresher(rui, cast) -> None:
    held = make.certificate(rui, "apply")
    suspend(held, reason="wrong count twice", by=cast.yuki, at=make.AT)
    with pytest.raises(Forbidden, match="A trainer asks for a refresher first"):
        require_supervised(rui, cast.lena, "apply", "general", make.AT, "Taping")


def test_a_shift_that_nobody_covers_is_told_the_day_before_and_once(rui, cast) -> None:
    make.certificate(rui, "apply")
    make.room("G1")
    make.room("M1", "medical")
    at = make.AT
    make.shift(rui, cast.babak, name="Late", starts=at + timedelta(hours=5), ends=at + timedelta(hours=13))
    warn_of_gaps(at)
    warn_of_gaps(at + timedelta(hours=1))
    (note,) = Note.objects.all()
    assert note.to == cast.babak
    assert "nobody of the crew may" in note.sentence
    assert "Apply in medical rooms" in note.sentence


def test_a_room_that_becomes_a_food_room_asks_for_the_add_on_from_that_moment(rui) -> None:
    make.certificate(rui, "apply")
    assert is_certified(rui, "apply", "general", make.AT)
    assert not is_certified(rui, "apply", "food", make.AT)
