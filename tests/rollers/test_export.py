"""What is exported comes in again as the same."""

import csv
import io
from datetime import UTC, datetime

import pytest
from django.core.management import call_command

from plant.floor.models import Plant
from plant.people.models import Person
from plant.web.spreadsheet import neutralised, restored
from rollers.models import Body
from rollers.services.exporting import export
from rollers.services.files.kinds import KINDS, kind_by_code
from rollers.services.importing import take_in
from tests import make
from tests.make import AT
from tests.rollers.test_import import ROLES, bring_second_plant

pytestmark = pytest.mark.django_db


def new_installation() -> Person:
    Plant.objects.create(code="BF", name="Birch Ferry Converting", time_zone="America/Chicago", units="inch")
    keeper = make.person("Noor Adeyemi", *ROLES, staff_no="B-01")
    keeper.active_from = datetime(2019, 4, 1, 5, tzinfo=UTC)
    keeper.save()
    return keeper


def all_files(by: Person) -> dict[str, bytes]:
    return {code: export(kind, filters={}, by=by, at=AT).encode() for code, kind in KINDS.items()}


@pytest.mark.db_both
@pytest.mark.django_db(transaction=True)
def test_an_export_brought_into_an_empty_installation_exports_the_same_bytes(transactional_db: None) -> None:
    keeper = new_installation()
    bring_second_plant(keeper)
    first = all_files(keeper)
    bodies = {body.serial: (body.diameter_mm, body.face_mm, body.typed) for body in Body.objects.all()}
    call_command("flush", interactive=False, verbosity=0)
    assert not Body.objects.exists()
    keeper = new_installation()
    for code, content in first.items():
        take_in(kind_by_code(code), content, file_name=f"{code}.csv", by=keeper, at=AT)
    assert all_files(keeper) == first
    assert bodies == {body.serial: (body.diameter_mm, body.face_mm, body.typed) for body in Body.objects.all()}


def test_the_file_says_filter_time_person_and_rows_above_the_header() -> None:
    keeper = new_installation()
    bring_second_plant(keeper)
    text = export(KINDS["rollers"], filters={"line": "20", "colour": "red"}, by=keeper, at=AT)
    head = [line for line in text.splitlines() if line.startswith(("#", '"#'))]
    assert head == [
        "# Bandkeeper: Rollers",
        "# plant: Birch Ferry Converting",
        "# filter: line = 20",
        "# written: 2026-03-25T04:00:00-05:00",
        "# by: Noor Adeyemi (B-01)",
        "# rows: 4",
    ]
    rows = list(csv.DictReader(io.StringIO(text.split("# rows: 4\r\n")[1])))
    assert [row["position"] for row in rows] == ["20-01", "20-02", "20-03", "20-04"]


@pytest.mark.parametrize("text", ["=1+2", "+44 (0)1", "-x", "@SUM(A1)", "'quoted", "''=", "\tcell", "'"])
def test_a_cell_that_a_spreadsheet_takes_for_a_formula_is_neutralised_and_comes_back(text: str) -> None:
    assert neutralised(text).startswith("'")
    assert restored(neutralised(text)) == text


@pytest.mark.parametrize("text", ["-5", "+3.25", "-.5", "-1e-3", "A05", "", "5.985"])
def test_numbers_and_plain_words_are_left_alone(text: str) -> None:
    assert neutralised(text) == text == restored(text)


def test_a_formula_in_a_name_survives_the_way_out_and_in() -> None:
    keeper = new_installation()
    bring_second_plant(keeper)
    text = export(KINDS["rollers"], filters={}, by=keeper, at=AT)
    assert "'+ punched at the drive end" in text
    assert Body.objects.get(serial="BF-401").drive_end_mark == "+ punched at the drive end"
