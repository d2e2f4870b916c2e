"""The screens of people: what they show to whom, and that a refusal keeps what was typed."""

import re
from datetime import timedelta
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse

from plant.people.models import AccessReview, Person
from plant.people.queries import badge_in_use, roles_of
from plant.people.services import issue_badge, issue_starter
from plant.web import clock
from tests import make
from tests.conftest import Cast

AT = make.AT
NEW = "four rollers and a web"
pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def morning(db: None, monkeypatch: pytest.MonkeyPatch) -> None:
    make.plant()
    monkeypatch.setattr(clock, "now", lambda: AT)


def text(response: Any) -> str:
    """What a reader sees, on one line."""
    return " ".join(re.sub(r"<[^>]+>", " ", response.content.decode()).split())


def sign_in(client: Client, person: Person, secret: str = make.SECRET, **more: str) -> Any:
    return client.post(reverse("people:sign-in"), {"staff_no": person.staff_no, "secret": secret} | more)


def test_every_page_asks_for_sign_in_and_comes_back_to_the_page_asked_for(cast: Cast) -> None:
    client = Client()
    asked = reverse("people:list")
    answer = client.get(asked)
    assert (answer.status_code, answer["Location"]) == (302, f"{reverse('people:sign-in')}?next={asked}")
    assert sign_in(client, cast.ines, next=asked)["Location"] == asked


def test_sign_in_never_leads_to_another_site(cast: Cast) -> None:
    for elsewhere in ("https://elsewhere.example/", "//elsewhere.example", "javascript:alert(1)"):
        assert sign_in(Client(), cast.ines, next=elsewhere)["Location"] == "/"


def test_a_wrong_secret_keeps_the_number_on_the_form_and_never_gives_the_secret_back(cast: Cast) -> None:
    answer = sign_in(Client(), cast.ines, "a secret typed wrongly")
    assert answer.status_code == 422
    assert "Staff number and secret do not fit." in text(answer)
    assert f'value="{cast.ines.staff_no}"' in answer.content.decode()
    assert "typed wrongly" not in answer.content.decode()


def test_the_wait_and_its_length_stand_on_the_page(cast: Cast) -> None:
    client = Client()
    for _ in range(3):
        sign_in(client, cast.ines, "not it")
    answer = sign_in(client, cast.ines)
    assert answer.status_code == 422
    assert "Wait 5 s, or ask the system keeper for a starter code." in text(answer)
    assert "_auth_user_id" not in client.session


def test_signing_in_and_out_and_every_act_needs_the_form_token(cast: Cast) -> None:
    client = Client(enforce_csrf_checks=True)
    assert sign_in(client, cast.ines).status_code == 403
    client.force_login(cast.keeper)
    names = [("sign-out", []), ("join", []), ("leave", [cast.ines.pk]), ("roles", [cast.ines.pk])]
    names += [("badge", [cast.ines.pk]), ("starter", [cast.ines.pk]), ("review", []), ("choose-secret", [])]
    for name, args in names:
        assert client.post(reverse(f"people:{name}", args=args)).status_code == 403, name


def test_a_new_session_key_is_made_at_sign_in_and_sign_out_is_a_post_that_ends_it(cast: Cast) -> None:
    client = Client()
    client.get(reverse("people:sign-in"))
    sign_in(client, cast.ines)
    key = client.session.session_key
    assert client.get(reverse("people:sign-out")).status_code == 405
    assert client.get(reverse("people:me")).status_code == 200
    answer = client.post(reverse("people:sign-out"))
    assert answer["Location"].startswith(reverse("people:sign-in"))
    assert client.get(reverse("people:me")).status_code == 302
    assert client.session.session_key != key


def test_with_a_starter_code_only_the_own_password_can_be_chosen_and_then_everything_opens(cast: Cast) -> None:
    issue_starter(cast.ines, code="XU8R-M3RK", by=cast.keeper, at=AT)
    client, choose = Client(), reverse("people:choose-secret")
    assert sign_in(client, cast.ines, "XU8R-M3RK").status_code == 302
    for name in ("people:me", "people:list", "training:grid", "people:choose-pin"):
        assert client.get(reverse(name))["Location"] == choose
    assert "Password now" not in text(client.get(choose))
    answer = client.post(choose, {"new": NEW, "again": NEW + "s"})
    assert (answer.status_code, "Type the same twice." in text(answer)) == (422, True)
    answer = client.post(choose, {"new": "too short", "again": "too short"})
    assert (answer.status_code, "too short" in text(answer)) == (422, True)
    assert client.post(choose, {"new": NEW, "again": NEW})["Location"] == reverse("people:me")
    assert client.get(reverse("people:me")).status_code == 200  # the session lives on


def test_a_colleague_vouches_at_the_first_own_password_and_a_wrong_one_is_told_at_its_field(cast: Cast) -> None:
    sign_in(Client(), cast.hanna)
    issue_starter(cast.ines, code="XU8R-M3RK", by=cast.keeper, at=AT)
    client, choose = Client(), reverse("people:choose-secret")
    sign_in(client, cast.ines, "XU8R-M3RK")
    assert "Staff number of a colleague beside you" in text(client.get(choose))
    typed = {"new": NEW, "again": NEW, "voucher": cast.hanna.staff_no, "voucher_secret": "not it"}
    for wrong, said in (
        ({}, "This is not your password. 4 tries left"),
        ({"voucher": "nobody"}, "Staff number and password of your colleague do not fit."),
        ({"voucher": cast.keeper.staff_no, "voucher_secret": make.SECRET}, "Noor Adeyemi cannot vouch here"),
        ({"voucher": "", "voucher_secret": ""}, "This field is required."),
    ):
        answer = client.post(choose, typed | wrong)
        assert (answer.status_code, said in text(answer)) == (422, True), wrong
        assert client.get(reverse("people:me"))["Location"] == choose
    answer = client.post(choose, typed | {"voucher_secret": make.SECRET})
    assert answer["Location"] == reverse("people:me")


def test_a_later_change_of_the_password_takes_the_old_one_and_ends_other_sessions(cast: Cast) -> None:
    here, there = Client(), Client()
    for client in (here, there):
        sign_in(client, cast.ines)
    choose = reverse("people:choose-secret")
    answer = here.post(choose, {"secret": "not it", "new": NEW, "again": NEW})
    assert (answer.status_code, "This is not your password. 4 tries left" in text(answer)) == (422, True)
    assert here.post(choose, {"secret": make.SECRET, "new": NEW, "again": NEW}).status_code == 302
    assert here.get(reverse("people:me")).status_code == 200
    assert there.get(reverse("people:me")).status_code == 302


def test_the_own_pin_takes_the_password_and_a_weak_one_is_told_at_its_field(cast: Cast, signed_in: Any) -> None:
    client, pin = signed_in(cast.ines), reverse("people:choose-pin")
    answer = client.post(pin, {"secret": make.SECRET, "new": "111111", "again": "111111"})
    assert answer.status_code == 422
    assert answer.context["form"].errors["new"] == ["This PIN is too easy to guess. Mix the digits."]
    assert client.post(pin, {"secret": make.SECRET, "new": "274915", "again": "274915"}).status_code == 302
    assert Person.objects.get(pk=cast.ines.pk).pin_hash


def test_my_page_shows_my_roles_and_my_certificates_with_their_ends(cast: Cast, signed_in: Any) -> None:
    page = text(signed_in(cast.rui).get(reverse("people:me")))
    for part in ("Rui Castell", "operator", "Apply", "valid", "25 Mar 2026", "Last day, to midnight"):
        assert part in page


def test_a_leaver_is_signed_out_at_the_leave_time_on_the_next_page(cast: Cast, monkeypatch: Any) -> None:
    client = Client()
    sign_in(client, cast.ines)
    Person.objects.filter(pk=cast.ines.pk).update(active_to=AT + timedelta(minutes=5))
    assert client.get(reverse("people:me")).status_code == 200
    monkeypatch.setattr(clock, "now", lambda: AT + timedelta(minutes=5))
    answer = client.get(reverse("people:me"), follow=True)
    assert "Your access has ended" in text(answer)


def test_the_list_finds_by_part_of_a_name_and_shows_leavers_only_when_asked(cast: Cast, signed_in: Any) -> None:
    gone = make.person("Ivo Gone", "operator", active_to=AT - timedelta(days=1))
    assert cast.lena
    client, people = signed_in(cast.hanna), reverse("people:list")
    assert gone.name not in text(client.get(people))
    assert gone.name in text(client.get(people, {"everybody": "1"}))
    found = text(client.get(people, {"search": "odu"}))
    assert "Lena Oduya" in found
    assert cast.hanna.staff_no not in found
    assert "Nobody here is called that." in text(client.get(people, {"search": "zzz"}))


def test_guests_see_no_list_no_person_and_no_grid_but_their_own_page(cast: Cast, signed_in: Any) -> None:
    guest = make.person("Hal Visitor", "guest", employer="outside", active_to=AT + timedelta(days=6))
    client = signed_in(guest)
    for url in (
        reverse("people:list"),
        reverse("people:person", args=[cast.ines.pk]),
        reverse("training:grid"),
        reverse("training:person", args=[cast.ines.pk]),
    ):
        answer = client.get(url)
        assert (answer.status_code, "Ines" in text(answer)) == (403, False), url
    assert client.get(reverse("people:me")).status_code == 200
    assert client.get(reverse("people:person", args=[guest.pk])).status_code == 200


@pytest.mark.parametrize("name", ["join", "leave", "roles", "badge", "starter"])
def test_only_the_system_keeper_opens_and_posts_the_acts_and_others_are_told_who_can(
    cast: Cast, signed_in: Any, name: str
) -> None:
    url = reverse(f"people:{name}", args=[] if name == "join" else [cast.ines.pk])
    assert signed_in(cast.keeper).get(url).status_code == 200
    for other in (cast.ines, cast.hanna, cast.yuki, cast.sol, cast.greta):
        client = signed_in(other)
        for answer in (client.get(url), client.post(url, {})):
            assert answer.status_code == 403
            assert "Noor Adeyemi can." in text(answer)


def test_the_trail_of_a_person_is_read_by_overseers_and_the_person_only(cast: Cast, signed_in: Any) -> None:
    issue_badge(cast.ines, code="XU8R-M3RK", by=cast.keeper, at=AT)
    url, said = reverse("people:person", args=[cast.ines.pk]), "badge ending M3RK issued to Ines Varga"
    readers = {
        person.name: said in text(signed_in(person).get(url))
        for person in (cast.keeper, cast.yuki, cast.sol, cast.ines, cast.hanna, cast.mei)
    }
    assert [name for name, reads in readers.items() if reads] == [
        "Noor Adeyemi",
        "Yuki Sandoval",
        "Sol Ivanek",
        "Ines Varga",
    ]


def test_times_are_shown_by_the_clock_of_the_plant_with_the_offset(cast: Cast, signed_in: Any) -> None:
    issue_badge(cast.ines, code="XU8R-M3RK", by=cast.keeper, at=AT)
    page = text(signed_in(cast.yuki).get(reverse("people:person", args=[cast.ines.pk])))
    assert "25 Mar 2026, 10:00:00 +0100" in page


JOINER = {
    "staff_no": "4711",
    "name": "Ada Coming",
    "employer": "plant",
    "roles": ["operator"],
    "first_day": "2026-03-25",
    "home_shift": "Early",
}


def test_a_joiner_of_today_belongs_from_now_and_one_of_tomorrow_from_midnight(cast: Cast, signed_in: Any) -> None:
    client, url = signed_in(cast.keeper), reverse("people:join")
    client.post(url, JOINER)
    client.post(url, JOINER | {"staff_no": "4712", "first_day": "2026-03-26", "last_day": "2026-03-29"})
    today, later = Person.objects.get(staff_no="4711"), Person.objects.get(staff_no="4712")
    assert today.active_from == AT
    assert later.active_from.isoformat() == "2026-03-25T23:00:00+00:00"
    # The last day is the one on which the clocks go forward: it ends an hour earlier in UTC.
    assert later.active_to.isoformat() == "2026-03-29T22:00:00+00:00"


def test_a_refused_joiner_keeps_everything_typed_and_the_sentence_stands_at_the_field(
    cast: Cast, signed_in: Any
) -> None:
    client, url = signed_in(cast.keeper), reverse("people:join")
    answer = client.post(url, JOINER | {"staff_no": cast.ines.staff_no})
    assert answer.status_code == 422
    assert "never given again" in answer.context["form"].errors["staff_no"][0]
    answer = client.post(url, JOINER | {"employer": "outside", "roles": ["guest"]})
    assert "needs a last day" in answer.context["form"].errors["last_day"][0]
    page = answer.content.decode()
    assert 'value="Ada Coming"' in page
    assert 'value="2026-03-25"' in page
    answer = client.post(url, JOINER | {"first_day": "31 February"})
    assert answer.context["form"].errors["first_day"]
    assert not Person.objects.filter(name="Ada Coming").exists()


def test_a_leaver_is_entered_in_plant_time_and_a_refusal_keeps_time_and_reason(cast: Cast, signed_in: Any) -> None:
    client, url = signed_in(cast.keeper), reverse("people:leave", args=[cast.ines.pk])
    answer = client.post(url, {"leaves_at": "2026-03-25T14:00", "reason": "  "})
    assert (answer.status_code, 'value="2026-03-25T14:00"' in answer.content.decode()) == (422, True)
    assert client.post(url, {"leaves_at": "2026-03-25T14:00", "reason": "new job"}).status_code == 302
    assert Person.objects.get(pk=cast.ines.pk).active_to == AT.replace(hour=13)
    Person.objects.filter(pk=cast.ines.pk).update(active_to=AT)
    answer = client.post(url, {"leaves_at": "2026-03-25T14:00", "reason": "new job"})
    assert (answer.status_code, "left at" in text(answer), "new job" in text(answer)) == (422, True, True)


def test_roles_are_granted_and_ended_and_the_refusal_stands_on_the_form_that_asked(cast: Cast, signed_in: Any) -> None:
    client, url = signed_in(cast.keeper), reverse("people:roles", args=[cast.ines.pk])
    client.post(url, {"grant-role": "trainer", "grant-reason": "starts training"})
    assert roles_of(cast.ines, AT) == {"operator", "trainer"}
    answer = client.post(url, {"grant-role": "trainer"})
    assert answer.status_code == 422
    assert answer.context["grant"].errors["role"] == ["Ines Varga already is trainer."]
    answer = client.post(url, {"end": "1", "end-role": "trainer"})
    assert (answer.status_code, "reason" in answer.context["end"].errors) == (422, True)
    client.post(url, {"end": "1", "end-role": "trainer", "end-reason": "course over"})
    assert roles_of(cast.ines, AT) == {"operator"}


def test_a_badge_is_issued_with_an_opaque_code_to_print_and_ended_with_a_reason(cast: Cast, signed_in: Any) -> None:
    client, url = signed_in(cast.keeper), reverse("people:badge", args=[cast.ines.pk])
    page = client.post(url, {"do": "issue"}, follow=True)
    badge = badge_in_use(cast.ines, AT)
    assert badge is not None
    assert badge.code in text(page)
    assert "<svg" in page.content.decode()
    assert cast.ines.staff_no not in badge.code
    answer = client.post(url, {"end": "1", "reason": " "})
    assert (answer.status_code, badge_in_use(cast.ines, AT)) == (422, badge)
    client.post(url, {"end": "1", "reason": "lost on the way"})
    assert badge_in_use(cast.ines, AT) is None
    answer = client.post(url, {"end": "1", "reason": "lost on the way"})
    assert (answer.status_code, "nothing to end" in text(answer)) == (422, True)


def test_the_starter_code_is_shown_once_works_and_stands_in_no_other_answer(cast: Cast, signed_in: Any) -> None:
    client, url = signed_in(cast.keeper), reverse("people:starter", args=[cast.ines.pk])
    answer = client.post(url, {})
    code = answer.context["code"]
    assert code in text(answer)
    assert "no-store" in answer["Cache-Control"]
    for again in (url, reverse("people:person", args=[cast.ines.pk])):
        assert code not in client.get(again).content.decode()
    assert sign_in(Client(), cast.ines, code).status_code == 302


def test_the_review_of_access_lists_everybody_and_is_signed_with_the_own_password(cast: Cast, signed_in: Any) -> None:
    assert cast.ines
    client, url = signed_in(cast.yuki), reverse("people:review")
    page = text(client.get(url))
    assert "Review is due" in page
    assert "Ines Varga" in page
    found = "Everybody here belongs here."
    answer = client.post(url, {"conclusion": found, "secret": "not it"})
    assert (answer.status_code, found in text(answer)) == (422, True)
    assert not AccessReview.objects.exists()
    page = text(client.post(url, {"conclusion": found, "secret": make.SECRET}, follow=True))
    assert found in page
    assert "Yuki Sandoval" in page
    assert "next review is due on 25 June 2026" in page
    assert "not for this version" not in page
    assert signed_in(cast.hanna).get(url).status_code == 403


def test_a_person_who_is_not_there_is_a_sentence_and_not_a_traceback(cast: Cast, signed_in: Any) -> None:
    answer = signed_in(cast.keeper).get(reverse("people:person", args=[999_999]))
    assert (answer.status_code, "Choose from the list of people." in text(answer)) == (404, True)


def test_the_list_and_a_person_take_the_same_few_queries_for_forty_more_people(
    cast: Cast, signed_in: Any, django_assert_max_num_queries: Any
) -> None:
    client = signed_in(cast.keeper)
    for n in range(40):
        make.person(f"Crew {n:02d}", "operator", skills="aware apply")
    with django_assert_max_num_queries(12):
        client.get(reverse("people:list"))
    with django_assert_max_num_queries(24):
        client.get(reverse("people:person", args=[cast.ines.pk]))
