"""Bringing a plant in from CSV: everything or nothing, every bad row by name."""

from pathlib import Path
from typing import Any

import pytest

from plant.audit.models import Event
from plant.errors import Refused
from plant.floor.models import PathStep, Position, ProductVersion, Room
from plant.floor.queries import room_kind
from plant.people.models import Person
from plant.web.quantities import Typed, typed_of
from rollers.models import Body, ImportBatch, Mounting, TapeStock
from rollers.services.exporting import blank, example
from rollers.services.files.kinds import KINDS, kind_by_code
from rollers.services.importing import Report, examine, take_in
from tests import make
from tests.make import AT

pytestmark = pytest.mark.django_db
SECOND_PLANT = Path(__file__).parent.parent / "second_plant"
ROLES = ("keeper", "engineer", "qa", "maintenance")
ROLLERS = (
    "line,position,order,room,serial,diameter,diameter_unit,face,face_unit,roughness,roughness_unit,"
    "path,path_order,wrap,wrap_unit,rotation,web_side,entry_span,entry_span_unit\n"
)
A01 = "A,A01,1,G1,R-1,120,mm,1800,mm,40,um,straight,1,90,deg,cw,A,0.9,m\n"


@pytest.fixture
def keeper(db: None) -> Person:
    make.plant()
    return make.person("Noor Adeyemi", *ROLES, staff_no="B-01")


def bring(kind: str, content: bytes | str, by: Person) -> ImportBatch:
    data = content.encode() if isinstance(content, str) else content
    return take_in(kind_by_code(kind), data, file_name=f"{kind}.csv", by=by, at=AT)


def look(kind: str, content: bytes | str, by: Person) -> Report:
    data = content.encode() if isinstance(content, str) else content
    return examine(kind_by_code(kind), data, by=by, at=AT)


def bring_second_plant(by: Person) -> None:
    for kind in KINDS:
        bring(kind, (SECOND_PLANT / f"{kind}.csv").read_bytes(), by)


@pytest.mark.db_both
def test_the_whole_second_plant_comes_in(keeper: Person) -> None:
    bring_second_plant(keeper)
    assert Position.objects.count() == 12
    assert Body.objects.count() == 13
    assert Mounting.objects.filter(removed_at=None).count() == 11
    assert PathStep.objects.count() == 8 + 5 + 4
    room = Room.objects.get(code="K2")
    assert (room_kind(room, AT), room_kind(room, AT.replace(year=2022))) == ("food", "general")
    body = Body.objects.get(serial="BF-205")
    assert body.diameter_mm == 152.019
    assert typed_of(body, "diameter_mm") == Typed("5.985", "in")
    stock = TapeStock.objects.get(code="C5")
    assert (stock.thickness_mm, typed_of(stock, "thickness_mm")) == (0.1397, Typed("5.5", "mil"))
    version = ProductVersion.objects.get(product__code="TL-48")
    assert version.tension_set_n_per_m == pytest.approx(0.6 * 4.4482216152605 / 0.0254)  # 1 lbf = 4.4482216152605 N
    assert Mounting.objects.get(body__serial="BF-202").orientation == "flipped"
    assert ImportBatch.objects.count() == len(KINDS) == Event.objects.filter(action="import-file").count()


def test_the_examples_offered_on_the_page_come_in_themselves(keeper: Person) -> None:
    for code, kind in KINDS.items():
        report = look(code, example(kind), keeper)
        assert report.is_good, report.bad
        bring(code, example(kind), keeper)
    assert Body.objects.count() == 3


def test_the_first_look_keeps_nothing(keeper: Person) -> None:
    events = Event.objects.count()
    report = look("rooms", (SECOND_PLANT / "rooms.csv").read_bytes(), keeper)
    assert (report.is_good, report.rows, len(report.made)) == (True, 3, 2)
    assert not Room.objects.exists() and not ImportBatch.objects.exists()
    assert Event.objects.count() == events


@pytest.fixture
def floor(keeper: Person) -> Person:
    make.line("A")
    make.room("G1")
    return keeper


def test_one_bad_row_keeps_the_whole_file_out_and_every_bad_row_is_named(floor: Person) -> None:
    rows = (
        ROLLERS
        + A01
        + "A,A02,2,G1,R-2,-120,mm,1800,mm,40,um,straight,2,90,deg,cw,A,0.9,m\n"
        + "Z,A03,3,G1,R-3,120,mm,1800,mm,40,um,straight,3,90,deg,cw,A,0.9,m\n"
        + "A,A04,4,G1,R-4,nan,mm,1800,,40,um,straight,4,90,deg,left,A,0.9,m\n"
        + "A,A01,5,G1,R-5,120,mm,1800,mm,40,um,straight,5,90,deg,cw,A,0.9,m\n"
        + "A,A06,6,G1,R-1,120,mm,1800,mm,40,um,straight,6,90,deg,cw,A,0.9,m\n"
        + "A,A07,7,G1\n"
    )
    with pytest.raises(Refused, match="nothing was") as refusal:
        bring("rollers", rows, floor)
    said = "\n".join(refusal.value.details)
    for expected in (
        "Line 3, diameter: The diameter of -120 mm lies outside 30 to 800 mm",
        "Line 4: There is no line 'Z' here",
        "Line 5, diameter: 'nan' is not a finite number",
        "Line 5, face: The figure 1800 has no unit",
        "Line 5, rotation: 'left' depends on where one stands. Write operator end or drive end.",
        "Line 6, position: Position A01 stands in line 2 already",
        "Line 7, serial: Roller R-1 stands in line 2 already",
        "Line 8: The row has 4 cells, the header 19",
    ):
        assert expected in said
    assert not Position.objects.exists() and not Body.objects.exists() and not ImportBatch.objects.exists()


def test_what_is_recorded_already_is_reported_by_row(floor: Person) -> None:
    bring("rollers", ROLLERS + A01, floor)
    report = look("rollers", ROLLERS + A01.replace("R-1,", "R-2,"), floor)
    assert [(bad.line, bad.column) for bad in report.bad] == [(2, "order")]
    report = look("rollers", ROLLERS + A01.replace("A01,1,", "A01,2,").replace("R-1,", "R-2,"), floor)
    assert [(bad.line, bad.column) for bad in report.bad] == [(2, "position")]
    assert "A01 already" in report.bad[0].reason


def test_a_conversion_is_shown_before_anything_is_kept(floor: Person) -> None:
    report = look("rollers", ROLLERS + A01.replace("120,mm", "4.75,in"), floor)
    assert report.conversions[2] == ["diameter 4.75 in = 120.65 mm", "entry span 0.9 m = 900 mm"]


@pytest.mark.parametrize(
    ("content", "match"),
    [
        (b"", "file is empty"),
        (b"\xef\xbb\xbf\r\n\r\n", "file is empty"),
        (b"PK\x03\x04" + bytes(200), "workbook, not a CSV"),
        (b"\x89PNG\r\n\x1a\n\x00\x00\x00", "no plain UTF-8"),
        ("code,name,class,class_from\nG1,Gang,general,2024-01-01\n".encode("utf-16"), "no plain UTF-8"),
        ("code,name,class,class_from\nG1,Lüftung,general,2024-01-01\n".encode("latin-1"), "Line 2 is not UTF-8"),
        (b"x" * (10 * 1024 * 1024 + 1), "at most 10 MB"),
        (b"code,name\nG1,Hall\n", "columns are missing: class, class_from"),
        (b"code,name,class,class_from,colour\nG1,H,general,2024-01-01,red\n", "not known here: 'colour'"),
        (b"code,code,name,class,class_from\n", "code comes twice"),
        (b"code,name,class,class_from\n", "no rows under it"),
        (b'code,name,class,class_from\nG1,"Hall,general,2024-01-01\n', "quote too many"),
        (b"# only a note\n", "no header"),
        (b"code,name,class,class_from,left_edge\nG1,H,general,2024-01-01,3\n", "left or right"),
        (b"code,name,class,class_from\n" + b"G1,Hall,general,2024-01-01\n" * 1001, "more than 1000 rows"),
    ],
)
def test_a_file_that_is_no_such_table_gets_a_sentence(keeper: Person, content: bytes, match: str) -> None:
    for act in (look, bring):
        with pytest.raises(Refused, match=match) as refusal:
            act("rooms", content, keeper)
        assert refusal.value.field == "file"
    assert not Room.objects.exists() and not ImportBatch.objects.exists()


def test_a_quantity_column_without_its_unit_column_is_refused(floor: Person) -> None:
    header = ROLLERS.replace("diameter_unit,", "")
    with pytest.raises(Refused, match="missing: diameter_unit"):
        look("rollers", header + A01.replace("120,mm", "120"), floor)


@pytest.mark.parametrize(
    ("figure", "stored"),
    [("0,14", 0.14), ("0,140", 0.14), ("0.14", 0.14), ("1,4e-1", None), ("1,000", None), ("1.000,5", None)],
)
def test_a_decimal_comma_is_read_where_it_can_mean_one_thing_only(keeper: Person, figure: str, stored: float) -> None:
    header = "code;name;thickness;thickness_unit;width;width_unit;roughness;roughness_unit;rooms\n"
    report = look("stocks", f"{header}T1;crepe;{figure};mm;48;mm;25;um;general\n", keeper)
    assert report.is_good == (stored is not None), report.bad
    if stored:
        bring("stocks", f"{header}T1;crepe;{figure};mm;48;mm;25;um;general\n", keeper)
        assert TapeStock.objects.get().thickness_mm == stored
    else:
        assert "Write a decimal point" in report.bad[0].reason


def test_in_a_comma_file_a_decimal_comma_is_asked_back(keeper: Person) -> None:
    header = "code,name,thickness,thickness_unit,width,width_unit,roughness,roughness_unit,rooms\n"
    report = look("stocks", f'{header}T1,crepe,"0,14",mm,48,mm,25,um,general\n', keeper)
    assert "has a comma" in report.bad[0].reason


def test_an_hour_that_the_clock_change_repeats_needs_its_offset(keeper: Person) -> None:
    header = "code,name,class,class_from\n"
    report = look("rooms", header + "G1,Hall,general,2025-10-26 02:30\n", keeper)
    assert "offset" in report.bad[0].reason
    assert look("rooms", header + "G1,Hall,general,2025-10-26T02:30:00+01:00\n", keeper).is_good


def test_whoever_lacks_the_role_learns_it_once(keeper: Person) -> None:
    visitor = make.person("Ines Varga", "operator")
    report = look("lines", "code,name\nA,Line A\nB,Line B\n", visitor)
    assert len(report.bad) == 1 and "system keeper or process engineer" in report.bad[0].reason
    assert report.notices == [(0, "The rows after this one were not looked at.")]


def test_the_importers_own_row_is_passed_over(keeper: Person) -> None:
    report = look("people", "staff_no,name,active_from\nB-01,Somebody Else,2024-01-01\n", keeper)
    assert report.is_good and "your own entry stays" in report.notices[0][1]


@pytest.mark.parametrize(
    ("row", "match"),
    [
        ("B-02,aware,2025-01-01,2026-12-31,", "needed"),
        ("B-77,aware,2025-01-01,2026-12-31,folder 2", "staff number"),
        ("B-02,juggling,2025-01-01,2026-12-31,folder 2", "no skill"),
        ("B-02,aware,2025-13-01,2026-12-31,folder 2", "no day"),
        ("B-02,aware,01.02.2025,2026-12-31,folder 2", "year-month-day"),
        ("B-02,aware,2026-12-31,2025-01-01,folder 2", "before the first"),
    ],
)
def test_a_certificate_comes_with_its_evidence(keeper: Person, row: str, match: str) -> None:
    make.person("Ottilie Marsh", "engineer", staff_no="B-02")
    report = look("certificates", f"staff_no,skill,valid_from,valid_to,evidence\n{row}\n", keeper)
    assert match in report.bad[0].reason


def test_the_same_certificate_twice_is_reported(keeper: Person) -> None:
    make.person("Ottilie Marsh", "engineer", staff_no="B-02")
    row = "B-02,aware,2025-01-01,2026-12-31,folder 2\n"
    report = look("certificates", f"staff_no,skill,valid_from,valid_to,evidence\n{row}{row}", keeper)
    assert "line 2 already" in report.bad[0].reason


def test_a_place_on_two_paths_has_a_second_row_with_the_path_only(floor: Person) -> None:
    second = "A,A01,,,,,,,,,,bypass,1,60,deg,cw,A,1.4,m\n"
    bring("rollers", ROLLERS + A01 + second, floor)
    assert PathStep.objects.count() == 2 and Position.objects.count() == 1
    report = look("rollers", ROLLERS + A01.replace("A01,1", "A02,2").replace("R-1", "R-2"), floor)
    assert "has a path straight already" in report.bad[0].reason


def test_rows_that_tell_half_of_something_are_refused(floor: Person) -> None:
    for row, match in (
        (",,,,,120,mm,,,,,,,,,,,,", "no serial number"),
        ("A,A01,1,G1,,,,,,,,,,90,deg,,,,", "names no path"),
        ("A,A01,1,G1,,,,,,,,straight,1,,,cw,A,0.9,m", "needs the wrap"),
        ("A,,1,G1,,,,,,,,,,,,,,,", "no position code"),
        (",A01,1,G1,,,,,,,,,,,,,,,", "On which line"),
        ("A,A01,,G1,,,,,,,,,,,,,,,", "Which number along line A"),
        ("A,A01,1,,,,,,,,,,,,,,,,", "In which room"),
        ("A,A01,1,G7,,,,,,,,,,,,,,,", "no room 'G7'"),
    ):
        report = look("rollers", ROLLERS + row + "\n", floor)
        assert len(report.bad) == 1 and match in report.bad[0].reason, report.bad


def test_before_the_plant_is_set_up_nothing_comes_in(db: None) -> None:
    keeper = make.person("Noor Adeyemi", "keeper")
    with pytest.raises(Refused, match="not set up yet"):
        bring("rooms", blank(kind_by_code("rooms")), keeper)


def test_an_unknown_kind_of_file_is_refused_by_name() -> None:
    with pytest.raises(Refused, match="rooms, lines, rollers"):
        kind_by_code("recipes")


def test_a_batch_and_an_event_say_what_came_in(keeper: Person) -> Any:
    batch = bring("rooms", (SECOND_PLANT / "rooms.csv").read_bytes(), keeper)
    assert (batch.kind, batch.rows, batch.by, len(batch.digest)) == ("rooms", 3, keeper, 64)
    assert "3 rows of rooms" in Event.objects.get(action="import-file").sentence
