"""The further parts of the sizing page, the numbers kept with a verdict, and their print."""

import io
import json
from typing import Any

import pikepdf
import pytest
from django.urls import reverse

from calcs.case import parse_case
from calcs.metal import tape_to_metal
from plant.errors import Refused
from plant.reports.engine import pdf_of
from plant.reports.registry import builder_of
from plant.web import clock
from rollers import how_sure, web_in_span
from rollers.cases import TypedBand
from rollers.forms.sure import SureForm
from rollers.how_sure import Measured, widened
from rollers.models import Calibration, Gauge, Measurement
from rollers.queries_measured import measured_of
from rollers.services import recipes
from tests import make
from tests.rollers.desk import BOTH, Coating, coating

pytestmark = pytest.mark.django_db
QUERY = {"products": "BO-35", "stock": "T5", "inner": "640", "outer": "840", "wraps": "1"}


@pytest.fixture(autouse=True)
def wednesday(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(clock, "now", lambda: make.AT)


@pytest.fixture
def line_b(cast: Any) -> Coating:
    return coating(cast)


def part(client: Any, name: str, query: dict[str, Any] = QUERY) -> Any:
    return client.get(reverse("rollers:sizing-part", args=["B09", name]), query, headers={"HX-Request": "true"})


def case_of(world: Coating) -> dict[str, Any]:
    step = world.path.steps.get(position=world.b09)
    return recipes.case_of(world.film, step, stock=world.tape, bands=BOTH)


def test_the_first_answer_comes_without_the_span_and_says_where_it_is_loaded_from(line_b, signed_in) -> None:
    page = signed_in(line_b.cast.dara).get(reverse("rollers:sizing", args=["B09"]), QUERY)
    text = page.content.decode()
    for name in ("web", "troughs", "sure", "common"):
        assert f'id="deep-{name}"' in text and f"/part/{name}/?" in text
    assert "Span of BO-35" not in text


def test_a_changed_answer_empties_the_parts_so_that_none_stays_from_before(line_b, signed_in) -> None:
    client = signed_in(line_b.cast.dara)
    page = client.get(reverse("rollers:sizing", args=["B09"]), QUERY, headers={"HX-Request": "true"})
    text = page.content.decode()
    assert text.count('hx-swap-oob="true" hx-get=') == 4 and 'id="after" hx-swap-oob="true"' in text


def test_what_cannot_be_read_leaves_the_parts_and_the_draft_waiting_for_their_place(line_b, signed_in) -> None:
    client, url = signed_in(line_b.cast.dara), reverse("rollers:sizing", args=["B09"])
    opened = client.get(url, QUERY | {"inner": "abc"}).content.decode()
    assert opened.count("It waits for the first answer.") == 4 and 'id="after"' in opened
    assert "/part/web/" not in opened
    mended = client.get(url, QUERY, headers={"HX-Request": "true"}).content.decode()
    assert "Draft this recipe" in mended and "/part/web/" in mended
    broken = client.get(url, QUERY | {"inner": "abc"}, headers={"HX-Request": "true"}).content.decode()
    assert broken.count("It waits for the first answer.") == 4 and "Draft this recipe" not in broken


def test_the_span_is_shown_in_words_beside_first_order_and_in_pictures_with_figures(line_b, signed_in) -> None:
    page = part(signed_in(line_b.cast.dara), "web")
    one, text = page.context["part"]["products"][0], page.content.decode()
    assert {row["title"] for row in one["compared"]} == {"Edge ratio", "Centre loss"}
    assert one["sentences"][0] in text.replace("&#x27;", "'")
    assert len(one["pictures"]) == 3 and text.count("The same in figures") == 3
    for words in ("Estimated error", "method:", "Steering to the drive end", "Shear at the band edge"):
        assert words in text


def test_a_difference_past_ten_percent_is_pointed_at() -> None:
    answer = {
        "beside_first_order": [
            {"name": "edge_ratio", "first_order": 1.3, "two_dimensional": 1.5, "difference": 0.154, "shown": True},
            {"name": "centre_loss", "first_order": None, "two_dimensional": 0.4, "difference": None, "shown": False},
        ]
    }
    first, second = web_in_span.compared(answer)
    assert first["is_far"] and first["difference"] == "+15.4 %"
    assert second["first"] == "slack" and second["difference"] == ""


def test_what_cannot_be_worked_out_is_said_with_what_to_do(line_b, signed_in) -> None:
    line_b.path.steps.filter(position=line_b.b09).update(entry_span_mm=12)
    text = part(signed_in(line_b.cast.dara), "web").content.decode()
    assert "not evaluated" in text and "span over width is 0.0075" in text


def test_one_end_tape_steers_in_the_span_toward_the_taped_end(line_b) -> None:
    step = line_b.path.steps.get(position=line_b.b04)
    for end, sign in (("operator", -1), ("drive", 1)):
        case = recipes.case_of(line_b.film, step, stock=line_b.tape, bands=[TypedBand(end, 700, 850, 1)])
        assert sign * web_in_span.numbers_of(case)["mean_shift_mm"] > 0


def test_the_margin_is_drawn_at_once_and_the_trough_limit_when_it_is_asked_for(line_b, signed_in) -> None:
    client = signed_in(line_b.cast.dara)
    one = part(client, "troughs").context["part"]["products"][0]
    assert one["troughs"] is None and "Bare lane of BO-35" in one["drawing"] and "troughs_of=BO-35" in one["query"]
    page = part(client, "troughs", QUERY | {"troughs_of": "BO-35"})
    found = page.context["part"]["products"][0]["troughs"]
    assert found.bare > 0 and f"span troughs bare {found.bare:.2g}" in page.content.decode()
    before = web_in_span._troughs.cache_info().hits
    part(client, "troughs", QUERY | {"troughs_of": "BO-35"})
    assert web_in_span._troughs.cache_info().hits == before + 1


def test_how_sure_starts_from_ranges_of_our_own_and_says_so(line_b, signed_in) -> None:
    page = part(signed_in(line_b.cast.dara), "sure")
    text, one = page.content.decode(), page.context["part"]["products"][0]
    assert "defaults of our own, without a source" in text and "What matters most for BO-35" in text
    assert 0 <= one["found"].all_fit.share <= 1 and one["found"].best_wraps is not None
    exact = part(signed_in(line_b.cast.dara), "sure", QUERY | {f"sure_{s.name}": "0" for s in how_sure.SPREADS})
    assert exact.context["part"]["products"][0]["found"].levers == ()


@pytest.mark.parametrize(
    ("value", "said"), [("abc", "type a percentage"), ("-1", "from 0 to 60"), ("99", "from 0 to 60")]
)
def test_a_range_that_is_no_percentage_is_named_and_kept(line_b, signed_in, value, said) -> None:
    page = part(signed_in(line_b.cast.dara), "sure", QUERY | {"sure_friction": value})
    text = page.content.decode()
    assert said in text and f'value="{value}"' in text and "products" not in page.context["part"]


def test_a_range_that_leaves_what_can_be_computed_is_refused_at_its_field(line_b, signed_in) -> None:
    line_b.film.friction = 0.9
    line_b.film.save()
    page = part(signed_in(line_b.cast.dara), "sure", QUERY | {"sure_friction": "40"})
    assert "roller.friction is 1.26" in str(page.context["part"]["sure_form"].errors["sure_friction"])


def test_ranges_widen_what_is_a_window_already_and_gauges_bring_mean_and_sd(line_b) -> None:
    case = case_of(line_b)
    case["state"]["tension_n_per_m"] = [160, 200]
    wide = widened(case, {"tension": 5.0}, (Measured("roller", "diameter_mm", 0.04, "PI-1"),))
    assert wide["state"]["tension_n_per_m"] == pytest.approx([152, 210])
    assert wide["roller"]["diameter_mm"] == {"mean": 200, "sd": 0.02}
    assert case["roller"]["diameter_mm"] == 200 and parse_case(wide)


def test_the_calibration_that_held_when_the_diameter_was_taken_says_how_sure_it_is(line_b) -> None:
    body = line_b.b09.mountings.get(removed_at=None).body
    assert measured_of(body, line_b.tape) == ()
    gauge = Gauge.objects.create(code="PI-9", name="circumference tape")
    for day, expanded in (("2026-01-10", 20), ("2026-03-24", 90)):
        Calibration.objects.create(
            gauge=gauge, certificate=day, done_on=day, due_on="2027-01-10", uncertainty=expanded, unit="um", at=make.AT
        )
    when = make.AT.replace(month=2, day=1)
    Measurement.objects.create(gauge=gauge, quantity="diameter_mm", body=body, value=200, at=when)
    (found,) = measured_of(body, line_b.tape)
    assert found.expanded == pytest.approx(0.02) and found.gauge == "PI-9"


def test_several_products_are_told_what_they_share_and_why_not(line_b, signed_in) -> None:
    page = part(signed_in(line_b.cast.dara), "common", QUERY | {"products": ["BO-35", "CP-70"]})
    text, found = page.content.decode(), page.context["part"]["common"]
    assert [room.name for room in found.rooms] == ["BO-35", "CP-70"]
    assert found.interval is None and "CP-70" in found.sentences[0]
    assert "Strain ladder" in text and "step of the tape" in text


@pytest.mark.parametrize("name", ["web", "sure", "common"])
def test_without_scripts_a_part_is_reached_by_a_link(line_b, signed_in, name) -> None:
    page = signed_in(line_b.cast.dara).get(reverse("rollers:sizing", args=["B09"]), QUERY | {"part": name})
    loaded = {row["name"] for row in page.context["deeper"] if row["content"]}
    assert loaded == {name}


def test_an_unknown_part_is_not_found_and_unreadable_input_is_named(line_b, signed_in) -> None:
    client = signed_in(line_b.cast.dara)
    assert part(client, "magic").status_code == 404
    page = part(client, "web", QUERY | {"inner": "abc"})
    assert page.status_code == 422 and "abc" in page.content.decode()


@pytest.mark.db_both
def test_a_stored_verdict_keeps_the_span_and_the_stored_case_gives_it_again(line_b) -> None:
    row = line_b.drafted().products.get()
    row.calculation.refresh_from_db()
    kept = row.calculation.result["span"]
    again = json.loads(json.dumps(web_in_span.numbers_of(row.calculation.case)))
    assert kept["edge_ratio"] == pytest.approx(again["edge_ratio"], rel=1e-12)
    assert kept["sentences"] == again["sentences"] and kept["version"] == row.calculation.calcs_version
    assert kept["method"] and kept["error_estimate"] < 0.05


def test_a_span_that_cannot_be_worked_out_does_not_stop_a_draft(line_b) -> None:
    line_b.path.steps.filter(position=line_b.b09).update(entry_span_mm=12)
    row = line_b.drafted().products.get()
    assert "span over width" in row.calculation.result["span"]["not_worked_out"]
    with pytest.raises(Refused):
        web_in_span.report_of(row.calculation.case)


def test_the_recipe_shows_the_stored_numbers_and_old_verdicts_without_them_still_open(line_b, signed_in) -> None:
    version, client = line_b.drafted(), signed_in(line_b.cast.dara)
    url = reverse("rollers:recipe", args=[version.pk])
    assert "What the tape does to the web, in two dimensions" in client.get(url).content.decode()
    assert web_in_span.stored_parts("BO-35", {"checks": []}) is None


@pytest.mark.pdf
def test_the_same_pictures_are_printed_with_their_figures(line_b) -> None:
    version = line_b.drafted()
    page = builder_of("mechanics")(str(version.pk), make.AT)
    assert page.context["products"][0]["pictures"][0][0].startswith("<svg")
    with pikepdf.open(io.BytesIO(pdf_of(page))) as pdf:
        kept = json.loads(pdf.attachments["record.json"].get_file().read_bytes())
        assert len(pdf.pages) >= 2
    assert kept["products"]["BO-35"]["result"]["span"]["edge_ratio"]


def test_the_form_of_ranges_takes_the_usual_where_nothing_is_sent() -> None:
    form = SureForm({})
    assert form.is_valid() and form.percents["modulus"] == 10


def test_the_profile_for_the_lathe_stands_for_the_tape_of_the_case(line_b) -> None:
    metal = tape_to_metal(parse_case(case_of(line_b)))
    for cut in metal.cuts:
        assert cut.cd_mean == pytest.approx(metal.tape_cd_mean, rel=1e-3)
