"""Recipe pages: what is needed, who may, and the refusals of those who may not."""

from dataclasses import replace
from typing import Any

import pytest
from django.urls import reverse

from plant.web import clock
from rollers.models import Body, RecipeVersion
from rollers.services import approving
from tests import make
from tests.rollers.desk import BOTH, Coating, coating

pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def wednesday(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(clock, "now", lambda: make.AT)


@pytest.fixture
def line_b(cast: Any) -> Coating:
    return coating(cast)


@pytest.fixture
def cautious(cast: Any) -> RecipeVersion:
    """A draft with one caution, in a general room."""
    make.plant()
    line = make.line("A")
    path = make.web_path(line)
    a05 = make.position("A05", path=path, room=make.room("G1"))
    film = make.product("SF-17", line, width=1500, thickness=17, modulus=120, tension=50, speed=280, friction=0.35)
    world = Coating(cast, path, a05, a05, a05, film, film, make.stock("T1"))
    bands = [replace(band, inner_mm=600, outer_mm=792, wraps=5) for band in BOTH]
    make.shift(cast.hanna, cast.dara)
    return world.drafted(bands=bands)


def page(name: str, version: RecipeVersion) -> str:
    return reverse(f"rollers:{name}", args=[version.pk])


def state(version: RecipeVersion) -> str:
    return RecipeVersion.objects.get(pk=version.pk).state


def test_the_author_signs_with_the_own_secret_and_sees_who_comes_next(line_b, signed_in) -> None:
    version, client = line_b.drafted(), signed_in(line_b.cast.dara)
    assert "Sign as author" in client.get(page("recipe", version)).content.decode()
    answer = client.post(page("check-recipe", version), {"secret": make.SECRET}, follow=True)
    text = answer.content.decode()
    assert state(version) == "checked"
    assert "You are the author of this version, so others approve it." in text
    assert "Approve for use" not in text
    assert "Hanna Lindqvist" in text and "Yuki Sandoval" in text


def test_the_author_cannot_approve_from_a_second_tab(line_b, signed_in) -> None:
    version = line_b.checked()
    answer = signed_in(line_b.cast.dara).post(
        page("approve-recipe", version), {"meaning": "approved", "secret": make.SECRET}
    )
    assert answer.status_code == 422
    assert "is the author of this version and cannot approve it" in answer.content.decode()
    assert state(version) == "checked"


def test_an_author_who_is_supervisor_too_is_offered_nothing_and_refused(line_b, cast, signed_in) -> None:
    both = make.person("Ada Brix", "supervisor", "engineer", skills="aware size")
    version = line_b.drafted(by=both)
    approving.check_recipe(version, reasons={}, confirmation=make.confirmation(both))
    client = signed_in(both)
    assert "Approve for use" not in client.get(page("recipe", version)).content.decode()
    answer = client.post(page("approve-recipe", version), {"meaning": "approved", "secret": make.SECRET})
    assert answer.status_code == 422 and state(version) == "checked"


def test_an_operator_is_offered_no_signature_and_refused_when_asking_anyway(line_b, signed_in) -> None:
    version, client = line_b.checked(), signed_in(line_b.cast.tomas)
    assert "Sign</h2>" not in client.get(page("recipe", version)).content.decode()
    answer = client.post(page("approve-recipe", version), {"meaning": "approved", "secret": make.SECRET})
    assert answer.status_code == 403
    assert "takes the role shift supervisor" in answer.content.decode()
    assert state(version) == "checked"


def test_supervisor_and_qa_bring_it_into_force_in_a_food_room(line_b, signed_in) -> None:
    version = line_b.checked()
    signed_in(line_b.cast.hanna).post(page("approve-recipe", version), {"meaning": "approved", "secret": make.SECRET})
    assert state(version) == "checked"
    signed_in(line_b.cast.yuki).post(page("approve-recipe", version), {"meaning": "QA approved", "secret": make.SECRET})
    assert state(version) == "in force"
    text = signed_in(line_b.cast.tomas).get(page("recipe", version)).content.decode()
    assert text.count('class="signature"') == 3
    assert "not for this version" not in text


def test_a_wrong_secret_signs_nothing_and_says_how_many_tries_are_left(line_b, signed_in) -> None:
    version = line_b.checked()
    answer = signed_in(line_b.cast.hanna).post(
        page("approve-recipe", version), {"meaning": "approved", "secret": "hers, not mine"}
    )
    assert answer.status_code == 422
    assert "4 tries left; nothing you typed is lost" in answer.content.decode()
    assert state(version) == "checked"


def test_an_old_approval_form_is_refused_as_changed(line_b, signed_in) -> None:
    version = line_b.in_force()
    answer = signed_in(line_b.cast.hanna).post(
        page("approve-recipe", version), {"meaning": "approved", "secret": make.SECRET}
    )
    assert answer.status_code == 409
    assert "This version is in force: look again." in answer.content.decode()


def test_every_caution_asks_its_reason_and_a_missing_one_loses_no_other(cautious, cast, signed_in) -> None:
    client = signed_in(cast.dara)
    form = client.get(page("recipe", cautious)).context["author_form"]
    names = [name for name in form.fields if name.startswith("reason-")]
    assert names == ["reason-SF-17-wraps"]
    short = client.post(page("check-recipe", cautious), {names[0]: "ok", "secret": make.SECRET})
    assert short.status_code == 422
    assert "write why this caution is accepted" in short.content.decode()
    assert short.context["author_form"][names[0]].value() == "ok"
    wrong = client.post(page("check-recipe", cautious), {names[0]: "trial of last week ran flat", "secret": "no"})
    assert "trial of last week ran flat" in wrong.content.decode()
    client.post(page("check-recipe", cautious), {names[0]: "trial of last week ran flat", "secret": make.SECRET})
    assert state(cautious) == "checked"
    text = client.get(page("recipe", cautious)).content.decode()
    assert "Accepted because:" in text and "second size" in text


def test_withdrawing_takes_a_reason_and_keeps_it_in_the_history(line_b, signed_in) -> None:
    version, client = line_b.in_force(), signed_in(line_b.cast.hanna)
    short = client.post(page("withdraw-recipe", version), {"reason": "bad"})
    assert short.status_code == 422 and "Say why the recipe is withdrawn" in short.content.decode()
    client.post(page("withdraw-recipe", version), {"reason": "edge marks on three rolls"})
    text = client.get(page("recipe", version)).content.decode()
    assert "Withdrawn: holds for no product" in text and "edge marks on three rolls" in text


def test_an_operator_cannot_withdraw(line_b, signed_in) -> None:
    version, client = line_b.in_force(), signed_in(line_b.cast.tomas)
    assert "Withdraw this version" not in client.get(page("recipe", version)).content.decode()
    answer = client.post(page("withdraw-recipe", version), {"reason": "I do not like this tape"})
    assert answer.status_code == 403 and state(version) == "in force"


def test_a_copy_to_a_smaller_roller_is_sized_anew_and_shown_beside_the_old(line_b, signed_in) -> None:
    version, client = line_b.in_force(), signed_in(line_b.cast.dara)
    Body.objects.filter(serial="R-B04").update(diameter_mm=80)
    step = line_b.path.steps.get(position=line_b.b04)
    shown = client.get(page("copy-recipe", version), {"step": step.pk})
    assert shown.status_code == 200
    assert shown.context["suggestion"].wraps == 0  # the same tape is a step 2.5 times as high there
    assert "There: B04, bare" in shown.content.decode()
    answer = client.post(page("copy-recipe", version), {"step": step.pk, "title": "BOPP, small roller"})
    made = RecipeVersion.objects.exclude(pk=version.pk).get()
    assert answer["Location"] == page("recipe", made)
    assert made.stock is None and made.recipe.position == line_b.b04


def test_the_history_says_what_changed_between_versions(line_b, signed_in) -> None:
    line_b.in_force()
    bands = [replace(band, wraps=2) for band in BOTH]
    second = line_b.drafted(bands=bands)
    text = signed_in(line_b.cast.tomas).get(page("recipe", second)).content.decode()
    assert "band drive end 640-840 mm × 2 added" in text
    assert "band drive end 640-840 mm × 1 left out" in text


def test_an_unknown_recipe_is_a_page_with_a_sentence(cast, signed_in) -> None:
    answer = signed_in(cast.dara).get(reverse("rollers:recipe", args=[99_999]))
    assert answer.status_code == 404
    assert "There is no recipe version" in answer.content.decode()
