"""The gauge register, and what was measured with a gauge since."""

from datetime import date, timedelta
from typing import Any

import pytest

from plant.errors import Forbidden, Refused
from rollers.models import Gauge
from rollers.queries_registry import measured_with, overdue_at
from rollers.services.bodies import record_measurement
from rollers.services.gauges import enter_gauge, record_calibration, retire_gauge
from tests import make
from tests.conftest import Cast
from tests.make import AT

pytestmark = pytest.mark.django_db


@pytest.fixture
def gauge(cast: Cast) -> Gauge:
    return enter_gauge(code="PI-1", name="pi tape 80 to 400 mm", by=cast.kwame, at=AT)


def calibrate(cast: Cast, gauge: Gauge, **changes: Any) -> Any:
    fields: dict[str, Any] = {
        "certificate": "K-1",
        "done_on": date(2026, 1, 5),
        "due_on": date(2027, 1, 5),
        "uncertainty": "0.02",
        "unit": "mm",
        "by": cast.kwame,
        "at": AT,
    }
    return record_calibration(gauge, **fields | changes)


def test_a_gauge_without_calibration_is_overdue_until_one_is_entered(cast: Cast, gauge: Gauge) -> None:
    assert overdue_at(gauge, AT)
    calibrate(cast, gauge)
    assert not overdue_at(gauge, AT)
    assert overdue_at(gauge, AT.replace(year=2027))
    # measured before the calibration was done: that one does not count yet
    assert overdue_at(gauge, AT.replace(year=2025))


@pytest.mark.parametrize(
    ("changes", "match"),
    [
        ({"certificate": " "}, "certificate"),
        ({"done_on": date(2026, 3, 26)}, "today or before"),
        ({"due_on": date(2026, 1, 5)}, "after this one"),
        ({"uncertainty": "-0.1"}, "no positive figure"),
        ({"uncertainty": "nan"}, "no positive figure"),
        ({"uncertainty": "small"}, "no positive figure"),
        ({"unit": ""}, "Type the unit"),
    ],
)
def test_a_bad_calibration_is_refused(cast: Cast, gauge: Gauge, changes: dict[str, Any], match: str) -> None:
    with pytest.raises(Refused, match=match):
        calibrate(cast, gauge, **changes)
    assert not gauge.calibrations.exists()


def test_a_certificate_is_recorded_once(cast: Cast, gauge: Gauge) -> None:
    calibrate(cast, gauge)
    with pytest.raises(Refused, match="already"):
        calibrate(cast, gauge, certificate="k-1")


def test_what_was_measured_since_can_be_listed(cast: Cast, gauge: Gauge) -> None:
    calibrate(cast, gauge)
    roller = make.body("R-1")
    for days in (40, 3, 1):
        record_measurement(
            quantity="diameter_mm",
            value=120 + days / 100,
            body=roller,
            gauge=gauge,
            by=cast.kwame,
            at=AT,
            measured_at=AT - timedelta(days=days),
        )
    assert [row.value for row in measured_with(gauge, AT - timedelta(days=10))] == [120.01, 120.03]
    assert measured_with(gauge).count() == 3


def test_a_gauge_goes_out_of_use_with_a_reason_and_keeps_its_measurements(cast: Cast, gauge: Gauge) -> None:
    with pytest.raises(Refused, match="Say why"):
        retire_gauge(gauge, reason="", by=cast.kwame, at=AT)
    with pytest.raises(Forbidden):
        retire_gauge(gauge, reason="worn", by=cast.ines, at=AT)
    assert not retire_gauge(gauge, reason="worn", by=cast.kwame, at=AT).in_use
