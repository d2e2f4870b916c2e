"""Bytes, addresses, dates and JSON made to break something: each gets a sentence, nothing breaks."""

import json

import pytest
from django.urls import reverse

from plant.errors import Refused
from plant.people.services import choose_pin
from rollers.models import ImportBatch
from rollers.reports import release_record
from rollers.services.files import cells
from rollers.services.files.kinds import KINDS
from rollers.services.files.lines import read_zones
from rollers.services.importing import take_in
from tests import make

pytestmark = [pytest.mark.django_db, pytest.mark.db_both]
CASE = {
    "web": {"width_mm": 1500, "thickness_um": 17, "modulus_md_mpa": 120},
    "state": {"tension_n_per_m": 50, "speed_m_per_min": 280},
    "roller": {
        "diameter_mm": 120,
        "face_mm": 1800,
        "wrap_deg": 120,
        "entry_span_mm": 1400,
        "roughness_um": 40,
        "friction": 0.35,
    },
    "tape": {"thickness_mm": 0.14, "roughness_um": 25},
}


@pytest.mark.parametrize(
    "address",
    ["/bodies/%00/", "/people/?search=%00", "/tablet/line/A/?product=%00", "/api/v1/lines/%00/readiness/?product=x"],
)
def test_a_zero_byte_in_an_address_gets_a_sentence(signed_in, cast, address):
    make.plant()
    answer = signed_in(cast.dara).get(address)
    assert answer.status_code == 404
    assert "zero byte" in answer.content.decode()


@pytest.mark.parametrize("body", ["[" * 100_000, '{"web":' * 100_000])
@pytest.mark.parametrize("name", ["check", "size"])
def test_json_nested_without_end_gets_a_sentence(signed_in, cast, name, body):
    answer = signed_in(cast.dara).post(reverse(f"rollers-api:{name}"), body, content_type="application/json")
    assert answer.status_code == 400
    assert "nested" in answer.json()["sentence"]


def test_a_name_that_is_no_text_gets_a_sentence(signed_in, cast):
    answer = signed_in(cast.dara).post(reverse("rollers-api:check"), '{"\\ud800": 1}', content_type="application/json")
    assert answer.status_code == 422
    assert answer.json()["code"] == "bad-input"


def test_a_body_of_twelve_megabytes_gets_a_sentence(signed_in, cast):
    body = json.dumps({"web": "x" * 12 * 1024 * 1024})
    answer = signed_in(cast.dara).post(reverse("rollers-api:check"), body, content_type="application/json")
    assert answer.status_code == 413
    assert "too large" in answer.json()["sentence"]


def test_twenty_thousand_bands_are_not_computed_for_a_minute_but_refused(signed_in, cast):
    bands = [{"end": "drive", "inner_mm": i / 100, "outer_mm": (i + 1) / 100, "wraps": 1} for i in range(20_000)]
    body = json.dumps(CASE | {"bands": bands})
    answer = signed_in(cast.dara).post(reverse("rollers-api:check"), body, content_type="application/json")
    assert answer.status_code == 422
    assert (answer.json()["field"], "at most" in answer.json()["sentence"]) == ("bands", True)


@pytest.mark.parametrize("day", ["9999-12-31", "0001-01-01", "x", "²"])
def test_the_week_of_any_day_can_be_asked_for(signed_in, cast, day):
    make.plant()
    assert signed_in(cast.dara).get(reverse("floor:shifts"), {"day": day}).status_code == 200


ELSEWHERE = ["²", "home", "rollers:boards", "//elsewhere.example", "https:/elsewhere.example", "javascript:alert(1)"]


@pytest.mark.parametrize("wanted", ELSEWHERE)
def test_after_sign_in_the_way_leads_to_the_start_where_no_page_here_was_named(signed_in, cast, wanted):
    make.plant()
    answer = signed_in(cast.dara).get(reverse("people:sign-in"), {"next": wanted})
    assert answer.status_code == 302
    assert answer.headers["Location"] == "/"


@pytest.mark.parametrize("key", ["²", "9" * 30, "-1", "١"])
def test_a_release_record_of_no_run_is_not_found(key):
    with pytest.raises(Refused, match="no released run"):
        release_record(key, make.AT)


@pytest.mark.parametrize("pin", ["١٢٣٤٥٦", "²³²³¹¹", "１２３４５６７"])
def test_a_pin_has_the_digits_of_the_keypad(cast, pin):
    with pytest.raises(Refused, match="six to twelve digits"):
        choose_pin(cast.ines, pin=pin, at=make.AT)


@pytest.mark.parametrize("cell", ["²:tension", "１:tension"])
def test_a_zone_number_has_plain_digits(cell):
    with pytest.raises(cells.BadCell, match="write number"):
        read_zones(cell, None)


@pytest.mark.parametrize("text", ["9999-12-31", "0001-01-01"])
def test_a_day_that_no_calendar_of_a_plant_reaches_is_refused(text):
    with pytest.raises(cells.BadCell, match="year"):
        cells.day(text)


def test_a_certificate_to_the_end_of_time_leaves_every_page_standing(signed_in, cast):
    make.plant()
    greta = signed_in(cast.greta)
    answer = greta.post(
        reverse("training:founding", args=[cast.ines.pk]),
        {"skill": "check", "valid_from": "2026-01-01", "valid_to": "9999-12-31", "evidence": "paper in folder 3"},
    )
    assert answer.status_code in (302, 422)
    for page in (reverse("training:grid"), reverse("training:person", args=[cast.ines.pk])):
        assert greta.get(page).status_code == 200


@pytest.mark.parametrize("moment", ["0001-01-01T00:00", "9999-12-31T23:59"])
def test_a_leave_at_the_edge_of_time_gets_a_sentence(signed_in, cast, moment):
    make.plant()
    answer = signed_in(cast.keeper).post(
        reverse("people:leave", args=[cast.ines.pk]), {"leaves_at": moment, "reason": "moved away"}
    )
    assert answer.status_code == 422
    cast.ines.refresh_from_db()
    assert cast.ines.active_to is None


@pytest.mark.parametrize(("first", "last"), [("0001-01-01", ""), ("2026-03-25", "9999-12-31")])
def test_a_joiner_at_the_edge_of_time_gets_a_sentence(signed_in, cast, first, last):
    make.plant()
    given = {"staff_no": "9", "name": "Ada Falk", "employer": "plant", "first_day": first, "last_day": last}
    assert signed_in(cast.keeper).post(reverse("people:join"), given).status_code == 422


def test_a_file_name_with_a_zero_byte_is_kept_without_it(cast):
    make.plant()
    content = b"code,name,reversing\r\nQ,Line Q,no\r\n"
    batch = take_in(KINDS["lines"], content, file_name="li\x00nes.csv", by=cast.keeper, at=make.AT)
    assert ImportBatch.objects.get(pk=batch.pk).file_name == "lines.csv"
