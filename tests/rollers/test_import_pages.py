"""The pages of the registry: from an empty installation to the first stock, and files through the browser's door."""

import csv
import io
import re
from datetime import timedelta
from typing import Any

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.core.management import CommandError, call_command
from django.test import Client
from django.urls import reverse

from plant.floor.models import PathStep, Plant, Position, Product, Room, Shift
from plant.people.models import Person
from rollers.models import Body, Calibration, ImportBatch, Mounting, Survey, TapeFact, TapeStock
from rollers.services.exporting import example
from rollers.services.files.kinds import KINDS, kind_by_code
from rollers.setting_up import setup_progress
from tests import make
from tests.conftest import Cast
from tests.make import AT
from tests.rollers.test_import import ROLES, SECOND_PLANT, bring_second_plant

pytestmark = pytest.mark.django_db


def text_of(response: Any) -> str:
    return re.sub(r"\s+", " ", re.sub(r"<[^>]+>", " ", response.content.decode()))


def test_the_first_keeper_gets_a_starter_code_once(db: None) -> None:
    said = io.StringIO()
    call_command("first_keeper", "Noor Adeyemi", "1001", stdout=said)
    code = re.search(r"starter code\s+(\S+)", said.getvalue())
    assert code and Person.objects.get().starter_hash
    client = Client()
    signed = client.post(reverse("people:sign-in"), {"staff_no": "1001", "secret": code[1]})
    assert signed.status_code == 302
    assert client.get("/", follow=True).request["PATH_INFO"] == reverse("people:choose-secret")
    with pytest.raises(CommandError, match="Noor Adeyemi"):
        call_command("first_keeper", "Somebody Else", "1002", stdout=said)


ZONES = {"zone-TOTAL_FORMS": "5", "zone-INITIAL_FORMS": "1", "zone-0-control": "tension", "zone-0-sensor": "LC 1"}
PRODUCT: dict[str, Any] = {
    "code": "LF-20",
    "name": "Lid film",
    "lines": ["A"],
    "width_min_mm": "1200",
    "width_max_mm": "1400",
    "thickness_um": "20",
    "modulus_md_mpa": "2100",
    "modulus_direction": "MD",
    "friction": "0.3",
    "tension_min_n_per_m": "100",
    "tension_set_n_per_m": "120",
    "tension_max_n_per_m": "140",
    "speed_min_m_per_min": "50",
    "speed_set_m_per_min": "240",
    "speed_max_m_per_min": "260",
}


def table(rows: int, **changes: str) -> dict[str, str]:
    given = {
        "room": "G1",
        "path": "straight",
        "face_mm": "1600",
        "face_mm_unit": "mm",
        "roughness_um": "25",
        "roughness_um_unit": "um",
        "diameter_unit": "mm",
        "span_unit": "m",
        "measured": "on",
        "row-TOTAL_FORMS": "10",
        "row-INITIAL_FORMS": "10",
    }
    for n in range(rows):
        row = {
            "position": f"A{n + 1:02d}",
            "kind": "idler",
            "serial": f"R-{n + 1}",
            "diameter": "120",
            "wrap": "90",
            "rotation": "cw" if n % 2 else "ccw",
            "web_side": "AB"[n % 2],
            "entry_span": "0.9",
        }
        given |= {f"row-{n}-{name}": value for name, value in row.items()}
    return given | changes


def test_an_empty_installation_leads_to_plant_room_line_ten_rollers_stock_and_product(signed_in: Any) -> None:
    keeper = make.person("Noor Adeyemi", "keeper")
    client = signed_in(keeper)
    assert "next: the plant and its clock" in text_of(client.get("/"))
    plant = {"code": "TH", "name": "Tarn Hollow Works", "time_zone": "Europe/Vienna", "units": "si"}
    assert client.post(reverse("floor:plant"), plant).status_code == 302
    room = {"code": "G1", "name": "Winding", "kind": "general", "valid_from": "2024-01-01"}
    assert client.post(reverse("floor:new-room"), room).status_code == 302
    assert "next: a line" in text_of(client.get("/"))
    assert client.post(reverse("floor:new-line"), {"code": "A", "name": "Winder", **ZONES}).status_code == 302
    here = reverse("rollers:enter-rollers", args=["A"])
    looked = client.post(here, table(10))
    assert looked.status_code == 200 and not Position.objects.exists()
    assert "A10 on line A, idler; roller R-10 mounted; number 10 on path straight" in text_of(looked)
    assert "entry span 0.9 m = 900 mm" in text_of(looked)
    assert client.post(here, table(10, looked=looked.context["looked"])).status_code == 302
    stock = {
        "code": "T1",
        "name": "crepe",
        "thickness_mm": "0.14",
        "width_mm": "48",
        "roughness_um": "25",
        "room_kinds": ["general"],
    }
    assert client.post(reverse("rollers:new-stock"), stock).status_code == 302
    assert client.post(reverse("floor:new-product"), PRODUCT).status_code == 302
    assert (Body.objects.count(), PathStep.objects.count(), Product.objects.count()) == (10, 10, 1)
    progress = setup_progress(AT)
    assert [step.title for step in progress.steps if not step.done] == [
        "The people",
        "Shifts",
        "What is on every roller",
    ]


@pytest.fixture
def small(signed_in: Any) -> Any:
    """A client of a keeper with every role, in a plant with room G1 and line A."""
    make.plant()
    make.room("G1")
    make.line("A")
    client = signed_in(make.person("Noor Adeyemi", *ROLES, "supervisor", staff_no="B-01"))
    return client


def test_a_second_table_goes_on_where_the_path_ends(small: Client) -> None:
    here = reverse("rollers:enter-rollers", args=["A"])
    for start in (0, 3):
        given = table(3, **{f"row-{n}-position": f"A{start + n + 1:02d}" for n in range(3)})
        given |= {f"row-{n}-serial": f"R-{start + n + 1}" for n in range(3)}
        looked = small.post(here, given)
        assert looked.context["looked"], text_of(looked)
        small.post(here, given | {"looked": looked.context["looked"]})
    steps = PathStep.objects.filter(path__in_use=True).order_by("order")
    assert [step.position.code for step in steps] == ["A01", "A02", "A03", "A04", "A05", "A06"]
    assert {step.path.version for step in steps} == {2}


def test_a_bad_row_of_the_table_is_named_and_everything_typed_stays(small: Client) -> None:
    here = reverse("rollers:enter-rollers", args=["A"])
    answer = small.post(here, table(3, **{"row-1-diameter": "-5", "row-2-rotation": ""}))
    assert answer.status_code == 422
    said = text_of(answer)
    assert "Diameter: The diameter of -5 mm lies outside" in said
    assert "The path straight needs the rotation at A03" in said
    assert 'value="R-3"' in answer.content.decode() and 'value="-5"' in answer.content.decode()
    assert not Position.objects.exists()
    changed = small.post(here, table(3, looked="0123456789abcdef"))
    assert changed.status_code == 200 and not Position.objects.exists(), "what was not looked at is not saved"


def test_a_figure_in_another_unit_is_shown_converted_before_it_is_saved(small: Client) -> None:
    inches = PRODUCT | {"thickness_um": "0.79", "thickness_um_unit": "mil"}
    shown = small.post(reverse("floor:new-product"), inches)
    assert shown.status_code == 200 and not Product.objects.exists()
    assert "stored as 20.066 µm" in text_of(shown)
    seen = re.search(r'name="seen" value="([0-9a-f]{16})"', shown.content.decode())
    assert seen
    other = small.post(reverse("floor:new-product"), inches | {"seen": seen[1], "thickness_um": "0.80"})
    assert other.status_code == 200 and not Product.objects.exists(), "a changed figure is shown again"
    assert small.post(reverse("floor:new-product"), inches | {"seen": seen[1]}).status_code == 302


@pytest.mark.parametrize(
    ("changes", "sentence"),
    [
        ({"modulus_md_mpa": "-5"}, "outside 1 to 250000 MPa"),
        ({"thickness_um": "NaN"}, "not a finite number"),
        ({"thickness_um": ""}, "Thickness: type a figure"),
        ({"tension_min_n_per_m": "130"}, "above the tension set"),
        ({"thickness_um": "20", "thickness_um_unit": "pound"}, "Select a valid choice"),
        ({"lines": []}, "Choose at least one line"),
        ({"code": "=LF"}, "does not do as a code"),
        ({"modulus_on": "yesterday"}, "year-month-day"),
        ({"friction": "0,3"}, "not a number"),
    ],
)
def test_a_bad_product_gets_a_sentence_and_loses_nothing(small: Client, changes: Any, sentence: str) -> None:
    answer = small.post(reverse("floor:new-product"), PRODUCT | changes)
    assert answer.status_code == 422
    assert sentence in text_of(answer)
    assert 'value="Lid film"' in answer.content.decode()
    assert not Product.objects.exists()


def send(client: Client, kind: str, content: bytes, name: str = "rollers.csv") -> Any:
    return client.post(reverse("rollers:import", args=[kind]), {"file": SimpleUploadedFile(name, content)})


def test_a_file_is_looked_at_then_taken_in(small: Client) -> None:
    content = (SECOND_PLANT / "rooms.csv").read_bytes()
    looked = send(small, "rooms", content, "our rooms.csv")
    assert "Take in all 3 rows of our rooms.csv" in text_of(looked)
    assert Room.objects.count() == 1
    given = {"digest": looked.context["digest"], "file_name": "our rooms.csv"}
    assert small.post(reverse("rollers:confirm-import", args=["rooms"]), given).status_code == 302
    assert Room.objects.count() == 3 and ImportBatch.objects.get().file_name == "our rooms.csv"
    again = small.post(reverse("rollers:confirm-import", args=["rooms"]), given)
    assert again.status_code == 422 and "not here any more" in text_of(again)


def test_nobody_takes_in_a_file_that_somebody_else_looked_at(small: Client, signed_in: Any) -> None:
    looked = send(small, "rooms", (SECOND_PLANT / "rooms.csv").read_bytes())
    other = signed_in(make.person("Dara Whitlow", *ROLES))
    for digest in (looked.context["digest"], "../../etc/passwd", ""):
        answer = other.post(reverse("rollers:confirm-import", args=["rooms"]), {"digest": digest})
        assert answer.status_code == 422 and "not here any more" in text_of(answer)
    assert Room.objects.count() == 1


@pytest.mark.parametrize(
    ("content", "sentence"),
    [
        (b"", "file is empty"),
        (b"\x00\x01\x02" * 400, "no plain UTF-8 text"),
        (b"PK\x03\x04rest", "workbook"),
        (b"code,name\n" + b"x" * (10 * 1024 * 1024), "at most 10 MB"),
        (b"code,name\nG1,Hall\n", "columns are missing: class, class_from"),
        (b"code,name,class,class_from\nG7,Hall,kitchen,2024-01-01\n", "1 thing to mend"),
    ],
)
def test_a_file_that_cannot_be_taken_gets_a_sentence(small: Client, content: bytes, sentence: str) -> None:
    answer = send(small, "rooms", content)
    assert answer.status_code == 422 and sentence in text_of(answer)
    assert Room.objects.count() == 1


def test_what_is_downloaded_can_be_sent_again_as_it_is(small: Client, signed_in: Any) -> None:
    for code, kind in KINDS.items():
        blank = small.get(reverse("rollers:import-file", args=[code, "blank"]))
        assert blank.content.decode("utf-8-sig").strip().split(",")[0] == kind.columns[0].name
        example_file = small.get(reverse("rollers:import-file", args=[code, "example"]))
        assert example_file.content.decode("utf-8-sig") == example(kind_by_code(code))
    small.post(reverse("floor:new-product"), PRODUCT)
    exported = small.get(reverse("rollers:export", args=["products"]), {"line": "a"}).content
    text = exported.decode("utf-8-sig")
    assert "# filter: line = A" in text and "# rows: 1" in text
    row = next(csv.DictReader(io.StringIO(text.split("# rows: 1\r\n")[1])))
    assert (row["thickness"], row["thickness_unit"]) == ("20", "um")
    report = send(small, "products", exported)
    assert "LF-20 already" in text_of(report)


def test_lists_of_persons_are_exported_by_those_who_answer_for_them(small: Client, signed_in: Any, cast: Cast) -> None:
    assert small.get(reverse("rollers:export", args=["people"])).status_code == 200
    operator = signed_in(cast.ines)
    assert operator.get(reverse("rollers:export", args=["people"])).status_code == 403
    assert operator.get(reverse("rollers:export", args=["rollers"])).status_code == 200
    guest = signed_in(make.person("Outside Eye", "guest"))
    assert guest.get(reverse("rollers:export", args=["rollers"])).status_code == 403


def test_shifts_are_set_planned_and_staffed_on_screen(small: Client, cast: Cast) -> None:
    rows = {"shift-TOTAL_FORMS": "4", "shift-INITIAL_FORMS": "0", "shift-0-name": "Night", "shift-0-starts": "22:00"}
    assert "type when it starts and ends" in text_of(small.post(reverse("floor:shift-patterns"), rows))
    assert small.post(reverse("floor:shift-patterns"), rows | {"shift-0-ends": "06:00"}).status_code == 302
    week = {"first": "2026-03-23", "last": "2026-03-29"}
    assert small.post(reverse("floor:plan-shifts"), week).status_code == 302
    night = Shift.objects.get(date="2026-03-28")
    page = text_of(small.get(reverse("floor:shifts"), {"day": "2026-03-28"}))
    assert "Night 22:00 Sun 06:00 7" in page
    assert small.post(reverse("floor:crew", args=[night.pk]), {"crew": [cast.ines.pk]}).status_code == 302
    assert list(night.crew.all()) == [cast.ines]


def test_a_roller_is_swapped_turned_and_measured_on_screen(small: Client) -> None:
    here = make.position("A01", path=make.web_path(make.line("A")), room=make.room("G1"))
    spare = make.body("SP-1")
    page = reverse("rollers:mounting", args=["A01"])
    assert "Lock out by the plant's procedure" in text_of(small.get(page)).replace("&#x27;", "'")
    swap = reverse("rollers:do-mounting", args=["A01", "swap"])
    refused = small.post(swap, {"to": "spare", "orientation": "normal"})
    assert refused.status_code == 422 and "Choose the roller" in text_of(refused)
    given = {"to": "grinding", "orientation": "normal", "body": "SP-1", "looked_bare": "on"}
    assert small.post(swap, given).status_code == 302
    assert Mounting.objects.get(position=here, removed_at=None).body == spare
    assert small.post(reverse("rollers:do-mounting", args=["A01", "turn"]), {}).status_code == 302
    assert Mounting.objects.get(position=here, removed_at=None).orientation == "flipped"
    assert small.post(reverse("rollers:do-mounting", args=["A01", "steal"]), {}).status_code == 404
    measure = reverse("rollers:measure", args=["diameter_mm", "SP-1"])
    assert small.post(measure, {"diameter_mm": "118.5", "diameter_mm_unit": "mm"}).status_code == 302
    spare.refresh_from_db()
    assert spare.diameter_mm == 118.5
    assert small.get(reverse("rollers:measure", args=["length_mm", "SP-1"])).status_code == 404
    assert small.get(reverse("rollers:body", args=["NOBODY"])).status_code == 404


def test_a_gauge_and_what_was_measured_since_on_screen(small: Client) -> None:
    assert small.post(reverse("rollers:new-gauge"), {"code": "PI-1", "name": "pi tape"}).status_code == 302
    certificate = {
        "certificate": "K-1",
        "done_on": "2026-01-05",
        "due_on": "2030-01-05",
        "uncertainty": "0.02",
        "unit": "mm",
        "found_in_tolerance": "yes",
    }
    here = reverse("rollers:calibrate", args=["PI-1"])
    assert small.post(here, certificate).status_code == 302
    make.body("R-9")
    given = {"diameter_mm": "119.5", "diameter_mm_unit": "mm", "gauge": "PI-1", "measured_at": "2026-02-03T08:00"}
    assert small.post(reverse("rollers:measure", args=["diameter_mm", "R-9"]), given).status_code == 302
    later = certificate | {"certificate": "K-2", "done_on": "2026-03-20", "found_in_tolerance": "no"}
    assert small.post(here, later).status_code == 302
    page = text_of(small.get(reverse("rollers:gauge", args=["PI-1"])))
    assert "out of tolerance" in page and "since 5 Jan 2026 (K-1)" in page and "119.5" in page
    assert Calibration.objects.count() == 2


def test_a_survey_is_opened_filled_and_closed_on_screen(small: Client) -> None:
    path = make.web_path(make.line("A"))
    for code in ("A01", "A02"):
        make.position(code, path=path, room=make.room("G1"), bare=False)
    assert small.post(reverse("rollers:start-survey", args=["G1"])).status_code == 302
    survey = Survey.objects.get()
    assert small.post(reverse("rollers:survey-roller", args=[survey.pk, "A01"]), {"state": "bare"}).status_code == 302
    here = reverse("rollers:survey-roller", args=[survey.pk, "A02"])
    refused = small.post(here, {"state": "taped", "text": "crepe, 4 wraps, both ends"})
    assert refused.status_code == 422 and "count the pieces" in text_of(refused)
    assert small.post(here, {"state": "taped", "text": "crepe, both ends", "pieces": "8"}).status_code == 302
    close = reverse("rollers:close-survey", args=[survey.pk])
    assert small.post(close, {"secret": "wrong"}).status_code == 422
    survey.refresh_from_db()
    assert survey.closed_at is None
    assert small.post(close, {"secret": make.SECRET}).status_code == 302
    survey.refresh_from_db()
    assert survey.closed_at is not None and TapeFact.objects.filter(survey=survey).count() == 2
    assert "Not for this version" not in text_of(small.get(reverse("rollers:survey", args=[survey.pk])))


def test_a_path_is_drawn_on_screen_with_spans_in_inches(small: Client) -> None:
    for order, code in enumerate(("A01", "A02", "A03"), start=1):
        Position.objects.create(line=make.line("A"), room=make.room("G1"), code=code, order=order)
    given: dict[str, Any] = {"name": "bypass", "step-TOTAL_FORMS": "3", "step-INITIAL_FORMS": "3"}
    for n, number in ((0, "1"), (2, "2")):
        row = {"order": number, "wrap_deg": "90", "wrap_deg_unit": "deg", "rotation": "cw", "web_side": "A"}
        row |= {"entry_span_mm": "35.5", "entry_span_mm_unit": "in"}
        given |= {f"step-{n}-{name}": value for name, value in row.items()}
    given |= {"step-1-rotation": "cw", "step-1-web_side": "A"}
    here = reverse("floor:draw-path", args=["A"])
    shown = small.post(here, given)
    assert shown.status_code == 200 and not PathStep.objects.exists()
    seen = re.findall(r'name="(step-\d-seen)" value="([0-9a-f]{16})"', shown.content.decode())
    assert small.post(here, given | dict(seen)).status_code == 302
    assert [(s.position.code, s.entry_span_mm) for s in PathStep.objects.all()] == [("A01", 901.7), ("A03", 901.7)]
    given["step-2-order"] = "1"
    assert "given twice" in text_of(small.post(here, given | dict(seen)))


def test_every_page_of_the_registry_opens_empty_and_full(small: Client, django_assert_max_num_queries: Any) -> None:
    plain = [
        "floor:plant",
        "floor:rooms",
        "floor:new-room",
        "floor:lines",
        "floor:new-line",
        "floor:products",
        "floor:new-product",
        "floor:shifts",
        "floor:shift-patterns",
        "floor:plan-shifts",
        "rollers:registry",
        "rollers:bodies",
        "rollers:new-body",
        "rollers:stocks",
        "rollers:new-stock",
        "rollers:gauges",
        "rollers:new-gauge",
        "rollers:surveys",
        "rollers:import-overview",
    ]
    for name in plain:
        assert small.get(reverse(name)).status_code == 200, name
    bring_second_plant(Person.objects.get(staff_no="B-01"))
    for name in plain:
        with django_assert_max_num_queries(40):
            assert small.get(reverse(name)).status_code == 200, name
    for name, key in (
        ("floor:line", "10"),
        ("floor:new-position", "10"),
        ("floor:draw-path", "10"),
        ("floor:product", "TL-48"),
        ("floor:revise-product", "TL-48"),
        ("floor:reclassify-room", "K2"),
        ("rollers:body", "BF-205"),
        ("rollers:mounting", "10-05"),
        ("rollers:mounting", "20-02"),
        ("rollers:enter-rollers", "20"),
        ("rollers:stock", "C5"),
        ("rollers:change-stock", "C5"),
        *(("rollers:import", code) for code in KINDS),
        *(("rollers:export", code) for code in KINDS),
    ):
        with django_assert_max_num_queries(60):
            assert small.get(reverse(name, args=[key])).status_code == 200, (name, key)
    assert small.get(reverse("floor:draw-path", args=["10"]), {"path": "bypass"}).status_code == 200


def test_a_revision_over_an_older_look_is_refused_and_keeps_the_figures(small: Client) -> None:
    small.post(reverse("floor:new-product"), PRODUCT)
    here = reverse("floor:revise-product", args=["LF-20"])
    changed = PRODUCT | {"seen_version": "1", "reason": "trial", "tension_set_n_per_m": "121"}
    assert small.post(here, changed).status_code == 302
    second = small.post(here, changed | {"tension_set_n_per_m": "125"})
    assert second.status_code == 409 and "changed since you looked" in text_of(second)
    assert 'value="125"' in second.content.decode()


def test_a_room_is_loosened_with_the_secret_of_qa_only(small: Client) -> None:
    make.room("F1", "food")
    here = reverse("floor:reclassify-room", args=["F1"])
    tomorrow = Plant.objects.get() and (AT + timedelta(days=400)).strftime("%Y-%m-%dT%H:%M")
    given = {"kind": "general", "valid_from": tomorrow, "reason": "customer left"}
    assert "QA signs" in text_of(small.post(here, given))
    assert small.post(here, given | {"secret": "no"}).status_code == 422
    assert small.post(here, given | {"secret": make.SECRET}).status_code == 302


def test_stocks_change_on_screen_and_keep_what_was_typed(small: Client) -> None:
    given = {
        "code": "T1",
        "name": "crepe",
        "thickness_mm": "5.50",
        "thickness_mm_unit": "mil",
        "width_mm": "48",
        "roughness_um": "25",
        "room_kinds": ["general", "food"],
    }
    shown = small.post(reverse("rollers:new-stock"), given)
    seen = re.search(r'name="seen" value="([0-9a-f]{16})"', shown.content.decode())
    assert seen and "0.1397 mm" in text_of(shown)
    assert small.post(reverse("rollers:new-stock"), given | {"seen": seen[1]}).status_code == 302
    page = small.get(reverse("rollers:change-stock", args=["T1"])).content.decode()
    assert 'value="5.50"' in page and '<option value="mil" selected>' in page
    assert TapeStock.objects.get().room_kinds == ["general", "food"]
