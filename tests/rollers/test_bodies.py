"""Roller bodies, and what is measured on them with which gauge."""

from datetime import date, timedelta
from typing import Any

import pytest

from calcs import case
from plant.audit.models import Event
from plant.errors import Forbidden, Refused
from plant.web.quantities import Typed, typed_of
from rollers.models import Body, Gauge, Measurement
from rollers.services.bodies import BODY_BOUNDS, enter_body, record_measurement
from rollers.services.gauges import enter_gauge, record_calibration
from tests import make
from tests.conftest import Cast
from tests.make import AT

pytestmark = pytest.mark.django_db


def body(cast: Cast, **changes: Any) -> Body:
    fields: dict[str, Any] = {"serial": "R-001", "face_mm": 1800, "roughness_um": 40, "diameter_mm": 200}
    return enter_body(**fields | {"by": cast.kwame, "at": AT} | changes)


def gauge(cast: Cast, *, due: date = date(2026, 12, 31), done: date = date(2026, 1, 5)) -> Gauge:
    made = enter_gauge(code="PI-1", name="pi tape 80 to 400 mm", by=cast.kwame, at=AT)
    record_calibration(
        made,
        certificate="K-2026-004",
        done_on=done,
        due_on=due,
        uncertainty=0.02,
        unit="mm",
        by=cast.kwame,
        at=AT,
    )
    return made


def test_a_roller_is_entered_as_typed_and_begins_as_a_spare(cast: Cast) -> None:
    made = body(cast, diameter_mm=Typed("7.874", "in"), drive_end_mark="red ring at the drive end")
    made.refresh_from_db()
    assert (made.diameter_mm, made.whereabouts, made.diameter_measured) == (199.9996, "spare", False)
    assert typed_of(made, "diameter_mm") == Typed("7.874", "in")
    assert Event.objects.get(stream="roller:R-001").action == "enter-body"


@pytest.mark.parametrize(
    ("field", "value", "match"),
    [
        ("diameter_mm", -120, "outside 30 to 800 mm"),
        ("diameter_mm", float("nan"), "not a finite number"),
        ("face_mm", None, "face is missing"),
        ("roughness_um", Typed("40", "bananas"), "unit 'bananas' is not known"),
        ("runout_mm", 40, "outside 0 to 10 mm"),
        ("serial", "", "Type a code"),
        ("drive_end_mark", "dot on the left journal", "operator end or drive end"),
        ("whereabouts", "mounted", "step of its own"),
    ],
)
def test_a_bad_field_is_refused_by_name(cast: Cast, field: str, value: Any, match: str) -> None:
    with pytest.raises(Refused, match=match) as refusal:
        body(cast, **{field: value})
    assert refusal.value.field == field
    assert not Body.objects.exists()


def test_a_serial_number_is_given_once_and_an_operator_does_not_enter_rollers(cast: Cast) -> None:
    body(cast)
    with pytest.raises(Refused, match="R-001 already"):
        body(cast)
    with pytest.raises(Forbidden, match="maintenance"):
        body(cast, serial="R-002", by=cast.ines)


def test_a_measured_diameter_becomes_the_rollers_and_tells_how_much_it_changed(cast: Cast) -> None:
    roller = body(cast)
    made = record_measurement(quantity="diameter_mm", value=194, body=roller, gauge=gauge(cast), by=cast.kwame, at=AT)
    roller.refresh_from_db()
    assert (roller.diameter_mm, roller.diameter_measured, made.gauge_overdue) == (194, True, False)
    assert '"change_pct":-3' in Event.objects.get(action="record-measurement").body


def test_a_gauge_counts_through_its_due_day_and_is_flagged_after_it(cast: Cast) -> None:
    make.plant()
    roller, tool = body(cast), gauge(cast, due=AT.date())
    act: dict[str, Any] = {"quantity": "diameter_mm", "value": 199, "body": roller, "gauge": tool, "by": cast.kwame}
    # 23:30 in Vienna is 22:30 UTC on the due day; an hour later it is the next day there
    assert not record_measurement(at=AT.replace(hour=22, minute=30), **act).gauge_overdue
    assert record_measurement(at=AT.replace(hour=23, minute=30), **act).gauge_overdue


def test_a_measurement_without_gauge_or_before_any_calibration_is_flagged_not_refused(cast: Cast) -> None:
    roller = body(cast)
    tool = enter_gauge(code="PI-2", name="pi tape", by=cast.kwame, at=AT)
    for used in (None, tool):
        made = record_measurement(quantity="roughness_um", value=38, body=roller, gauge=used, by=cast.kwame, at=AT)
        assert made.gauge_overdue
    roller.refresh_from_db()
    assert roller.roughness_um == 38


@pytest.mark.parametrize(
    ("changes", "match"),
    [
        ({"value": None}, "missing"),
        ({"value": -1}, "outside"),
        ({"quantity": "length_mm"}, "not measured here"),
        ({"quantity": "misalignment_mm_per_m"}, "belong to a roller"),
        ({"measured_at": AT + timedelta(hours=1)}, "in the past"),
        ({"body": None}, "one roller, one position or one tape stock"),
    ],
)
def test_a_measurement_that_makes_no_sense_is_refused(cast: Cast, changes: dict[str, Any], match: str) -> None:
    act: dict[str, Any] = {"quantity": "diameter_mm", "value": 120, "body": body(cast), "by": cast.kwame, "at": AT}
    with pytest.raises(Refused, match=match):
        record_measurement(**act | changes)
    assert not Measurement.objects.exists()


def test_what_the_registry_accepts_the_calculation_accepts() -> None:
    for field, (low, high) in BODY_BOUNDS.items():
        bounds = case.BOUNDS["roller"].get(field.replace("drawing_", ""))
        if bounds:
            assert bounds[0] <= low and high <= bounds[1], field
