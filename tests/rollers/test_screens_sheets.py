"""Product sheets, the first page and the limits."""

from typing import Any

import pytest
from django.urls import reverse

from plant.web import clock
from rollers.models import LimitSet, ProductSheet
from rollers.readiness import present_limits
from rollers.services import sheets
from tests import make
from tests.rollers.desk import Coating, coating

pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def wednesday(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(clock, "now", lambda: make.AT)


@pytest.fixture
def line_b(cast: Any) -> Coating:
    return coating(cast)


def edit_url(world: Coating) -> str:
    return reverse("rollers:edit-sheet", args=["BO-35", world.path.pk])


def test_a_sheet_is_drafted_signed_and_says_what_every_position_carries(line_b, signed_in) -> None:
    version, client = line_b.in_force(), signed_in(line_b.cast.hanna)
    page = client.get(edit_url(line_b)).content.decode()
    assert "bare by its type" in page and f'value="{version.pk}" selected' in page
    drafted = client.post(edit_url(line_b), {f"position-{line_b.b09.pk}": version.pk}, follow=True)
    sheet = ProductSheet.objects.get()
    assert "Draft: holds once it is signed" in drafted.content.decode()
    client.post(reverse("rollers:sign-sheet", args=[sheet.pk]), {"secret": make.SECRET})
    sheet.refresh_from_db()
    assert sheet.state == "in force"
    text = client.get(reverse("rollers:sheet", args=[sheet.pk])).content.decode()
    assert "In force since" in text and "Hanna Lindqvist" in text and "T5 × 1, both ends" in text
    assert text.count("by its type") == 1


def test_a_recipe_that_ended_meanwhile_is_named_and_the_other_choices_stay(line_b, signed_in) -> None:
    both, one = line_b.in_force(), line_b.one_end()
    client = signed_in(line_b.cast.hanna)
    both.products.update(in_force=False)
    answer = client.post(edit_url(line_b), {f"position-{line_b.b09.pk}": both.pk, f"position-{line_b.b04.pk}": one.pk})
    text = answer.content.decode()
    assert answer.status_code == 422
    assert "B09: the chosen recipe is not in force any more" in text
    assert f'value="{one.pk}" selected' in text
    assert not ProductSheet.objects.exists()


def test_only_a_supervisor_drafts_and_signs(line_b, signed_in) -> None:
    version, client = line_b.in_force(), signed_in(line_b.cast.dara)
    assert "Draft the sheet" not in client.get(edit_url(line_b)).content.decode()
    answer = client.post(edit_url(line_b), {f"position-{line_b.b09.pk}": version.pk})
    assert answer.status_code == 403
    assert "takes the role shift supervisor" in answer.content.decode()
    sheet = sheets.draft_sheet(
        product=line_b.film.product, path=line_b.path, choices={}, by=line_b.cast.hanna, at=make.AT
    )
    answer = client.post(reverse("rollers:sign-sheet", args=[sheet.pk]), {"secret": make.SECRET})
    assert answer.status_code == 403
    sheet.refresh_from_db()
    assert sheet.state == "draft"


def test_an_old_page_of_a_replaced_draft_is_refused_as_changed(line_b, signed_in) -> None:
    args = {"product": line_b.film.product, "path": line_b.path, "choices": {}, "by": line_b.cast.hanna, "at": make.AT}
    sheet = sheets.draft_sheet(**args)
    sheets.sign_sheet(sheet, confirmation=make.confirmation(line_b.cast.babak))
    answer = signed_in(line_b.cast.hanna).post(reverse("rollers:sign-sheet", args=[sheet.pk]), {"secret": make.SECRET})
    assert answer.status_code == 409
    assert "no longer a draft" in answer.content.decode()


def test_a_withdrawn_sheet_leaves_its_positions_undecided(line_b, signed_in) -> None:
    line_b.sheet(line_b.film, {})
    sheet, client = ProductSheet.objects.get(), signed_in(line_b.cast.yuki)
    client.post(reverse("rollers:withdraw-sheet", args=[sheet.pk]), {"reason": "wrong position named"})
    sheet.refresh_from_db()
    assert sheet.state == "withdrawn"
    board = client.get(reverse("rollers:board", args=["B"]), {"product": "BO-35", "path": line_b.path.pk})
    assert "Undecided is not bare" in board.content.decode()


def test_the_first_page_has_a_word_for_each_line_and_what_waits_for_the_person(line_b, signed_in) -> None:
    line_b.checked()
    hanna = signed_in(line_b.cast.hanna).get(reverse("home")).content.decode()
    assert "Line B" in hanna and "waits for your signature “approved”." in hanna
    dara = signed_in(line_b.cast.dara).get(reverse("home")).content.decode()
    assert "waits for your signature “" not in dara


def test_an_empty_installation_is_guided(cast, signed_in) -> None:
    page = signed_in(cast.keeper).get(reverse("home"))
    assert page.status_code == 200
    assert page.context["little_is_set_up"]


def limits_sent(**changes: str) -> dict[str, str]:
    sent = {}
    for name, limit in present_limits().values.items():
        for level in ("target", "caution", "refuse"):
            value = getattr(limit, level)
            sent[f"{name}-{level}"] = "" if value is None else str(value)
    return sent | changes


def test_engineer_and_qa_change_a_limit_together(line_b, signed_in) -> None:
    line_b.in_force()
    client, qa = signed_in(line_b.cast.dara), line_b.cast.yuki
    sent = limits_sent(
        **{"edge_ratio-caution": "1.2"},
        reason="narrower after the trials of February",
        source="own trials on line B",
        secret=make.SECRET,
        other_staff_no=qa.staff_no,
        other_secret=make.SECRET,
    )
    assert client.post(reverse("rollers:change-limits"), sent).status_code == 302
    made = LimitSet.objects.get()
    assert made.limits["limits"]["edge_ratio"]["caution"] == 1.2
    assert made.limits["limits"]["edge_ratio"]["source"] == "own trials on line B"
    text = client.get(reverse("rollers:limits")).content.decode()
    assert "plant 1" in text and "Edge ratio, caution: 1.6 became 1.2" in text
    assert "fits when signed, caution now" in text  # the recipe in force is listed; its verdict stays


def test_a_limit_that_is_no_figure_is_named_and_the_rest_stays(line_b, signed_in) -> None:
    sent = limits_sent(
        **{"edge_ratio-caution": "much"},
        reason="narrower after the trials of February",
        source="own trials",
        secret=make.SECRET,
        other_staff_no="T0",
        other_secret=make.SECRET,
    )
    answer = signed_in(line_b.cast.dara).post(reverse("rollers:change-limits"), sent)
    text = answer.content.decode()
    assert answer.status_code == 422
    assert "is no figure" in text and 'value="much"' in text and "own trials" in text
    assert make.SECRET not in text
    assert not LimitSet.objects.exists()


def test_one_person_alone_cannot_change_a_limit(line_b, signed_in) -> None:
    both = make.person("Ada Brix", "qa", "engineer")
    sent = limits_sent(
        **{"edge_ratio-caution": "1.2"},
        reason="narrower after the trials of February",
        source="own trials",
        secret=make.SECRET,
        other_staff_no=both.staff_no,
        other_secret=make.SECRET,
    )
    answer = signed_in(both).post(reverse("rollers:change-limits"), sent)
    assert answer.status_code == 422
    assert "must be two persons" in answer.content.decode()


def test_a_supervisor_cannot_change_a_limit_by_direct_request(line_b, signed_in) -> None:
    client = signed_in(line_b.cast.hanna)
    assert "Sign together" not in client.get(reverse("rollers:change-limits")).content.decode()
    sent = limits_sent(
        **{"edge_ratio-refuse": "9"},
        reason="the run has to go on tonight",
        source="none",
        secret=make.SECRET,
        other_staff_no=line_b.cast.yuki.staff_no,
        other_secret=make.SECRET,
    )
    answer = client.post(reverse("rollers:change-limits"), sent)
    assert answer.status_code == 403
    assert not LimitSet.objects.exists()


def test_every_page_of_the_desk_opens_for_every_role(line_b, signed_in) -> None:
    version = line_b.in_force()
    line_b.sheet(line_b.film, {line_b.b09: version})
    pages = [
        reverse("home"),
        reverse("rollers:recipes"),
        reverse("rollers:sheets"),
        reverse("rollers:limits"),
        reverse("rollers:recipe", args=[version.pk]),
        reverse("rollers:sheet", args=[ProductSheet.objects.get().pk]),
        reverse("rollers:position", args=["B09"]),
        reverse("rollers:board", args=["B"]),
        reverse("rollers:sizing", args=["B09"]),
    ]
    for person in (line_b.cast.tomas, line_b.cast.sol, line_b.cast.keeper, line_b.cast.kwame):
        client = signed_in(person)
        assert [client.get(page).status_code for page in pages] == [200] * len(pages)
