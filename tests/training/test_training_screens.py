"""The screens of certificates: the grid of who may do what, one person's, issuing and suspending."""

import re
from datetime import date, timedelta
from typing import Any

import pytest
from django.urls import reverse

from plant.web import clock
from tests import make
from training.grid import shift_grid
from training.models import Certificate
from training.queries import is_certified
from training.services import suspend

AT = make.AT
pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def morning(db: None, monkeypatch: pytest.MonkeyPatch) -> None:
    make.plant()
    monkeypatch.setattr(clock, "now", lambda: AT)


def text(response: Any) -> str:
    return " ".join(re.sub(r"<[^>]+>", " ", response.content.decode()).split())


def cells_of(person) -> dict[str, tuple[str, str]]:
    grid = shift_grid(AT)
    row = next(cells for who, cells in grid.rows if who == person)
    return {f"{work.label} {work.place}": (cell.mark, cell.word) for work, cell in zip(grid.works, row, strict=True)}


def test_the_grid_says_for_every_person_on_shift_and_every_work_what_the_rules_say(cast) -> None:
    make.shift(cast.lena, cast.mei, cast.kwame)
    assert cells_of(cast.lena) == {
        "Apply general rooms": ("fits", "may"),
        "Apply food rooms": ("not-evaluated", "no add-on"),
        "Apply medical rooms": ("fits", "may"),
        "Check general rooms": ("fits", "may"),
        "Check food rooms": ("not-evaluated", "no add-on"),
        "Check medical rooms": ("fits", "may"),
        "Apply hot rollers": ("not-evaluated", "no add-on"),
        "Size recipes": ("not-evaluated", "no"),
    }
    assert cells_of(cast.kwame)["Apply hot rollers"] == ("fits", "may")
    assert shift_grid(AT).counts == [3, 0, 2, 1, 0, 1, 1, 0]


def test_the_grid_points_out_what_ends_soon_and_what_was_lost(cast) -> None:
    make.shift(cast.rui, cast.yuki)
    assert cells_of(cast.rui)["Apply general rooms"] == ("caution", "to 25 Mar")
    suspend(cast.yuki.certificates.get(skill__code="apply"), reason="gowning breach", by=cast.hanna, at=AT)
    assert {cell for place, cell in cells_of(cast.yuki).items() if place[:5] in ("Apply", "Check")} == {
        ("refused", "suspended")
    }
    assert any("gowning breach" in reason for reason in shift_grid(AT).reasons)


def test_the_end_of_the_add_on_is_pointed_out_only_where_it_is_needed(cast) -> None:
    person = make.person("Tilda Roos", "operator", skills="aware apply")
    make.certificate(person, "food", until=date(2026, 4, 1))
    make.shift(person)
    assert cells_of(person)["Apply general rooms"] == ("fits", "may")
    assert cells_of(person)["Apply food rooms"] == ("caution", "to 1 Apr")


def test_the_grid_page_shows_word_and_shape_and_says_when_nobody_is_on_shift(cast, signed_in) -> None:
    client, url = signed_in(cast.hanna), reverse("training:grid")
    assert "Nobody is on shift now" in text(client.get(url))
    make.shift(cast.lena)
    page = client.get(url)
    assert "Lena Oduya" in text(page)
    assert 'data-verdict="fits"' in page.content.decode()
    assert "nobody" in text(page)
    assert cast.mei.name not in text(page)
    assert cast.mei.name in text(client.get(url, {"everybody": "1"}))


def test_the_grid_page_answers_for_a_shift_to_come_too(cast, signed_in) -> None:
    client, url = signed_in(cast.hanna), reverse("training:grid")
    make.shift(cast.lena)
    night = make.shift(cast.rui, name="Night", starts=AT.replace(hour=21), ends=AT.replace(hour=23))
    assert cast.rui.name not in text(client.get(url))
    page = text(client.get(url, {"shift": night.pk}))
    assert "Who may do what: Night" in page
    assert cast.rui.name in page and cast.lena.name not in page


def test_the_grid_takes_the_same_few_queries_for_one_person_and_for_forty(
    cast, signed_in, django_assert_max_num_queries
) -> None:
    crew = [make.person(f"Crew {n:02d}", "operator", skills="aware apply check food") for n in range(40)]
    make.shift(*crew)
    client = signed_in(cast.hanna)
    with django_assert_max_num_queries(16):
        client.get(reverse("training:grid"))


def test_a_person_page_shows_suspension_with_reason_and_what_does_not_count_because_of_it(cast, signed_in) -> None:
    suspend(cast.lena.certificates.get(skill__code="apply"), reason="two failed checks", by=cast.greta, at=AT)
    page = text(signed_in(cast.hanna).get(reverse("training:person", args=[cast.lena.pk])))
    assert "suspended 25 Mar 2026, 10:00 +0100, Greta Munro: two failed checks" in page
    assert "does not count" in page
    assert "Check counts only beside a valid Apply certificate." in page


GIVEN = {"skill": "size", "valid_from": "2026-03-25", "evidence": "two cases, file 9", "secret": make.SECRET}


def test_a_trainer_issues_with_the_own_password_and_the_person_page_shows_it(cast, signed_in) -> None:
    answer = signed_in(cast.greta).post(reverse("training:issue", args=[cast.ines.pk]), GIVEN, follow=True)
    assert "Size certificate" in text(answer)
    certificate = cast.ines.certificates.get(skill__code="size")
    assert (certificate.issued_by, certificate.valid_to) == (cast.greta, date(2028, 3, 25))


@pytest.mark.parametrize(
    ("wrong", "where", "words"),
    [
        ({"secret": "not it"}, "secret", "This is not your password. 4 tries left"),
        ({"valid_from": "2026-03-24"}, "valid_from", "cannot begin before"),
        ({"valid_to": "2030-01-01"}, "valid_to", "Size lasts 24 months"),
        ({"evidence": "x"}, "evidence", "Name the evidence"),
        ({"skill": "juggle"}, "skill", "Select a valid choice"),
        ({"valid_from": "31.2.2026"}, "valid_from", "valid date"),
    ],
)
def test_a_refused_certificate_keeps_what_was_typed_and_names_the_field(cast, signed_in, wrong, where, words) -> None:
    answer = signed_in(cast.greta).post(reverse("training:issue", args=[cast.ines.pk]), GIVEN | wrong)
    assert answer.status_code == 422
    assert words in answer.context["form"].errors[where][0]
    assert (GIVEN | wrong)["evidence"] in text(answer)
    assert not cast.ines.certificates.filter(skill__code="size").exists()


def test_issuing_to_oneself_is_refused_on_the_form_and_names_who_can(cast, signed_in) -> None:
    assert cast.dara
    answer = signed_in(cast.greta).post(reverse("training:issue", args=[cast.greta.pk]), GIVEN)
    assert answer.status_code == 422
    assert "Nobody issues a certificate to himself or herself. Dara Whitlow" in text(answer)


def test_an_older_certificate_is_taken_over_by_the_keeper_as_founding(cast, signed_in) -> None:
    given = {"skill": "check", "number": "P-88", "valid_from": "2025-06-01", "valid_to": "2026-06-01"}
    client, url = signed_in(cast.keeper), reverse("training:founding", args=[cast.ines.pk])
    answer = client.post(url, given)
    assert (answer.status_code, "evidence" in answer.context["form"].errors) == (422, True)
    client.post(url, given | {"evidence": "card 88 of the paper register"})
    assert Certificate.objects.get(number="P-88").founding
    answer = client.post(url, given | {"evidence": "card 88 of the paper register"})
    assert "on record already" in answer.context["form"].errors["number"][0]


def act_url(person, skill: str, verb: str) -> str:
    return reverse("training:act", args=[person.certificates.get(skill__code=skill).pk, verb])


def test_a_supervisor_suspends_reinstates_and_withdraws_with_a_reason(cast, signed_in) -> None:
    client, ines = signed_in(cast.hanna), cast.ines
    page = text(client.get(act_url(ines, "apply", "suspend")))
    assert "Check, Food room, Medical room, Hot roller" in page
    assert "safe state first" in page
    answer = client.post(act_url(ines, "apply", "suspend"), {"reason": "no"})
    assert (answer.status_code, "Say why" in text(answer)) == (422, True)
    for verb, able in (("suspend", False), ("reinstate", True), ("withdraw", False)):
        assert client.post(act_url(ines, "apply", verb), {"reason": "two failed checks"}).status_code == 302
        assert is_certified(ines, "apply", "general", AT) is able
    answer = client.post(act_url(ines, "apply", "reinstate"), {"reason": "sorry for that"})
    assert (answer.status_code, "nothing to reinstate" in text(answer)) == (422, True)
    assert "sorry for that" in text(answer)


def test_who_may_not_issue_or_suspend_gets_no_button_and_is_refused_by_address_too(cast, signed_in) -> None:
    client, ines = signed_in(cast.tomas), cast.ines
    page = client.get(reverse("training:person", args=[ines.pk])).content.decode()
    for url in (
        reverse("training:issue", args=[ines.pk]),
        reverse("training:founding", args=[ines.pk]),
        act_url(ines, "apply", "suspend"),
        act_url(ines, "apply", "withdraw"),
    ):
        assert url not in page
        assert client.get(url).status_code == 403
        assert client.post(url, {"reason": "because I can"}).status_code == 403
    assert signed_in(cast.hanna).get(act_url(ines, "apply", "applaud")).status_code == 404


def test_the_page_of_shifts_to_come_counts_who_may_and_says_where_nobody_may(cast, signed_in) -> None:
    make.plant()
    line = make.line("A")
    make.position("A05", path=make.web_path(line), room=make.room("G1"))
    make.position("C06", path=make.web_path(make.line("C")), room=make.room("M1", "medical"))
    starts = make.AT + timedelta(days=1)
    make.shift(cast.ines, cast.hanna, name="Late", starts=starts, ends=starts + timedelta(hours=8))
    page = signed_in(cast.hanna).get(reverse("training:coverage")).content.decode()
    assert '<span class="word">1</span>' in page
    assert "nobody" in page
