"""Shifts in plant time, also in the weeks of the clock change."""

import itertools
from datetime import UTC, date, datetime, time, timedelta
from zoneinfo import ZoneInfo

import pytest

from plant.errors import Forbidden, Refused
from plant.floor import queries, rules
from plant.floor.models import Shift
from plant.floor.services import plan_shifts, set_crew, set_shift_patterns
from tests import make
from tests.conftest import Cast
from tests.make import AT

pytestmark = [pytest.mark.django_db, pytest.mark.db_both]
VIENNA = ZoneInfo("Europe/Vienna")
THREE = [("Early", time(6), time(14)), ("Late", time(14), time(22)), ("Night", time(22), time(6))]


@pytest.fixture
def planned(cast: Cast) -> Cast:
    make.plant()
    set_shift_patterns(THREE, by=cast.hanna, at=AT)
    return cast


def hours(shift: Shift) -> float:
    return (shift.ends_at - shift.starts_at).total_seconds() / 3600


def test_the_night_of_the_spring_change_lasts_seven_hours_and_belongs_to_its_start_date(planned: Cast) -> None:
    shifts = plan_shifts(date(2026, 3, 28), date(2026, 3, 29), by=planned.hanna, at=AT)
    night = next(shift for shift in shifts if shift.name == "Night" and shift.date == date(2026, 3, 28))
    assert night.starts_at == datetime(2026, 3, 28, 21, tzinfo=UTC)
    assert night.ends_at == datetime(2026, 3, 29, 4, tzinfo=UTC)
    assert hours(night) == 7
    after_midnight = datetime(2026, 3, 29, 2, 30, tzinfo=UTC)
    assert queries.shift_at(after_midnight) == night
    assert queries.local(after_midnight).date() == date(2026, 3, 29)


def test_the_night_of_the_autumn_change_lasts_nine_hours(planned: Cast) -> None:
    shifts = plan_shifts(date(2026, 10, 24), date(2026, 10, 25), by=planned.hanna, at=AT)
    assert [hours(shift) for shift in shifts] == [8, 8, 9, 8, 8, 8]


@pytest.mark.parametrize(("day", "length"), [(date(2026, 3, 29), 23), (date(2026, 10, 25), 25), (date(2026, 5, 1), 24)])
def test_days_have_their_true_length_and_shifts_cover_the_week_without_a_gap(
    planned: Cast, day: date, length: int
) -> None:
    assert rules.day_end(day, VIENNA) - rules.day_start(day, VIENNA) == timedelta(hours=length)
    monday, sunday = queries.week_of(day)
    shifts = plan_shifts(monday, sunday, by=planned.hanna, at=AT)
    assert len(shifts) == 21
    assert all(before.ends_at == after.starts_at for before, after in itertools.pairwise(shifts))


def test_a_start_in_the_hour_that_the_spring_change_skips_means_just_after_it(planned: Cast) -> None:
    start = rules.moment(date(2026, 3, 29), time(2, 30), VIENNA)
    assert start.astimezone(VIENNA).time() == time(3, 30)


def test_planning_again_keeps_crews_and_what_has_begun_and_takes_out_what_is_gone(planned: Cast) -> None:
    early, late, night = plan_shifts(AT.date(), AT.date(), by=planned.hanna, at=AT)
    set_crew(late, [planned.ines, planned.tomas], by=planned.hanna, at=AT)
    set_shift_patterns([("Early", time(5), time(14)), ("Late", time(14), time(23))], by=planned.hanna, at=AT)
    again = plan_shifts(AT.date(), AT.date(), by=planned.hanna, at=AT)
    assert [shift.name for shift in again] == ["Early", "Late"]
    assert again[0].starts_at == early.starts_at, "the early shift had begun"
    assert again[1].ends_at == late.ends_at + timedelta(hours=1)
    assert set(again[1].crew.all()) == {planned.ines, planned.tomas}
    assert not Shift.objects.filter(pk=night.pk).exists()


def test_shifts_that_would_overlap_are_refused(planned: Cast) -> None:
    with pytest.raises(Refused, match="Early and Night overlap"):
        set_shift_patterns([("Early", time(5), time(14)), ("Night", time(22), time(6))], by=planned.hanna, at=AT)
    plan_shifts(date(2026, 4, 1), date(2026, 4, 1), by=planned.hanna, at=AT)
    set_shift_patterns([("Long", time(4), time(16))], by=planned.hanna, at=AT)
    with pytest.raises(Refused, match="would overlap"):
        plan_shifts(date(2026, 4, 2), date(2026, 4, 2), by=planned.hanna, at=AT)
    assert Shift.objects.count() == 3


def test_who_is_on_shift_now(planned: Cast) -> None:
    early, *_ = plan_shifts(AT.date(), AT.date(), by=planned.hanna, at=AT)
    set_crew(early, [planned.ines, planned.hanna], by=planned.hanna, at=AT)
    assert set(queries.on_shift(AT)) == {planned.ines, planned.hanna}
    assert queries.on_shift(AT + timedelta(days=30)) == []
    planned.ines.active_to = AT - timedelta(minutes=1)
    planned.ines.save()
    assert queries.on_shift(AT) == [planned.hanna]


def test_a_crew_is_set_by_a_supervisor_of_people_who_belong_to_the_plant(planned: Cast) -> None:
    early, *_ = plan_shifts(date(2026, 4, 1), date(2026, 4, 1), by=planned.hanna, at=AT)
    with pytest.raises(Forbidden):
        set_crew(early, [planned.ines], by=planned.ines, at=AT)
    gone = make.person("Ended Contract", active_to=AT)
    with pytest.raises(Refused, match="does not belong to the plant"):
        set_crew(early, [gone], by=planned.hanna, at=AT)


@pytest.mark.parametrize(("first", "last"), [(2, 1), (1, 500)])
def test_dates_to_plan_come_in_order_and_are_not_too_many(planned: Cast, first: int, last: int) -> None:
    start = date(2026, 1, 1)
    with pytest.raises(Refused, match="at most 400 days"):
        plan_shifts(start + timedelta(first), start + timedelta(last), by=planned.hanna, at=AT)
