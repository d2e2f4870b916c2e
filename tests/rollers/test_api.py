"""The API asks the same services as the screens and refuses in the same words."""

import json

import pytest
from django.urls import reverse

from tests import make

pytestmark = pytest.mark.django_db

CASE = {
    "web": {"width_mm": 1500, "thickness_um": 17, "modulus_md_mpa": 120, "wander_mm": 5},
    "state": {"tension_n_per_m": 50, "speed_m_per_min": 280},
    "roller": {
        "diameter_mm": 120,
        "face_mm": 1800,
        "wrap_deg": 120,
        "entry_span_mm": 1400,
        "roughness_um": 40,
        "friction": 0.35,
    },
    "tape": {"thickness_mm": 0.14, "width_mm": 48, "roughness_um": 25},
    "bands": [
        {"end": "operator", "inner_mm": 600, "outer_mm": 792, "wraps": 4},
        {"end": "drive", "inner_mm": 600, "outer_mm": 792, "wraps": 4},
    ],
}


@pytest.fixture
def a_line(cast):
    make.plant()
    line, room = make.line("A"), make.room("G1")
    path = make.web_path(line)
    make.position("A05", path=path, room=room)
    make.position("A06", path=path, room=room)
    make.product("SF-17", line, width=1500, thickness=17, modulus=120, tension=50, speed=280, friction=0.35)
    return line


def post(client, name, body, **kwargs):
    return client.post(reverse(f"rollers-api:{name}", kwargs=kwargs), json.dumps(body), "application/json")


def test_nobody_asks_without_signing_in(client, a_line):
    answer = client.get(reverse("rollers-api:readiness", kwargs={"code": "A"}), {"product": "SF-17"})
    assert answer.status_code in (302, 401, 403)


def test_an_undecided_general_line_may_run_with_a_caution_for_each_roller(signed_in, cast, a_line):
    url = reverse("rollers-api:readiness", kwargs={"code": "a"})
    answer = signed_in(cast.ines).get(url, {"product": "sf-17"}).json()
    assert answer["may_run"] is True
    assert [row["word"] for row in answer["positions"]] == ["caution", "caution"]
    assert "Undecided is not bare" in answer["positions"][0]["findings"][0]["sentence"]


def test_a_case_is_judged_as_on_the_command_line(signed_in, cast):
    answer = post(signed_in(cast.dara), "check", CASE).json()
    assert answer["verdict"] == "fits"
    assert round(answer["edge_ratio"], 2) == 1.30
    assert post(signed_in(cast.dara), "size", CASE).json()["suggested_wraps"] == 4


def test_how_bad_a_wrinkle_is_is_not_an_input(signed_in, cast):
    answer = post(signed_in(cast.dara), "size", CASE | {"wrinkle_grade": 4})
    assert answer.status_code == 422
    assert "wrinkle_grade" in answer.json()["sentence"]


@pytest.mark.parametrize(
    ("body", "said"),
    [
        ([], "one JSON object"),
        (CASE | {"web": CASE["web"] | {"thickness_um": -1}}, "thickness_um"),
        (CASE | {"web": {}}, "is missing"),
    ],
)
def test_bad_input_gets_a_sentence_that_names_the_field(signed_in, cast, body, said):
    answer = post(signed_in(cast.dara), "check", body)
    assert answer.status_code == 422
    assert said in answer.json()["sentence"]


def test_an_unknown_line_or_product_is_named(signed_in, cast, a_line):
    client = signed_in(cast.ines)
    answer = client.get(reverse("rollers-api:readiness", kwargs={"code": "Z9"}), {"product": "SF-17"})
    assert answer.status_code == 404 and "Z9" in answer.json()["sentence"]
    answer = client.get(reverse("rollers-api:readiness", kwargs={"code": "A"}), {"product": "XX"})
    assert answer.status_code == 404 and "XX" in answer.json()["sentence"]
    answer = client.get(reverse("rollers-api:readiness", kwargs={"code": "A"}))
    assert answer.status_code == 400 and answer.json()["field"] == "product"


def test_a_run_is_planned_by_a_supervisor_and_released_with_the_own_secret_only(signed_in, cast, a_line):
    order = {"product": "SF-17", "starts_at": "2026-03-25T10:00:00Z"}
    refused = post(signed_in(cast.ines), "plan-run", order, code="A")
    assert refused.status_code == 403 and "Hanna" not in refused.json()["sentence"]
    client = signed_in(cast.hanna)
    made = post(client, "plan-run", order, code="A")
    assert made.status_code == 201
    pk = made.json()["id"]
    wrong = post(client, "release-run", {"secret": "not my secret"}, pk=pk)
    assert wrong.status_code == 422 and "not your password" in wrong.json()["sentence"]
    right = post(client, "release-run", {"secret": make.SECRET}, pk=pk)
    assert right.status_code == 200 and right.json()["state"] == "released"
    again = post(client, "release-run", {"secret": make.SECRET}, pk=pk)
    assert again.status_code == 409


def test_the_description_of_the_api_names_every_address(signed_in, cast):
    schema = signed_in(cast.ines).get(reverse("api:schema"), HTTP_ACCEPT="application/json").json()
    assert "/api/v1/lines/{code}/readiness/" in schema["paths"]
    assert "/api/v1/check/" in schema["paths"]
    assert signed_in(cast.ines).get(reverse("api:page")).status_code == 200
