"""Days and moments of certificates. Dates counted by hand on a calendar; time zones from the IANA database."""

from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta
from zoneinfo import ZoneInfo

import pytest

from training.rules import State, begins_at, deciding, lapses_at, state_at
from training.rules_due import DueRule, add_months, next_due

VIENNA = ZoneInfo("Europe/Vienna")
FIRST, LAST = date(2025, 3, 26), date(2026, 3, 25)


@dataclass
class Act:
    kind: str
    at: datetime


def state(at: datetime, *acts: Act, last: date = LAST, zone: ZoneInfo = VIENNA) -> State:
    return state_at(FIRST, last, acts, at=at, zone=zone)


@pytest.mark.parametrize(
    ("last", "last_second_utc"),
    [
        # An ordinary winter day: Vienna is one hour ahead of UTC.
        (date(2026, 3, 25), datetime(2026, 3, 25, 22, 59, 59, tzinfo=UTC)),
        # The day the clocks go forward has 23 hours and ends two hours ahead of UTC.
        (date(2026, 3, 28), datetime(2026, 3, 28, 22, 59, 59, tzinfo=UTC)),
        (date(2026, 3, 29), datetime(2026, 3, 29, 21, 59, 59, tzinfo=UTC)),
        # The day the clocks go back has 25 hours and ends one hour ahead of UTC again.
        (date(2026, 10, 24), datetime(2026, 10, 24, 21, 59, 59, tzinfo=UTC)),
        (date(2026, 10, 25), datetime(2026, 10, 25, 22, 59, 59, tzinfo=UTC)),
    ],
)
def test_a_certificate_holds_through_the_last_second_of_its_last_day_by_the_clock_of_the_plant(
    last: date, last_second_utc: datetime
) -> None:
    assert state(last_second_utc, last=last) == State.VALID
    assert state(last_second_utc + timedelta(microseconds=999_999), last=last) == State.VALID
    assert state(last_second_utc + timedelta(seconds=1), last=last) == State.LAPSED
    assert lapses_at(last, VIENNA) == last_second_utc + timedelta(seconds=1)


def test_the_repeated_hour_of_autumn_belongs_to_the_same_day_both_times() -> None:
    first_time = datetime(2026, 10, 25, 0, 30, tzinfo=UTC)  # 02:30 summer time
    second_time = datetime(2026, 10, 25, 1, 30, tzinfo=UTC)  # 02:30 winter time
    for moment in (first_time, second_time):
        assert state(moment, last=date(2026, 10, 25)) == State.VALID
        assert state(moment, last=date(2026, 10, 24)) == State.LAPSED


def test_where_the_clock_jumps_over_midnight_the_day_ends_at_the_jump() -> None:
    # Asunción sprang forward at 00:00 on 6 October 2024: 00:00 to 00:59 did not exist (IANA time zone database).
    zone = ZoneInfo("America/Asuncion")
    jump = datetime(2024, 10, 6, 4, 0, tzinfo=UTC)
    assert lapses_at(date(2024, 10, 5), zone) == jump
    early = date(2023, 1, 1)
    assert state_at(early, date(2024, 10, 5), [], at=jump - timedelta(seconds=1), zone=zone) == State.VALID
    assert state_at(early, date(2024, 10, 5), [], at=jump, zone=zone) == State.LAPSED


def test_a_certificate_begins_with_the_first_second_of_its_first_day() -> None:
    begins = begins_at(FIRST, VIENNA)
    assert begins == datetime(2025, 3, 25, 23, 0, tzinfo=UTC)
    assert state(begins - timedelta(seconds=1)) == State.NOT_YET
    assert state(begins) == State.VALID


NOON = datetime(2026, 3, 20, 11, 0, tzinfo=UTC)


def test_a_suspension_acts_from_its_own_moment_on_and_not_before() -> None:
    suspended = Act("suspended", NOON)
    assert state(NOON - timedelta(microseconds=1), suspended) == State.VALID
    assert state(NOON, suspended) == State.SUSPENDED


def test_a_reinstated_certificate_counts_again_and_a_withdrawn_one_never() -> None:
    acts = [Act("reinstated", NOON + timedelta(hours=1)), Act("suspended", NOON)]
    assert state(NOON + timedelta(hours=1), *acts) == State.VALID
    gone = Act("withdrawn", NOON - timedelta(hours=1))
    assert state(NOON + timedelta(hours=2), gone, *acts) == State.WITHDRAWN


def test_a_suspended_certificate_that_has_lapsed_reads_lapsed() -> None:
    assert state(lapses_at(LAST, VIENNA), Act("suspended", NOON)) == State.LAPSED


@dataclass
class Ends:
    valid_to: date


def test_of_several_certificates_a_suspension_decides_then_a_valid_one_then_a_coming_one_then_the_latest() -> None:
    old, new = Ends(date(2025, 1, 1)), Ends(date(2027, 1, 1))
    assert deciding([(State.VALID, new), (State.SUSPENDED, old)]) == (State.SUSPENDED, old)
    assert deciding([(State.NOT_YET, new), (State.VALID, old)]) == (State.VALID, old)
    assert deciding([(State.LAPSED, old), (State.NOT_YET, new)]) == (State.NOT_YET, new)
    assert deciding([(State.LAPSED, old), (State.WITHDRAWN, new)]) == (State.WITHDRAWN, new)
    assert deciding([]) is None


def test_the_last_day_is_the_anniversary_and_a_leap_day_ends_on_the_last_of_february() -> None:
    # Our own default; counted by hand.
    def last_day(first: date, months: int) -> date:
        return next_due(DueRule.ANNIVERSARY, first, months=months).valid_to

    assert last_day(date(2026, 3, 25), 12) == date(2027, 3, 25)
    assert last_day(date(2024, 2, 29), 12) == date(2025, 2, 28)
    assert last_day(date(2024, 2, 29), 48) == date(2028, 2, 29)
    assert add_months(date(2026, 8, 31), 6) == date(2027, 2, 28)
    assert add_months(date(2026, 12, 15), 1) == date(2027, 1, 15)
