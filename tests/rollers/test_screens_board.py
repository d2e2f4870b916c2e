"""The ready board and the run: the question, the answer, the release and what is kept of it."""

from typing import Any

import pytest
from django.urls import reverse

from plant.floor.models import Run
from plant.web import clock
from rollers.models import RecipeProduct, Release
from rollers.services import runs
from tests import make
from tests.rollers.desk import Coating, coating, on_record

pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def wednesday(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(clock, "now", lambda: make.AT)


@pytest.fixture
def line_b(cast: Any) -> Coating:
    return coating(cast)


@pytest.fixture
def taped(line_b: Coating) -> Coating:
    """Film recipes in force and on the rollers; the paper bare by its sheet."""
    both, one = line_b.in_force(), line_b.one_end()
    line_b.sheet(line_b.film, {line_b.b09: both, line_b.b04: one})
    line_b.sheet(line_b.paper, {})
    line_b.put_on(line_b.b09, both, 8)
    line_b.put_on(line_b.b04, one, 3)
    return line_b


def planned(world: Coating, version: Any) -> Run:
    return runs.plan_run(
        path=world.path,
        version=version,
        tension_n_per_m=version.tension_set_n_per_m,
        speed_m_per_min=version.speed_set_m_per_min,
        starts_at=make.AT,
        by=world.cast.hanna,
        at=make.AT,
    )


def test_the_board_names_every_block_and_who_clears_it(taped, signed_in) -> None:
    page = signed_in(taped.cast.hanna).get(
        reverse("rollers:board", args=["B"]), {"product": "CP-70", "path": taped.path.pk}
    )
    text = page.content.decode()
    assert page.status_code == 200
    assert "NO. Line B may not run CP-70 now: 2 things stop it." in text
    assert text.count('class="block"') == 2
    for code in ("B04", "B09"):
        assert reverse("rollers:position", args=[code]) in text
    assert "a person with Apply for this room" in text


def test_the_board_says_yes_when_nothing_stands_against_it(taped, signed_in) -> None:
    page = signed_in(taped.cast.hanna).get(
        reverse("rollers:board", args=["B"]), {"product": "BO-35", "path": taped.path.pk}
    )
    assert "YES. Line B may run BO-35 now." in page.content.decode()


def test_a_change_of_product_answers_in_place(taped, signed_in) -> None:
    page = signed_in(taped.cast.hanna).get(
        reverse("rollers:board", args=["B"]),
        {"product": "CP-70", "path": taped.path.pk},
        headers={"HX-Request": "true"},
    )
    text = page.content.decode()
    assert "NO. Line B may not run CP-70" in text
    assert "<html" not in text


def test_a_set_point_that_is_no_figure_is_named_and_kept(line_b, signed_in) -> None:
    page = signed_in(line_b.cast.hanna).get(
        reverse("rollers:board", args=["B"]),
        {"product": "BO-35", "path": line_b.path.pk, "tension": "lots", "tension_unit": "N/m"},
    )
    text = page.content.decode()
    assert 'value="lots"' in text
    assert "id_tension" in text and "lots" in text
    assert "YES" not in text and "NO." not in text


def test_set_points_may_be_typed_in_other_units_and_are_kept_as_typed(line_b, signed_in) -> None:
    line_b.sheet(line_b.film, {})
    answer = signed_in(line_b.cast.hanna).post(
        reverse("rollers:plan-run", args=["B"]),
        {
            "product": "BO-35",
            "path": line_b.path.pk,
            "tension": "1",
            "tension_unit": "pli",
            "speed": "700",
            "speed_unit": "fpm",
            "starts_at": "2026-03-25T12:00",
        },
    )
    run = Run.objects.get()
    assert answer.status_code == 302
    assert run.tension_n_per_m == pytest.approx(175.127, rel=1e-5)
    assert run.typed["tension_n_per_m"] == {"value": "1", "unit": "pli"}
    assert run.starts_at.isoformat() == "2026-03-25T11:00:00+00:00"  # noon in Vienna


def test_planning_without_a_start_keeps_product_and_set_points(line_b, signed_in) -> None:
    answer = signed_in(line_b.cast.hanna).post(
        reverse("rollers:plan-run", args=["B"]),
        {"product": "CP-70", "path": line_b.path.pk, "tension": "231", "tension_unit": "N/m", "starts_at": "soon"},
    )
    text = answer.content.decode()
    assert answer.status_code == 422
    assert "Type the start as date and time" in text
    assert 'value="231"' in text and 'value="CP-70" selected' in text
    assert not Run.objects.exists()


def test_an_operator_is_not_offered_planning_and_is_refused_when_asking_anyway(line_b, signed_in) -> None:
    client = signed_in(line_b.cast.tomas)
    asked = {"product": "BO-35", "path": line_b.path.pk}
    assert "Plan the run" not in client.get(reverse("rollers:board", args=["B"]), asked).content.decode()
    answer = client.post(reverse("rollers:plan-run", args=["B"]), asked | {"starts_at": "2026-03-25T12:00"})
    assert answer.status_code == 403
    assert "Planning a run takes the role shift supervisor or process engineer" in answer.content.decode()
    assert not Run.objects.exists()


def test_a_release_takes_the_own_secret_and_keeps_what_was_seen(taped, signed_in) -> None:
    run, client = planned(taped, taped.film), signed_in(taped.cast.hanna)
    page = client.get(reverse("rollers:run", args=[run.pk]))
    seen = page.context["form"]["seen"].value()
    wrong = client.post(reverse("rollers:release-run", args=[run.pk]), {"seen": seen, "secret": "not mine"})
    assert wrong.status_code == 422
    assert "This is not your password" in wrong.content.decode()
    done = client.post(reverse("rollers:release-run", args=[run.pk]), {"seen": seen, "secret": make.SECRET})
    assert done.status_code == 302
    release = Release.objects.get(run=run)
    assert [place["on"][:6] for place in release.snapshot["positions"]] == ["T5 × 1", "T5 × 1", "bare"]
    text = client.get(reverse("rollers:run", args=[run.pk])).content.decode()
    assert "Released and running" in text and "Hanna Lindqvist" in text and release.signature.digest in text


def test_a_blocked_release_names_the_blocks_although_the_secret_is_right(taped, signed_in) -> None:
    run = planned(taped, taped.paper)
    answer = signed_in(taped.cast.hanna).post(
        reverse("rollers:release-run", args=[run.pk]), {"seen": "x", "secret": make.SECRET}
    )
    text = answer.content.decode()
    assert answer.status_code == 422
    assert "2 things stand against this release." in text and "B04: take off" in text
    assert not Release.objects.exists()


def test_what_changed_since_the_page_was_opened_is_shown_before_it_is_signed(taped, signed_in) -> None:
    run, client = planned(taped, taped.film), signed_in(taped.cast.hanna)
    old = client.get(reverse("rollers:run", args=[run.pk])).context["form"]["seen"].value()
    both, one = (row.version for row in RecipeProduct.objects.filter(in_force=True).order_by("-position__order"))
    taped.sheet(taped.film, {taped.b09: both, taped.b04: one})
    answer = client.post(reverse("rollers:release-run", args=[run.pk]), {"seen": old, "secret": make.SECRET})
    assert answer.status_code == 409
    assert "changed since you looked" in answer.content.decode()
    fresh = answer.context["form"]["seen"].value()
    assert fresh != old
    assert (
        client.post(reverse("rollers:release-run", args=[run.pk]), {"seen": fresh, "secret": make.SECRET}).status_code
        == 302
    )


def test_an_old_release_page_is_refused_once_the_run_is_released(taped, signed_in) -> None:
    run, client = planned(taped, taped.film), signed_in(taped.cast.hanna)
    seen = client.get(reverse("rollers:run", args=[run.pk])).context["form"]["seen"].value()
    runs.release_run(run, confirmation=make.confirmation(taped.cast.babak))
    answer = client.post(reverse("rollers:release-run", args=[run.pk]), {"seen": seen, "secret": make.SECRET})
    assert answer.status_code == 409
    assert "released already" in answer.content.decode()
    assert Release.objects.count() == 1


def test_the_engineer_cannot_release_by_direct_request(taped, signed_in) -> None:
    run, client = planned(taped, taped.film), signed_in(taped.cast.dara)
    page = client.get(reverse("rollers:run", args=[run.pk])).content.decode()
    assert "Sign and release" not in page
    answer = client.post(reverse("rollers:release-run", args=[run.pk]), {"seen": "", "secret": make.SECRET})
    assert answer.status_code in (403, 409)
    assert not Release.objects.exists()


def test_a_run_is_ended_by_an_operator_and_a_plan_cancelled_only_by_a_supervisor(taped, signed_in) -> None:
    run = planned(taped, taped.film)
    runs.release_run(run, confirmation=make.confirmation(taped.cast.hanna))
    other = planned(taped, taped.paper)
    client = signed_in(taped.cast.tomas)
    assert client.post(reverse("rollers:end-run", args=[other.pk]), {"reason": ""}).status_code == 403
    assert client.post(reverse("rollers:end-run", args=[run.pk]), {"reason": "done"}).status_code == 302
    run.refresh_from_db()
    assert run.state == Run.State.ENDED


def test_an_unknown_line_is_a_page_with_a_sentence(cast, signed_in) -> None:
    answer = signed_in(cast.hanna).get(reverse("rollers:board", args=["Z9"]))
    assert answer.status_code == 404
    assert "There is no line" in answer.content.decode()


def test_positions_off_the_path_are_listed_apart(line_b, signed_in) -> None:
    spare = make.position("B99", path=line_b.path, room=make.room("F1", "food"))
    line_b.path.steps.filter(position=spare).delete()
    page = signed_in(line_b.cast.hanna).get(
        reverse("rollers:board", args=["B"]), {"product": "BO-35", "path": line_b.path.pk}
    )
    assert "Off this path: listed, not blocking" in page.content.decode()


def test_the_board_of_forty_taped_rollers_asks_few_questions_of_the_database(
    line_b, signed_in, django_assert_max_num_queries
) -> None:
    version = line_b.in_force()
    room = make.room("F1", "food")
    for number in range(37):
        made = make.position(
            f"X{number:02}", path=line_b.path, room=room, bare=False, face_mm=1750, diameter_mm=200, roughness_um=25
        )
        on_record(made, version)
    client, asked = signed_in(line_b.cast.hanna), {"product": "BO-35", "path": line_b.path.pk}
    with django_assert_max_num_queries(36):
        page = client.get(reverse("rollers:board", args=["B"]), asked)
    assert page.content.decode().count('class="d-step"') == 40


def test_a_link_that_names_the_product_alone_gets_its_answer(signed_in, taped):
    """The path is then that of the next run, or the only one."""
    asked = {"product": taped.paper.product.code}
    page = signed_in(taped.cast.hanna).get(reverse("rollers:board", args=["B"]), asked).content.decode()
    assert "Choose the path" not in page
    assert "Line B may not run CP-70 now" in page or "Line B may run CP-70 now" in page
