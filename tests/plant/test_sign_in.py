"""Signing in, secrets, and their throttles.

NIST SP 800-63B allows at most 100 wrong tries in a row and asks for growing delays; that the third waits and the tenth
locks is our own, lower figure. Length 15 and no composition rule: SP 800-63B-4 for a password as the only factor.
An administrator must not learn or set a lasting secret: 21 CFR 11.200(a)(2), (3). Detecting misuse: 11.300(d).
"""

import threading
from datetime import timedelta
from io import StringIO

import pytest
from django.contrib.auth.hashers import check_password
from django.core.management import CommandError, call_command
from django.db import connection

from plant.audit.models import Event, Signature
from plant.errors import Forbidden, Refused
from plant.people.models import Person
from plant.people.queries import needs_voucher
from plant.people.rules import SIGN_IN_LOCK, sign_in_pause, wait_sentence
from plant.people.services import choose_pin, choose_secret, confirm_secret, issue_starter, leave, try_sign_in
from tests import make
from tests.conftest import Cast

AT = make.AT
NEW = "four rollers and a web"
pytestmark = pytest.mark.django_db


def refusal_of(person: Person, secret: str, at=AT) -> Refused:
    with pytest.raises(Refused) as refused:
        try_sign_in(person.staff_no, secret, at=at)
    return refused.value


def test_the_right_secret_lets_in_with_any_case_of_the_number_and_is_recorded(cast: Cast) -> None:
    assert try_sign_in(f" {cast.ines.staff_no.lower()} ", make.SECRET, at=AT) == cast.ines
    event = Event.objects.latest("pk")
    assert (event.action, event.actor) == ("sign-in", cast.ines)


def test_an_unknown_number_and_a_wrong_secret_get_the_same_answer(cast: Cast) -> None:
    known = refusal_of(cast.ines, "not it")
    with pytest.raises(Refused) as unknown:
        try_sign_in("no such number", "not it", at=AT)
    assert (known.code, known.sentence) == (unknown.value.code, unknown.value.sentence)
    assert "system keeper" in known.sentence


def test_a_wrong_secret_is_recorded_without_an_actor_and_without_the_secret(cast: Cast) -> None:
    refusal_of(cast.ines, "a secret typed wrongly")
    event = Event.objects.latest("pk")
    assert (event.action, event.actor) == ("sign-in-failed", None)
    assert "typed wrongly" not in event.body


def test_the_first_two_failures_wait_for_nothing_and_from_the_third_the_wait_doubles() -> None:
    seconds = [sign_in_pause(n).total_seconds() for n in range(1, SIGN_IN_LOCK)]
    assert seconds == [0, 0, 5, 10, 20, 40, 80, 160, 320]
    assert sign_in_pause(SIGN_IN_LOCK) == sign_in_pause(99) == timedelta(hours=24)
    assert wait_sentence(AT + timedelta(seconds=5), AT) == "5 s"
    assert wait_sentence(AT + timedelta(seconds=91), AT) == "2 min"
    assert wait_sentence(AT + timedelta(hours=24), AT) == "24 h"


@pytest.mark.db_both
def test_from_the_third_failure_even_the_right_secret_waits_and_then_lets_in(cast: Cast) -> None:
    for _ in range(3):
        assert refusal_of(cast.ines, "not it").code == "wrong-secret"
    waits = refusal_of(cast.ines, make.SECRET)
    assert waits.code == "wait"
    assert "Wait 5 s" in waits.sentence
    assert "system keeper" in waits.sentence
    assert try_sign_in(cast.ines.staff_no, make.SECRET, at=AT + timedelta(seconds=5))
    cast.ines.refresh_from_db()
    assert cast.ines.sign_in_failures == 0


@pytest.mark.db_both
def test_the_tenth_failure_locks_for_a_day_and_a_starter_code_unlocks(cast: Cast) -> None:
    at = AT
    for n in range(1, SIGN_IN_LOCK + 1):
        assert refusal_of(cast.ines, "not it", at).code == "wrong-secret"
        at += sign_in_pause(n) if n < SIGN_IN_LOCK else timedelta(0)
    assert refusal_of(cast.ines, make.SECRET, at + timedelta(hours=23)).code == "wait"
    issue_starter(cast.ines, code="QQQQ-7777", by=cast.keeper, at=at)
    assert try_sign_in(cast.ines.staff_no, "QQQQ-7777", at=at) == cast.ines


def test_tries_during_the_wait_are_neither_checked_nor_counted(cast: Cast) -> None:
    for _ in range(3):
        refusal_of(cast.ines, "not it")
    for _ in range(20):
        assert refusal_of(cast.ines, "not it").code == "wait"
    cast.ines.refresh_from_db()
    assert cast.ines.sign_in_failures == 3


def test_who_has_left_or_has_not_come_yet_is_told_so_only_with_the_right_secret(cast: Cast) -> None:
    coming = make.person("Jo New", "operator", active_from=AT + timedelta(days=1))
    leave(cast.ines, leaves_at=AT, reason="new job", by=cast.keeper, at=AT)
    for person in (coming, cast.ines):
        assert refusal_of(person, make.SECRET).code == "not-active"
        assert refusal_of(person, "not it").code == "wrong-secret"


def test_a_starter_code_ends_the_old_password_and_pin_and_must_be_exchanged(cast: Cast) -> None:
    choose_pin(cast.ines, pin="274915", at=AT)
    issue_starter(cast.ines, code="QQQQ-7777", by=cast.keeper, at=AT)
    assert refusal_of(cast.ines, make.SECRET).code == "wrong-secret"
    ines = try_sign_in(cast.ines.staff_no, "QQQQ-7777", at=AT)
    assert ines.must_choose_secret
    assert not ines.pin_hash
    with pytest.raises(Refused, match="a starter code signs nothing"):
        confirm_secret(ines, "QQQQ-7777", at=AT, time_zone="UTC")
    choose_secret(ines, new=NEW, at=AT)
    assert refusal_of(ines, "QQQQ-7777").code == "wrong-secret"
    assert not try_sign_in(ines.staff_no, NEW, at=AT).must_choose_secret


def given_a_code(cast: Cast) -> Person:
    """Ines lost the password; others of the plant have signed in before."""
    Person.objects.filter(pk__in=[cast.hanna.pk, cast.mei.pk, cast.keeper.pk]).update(last_login=AT)
    issue_starter(cast.ines, code="QQQQ-7777", by=cast.keeper, at=AT)
    return try_sign_in(cast.ines.staff_no, "QQQQ-7777", at=AT)


def test_whoever_issued_the_code_cannot_use_it_alone(cast: Cast) -> None:
    """21 CFR 11.200(a)(3): to use another's signature takes two who work together."""
    ines = given_a_code(cast)
    with pytest.raises(Refused, match="A colleague who sees you vouches"):
        choose_secret(ines, new=NEW, at=AT)
    for nobody in (cast.keeper, ines):
        with pytest.raises(Refused, match=r"cannot vouch|signs nothing"):
            choose_secret(ines, new=NEW, at=AT, voucher=make.confirmation(nobody))
    assert Person.objects.get(pk=ines.pk).must_choose_secret


def test_a_colleague_vouches_and_signs_for_it(cast: Cast) -> None:
    ines = given_a_code(cast)
    choose_secret(ines, new=NEW, at=AT, voucher=make.confirmation(cast.hanna))
    assert not try_sign_in(ines.staff_no, NEW, at=AT).must_choose_secret
    event = Event.objects.get(action="choose-secret")
    assert "Hanna Lindqvist vouched for who it is" in event.sentence
    signature = Signature.objects.get()
    assert (signature.person, signature.meaning) == (cast.hanna, "I see that it is this person")
    assert signature.digest in event.body


def test_a_guest_and_a_person_with_an_open_code_vouch_for_nobody(cast: Cast) -> None:
    ines, guest = given_a_code(cast), make.person("Arne Solis", "guest")
    issue_starter(cast.mei, code="RRRR-8888", by=cast.keeper, at=AT)
    for colleague in (guest, Person.objects.get(pk=cast.mei.pk)):
        with pytest.raises(Refused, match="cannot vouch here"):
            choose_secret(ines, new=NEW, at=AT, voucher=make.confirmation(colleague))


def test_taking_every_password_away_opens_no_way_around_the_voucher(cast: Cast) -> None:
    ines = given_a_code(cast)
    for other in (cast.hanna, cast.mei):
        issue_starter(other, code="RRRR-8888", by=cast.keeper, at=AT)
    with pytest.raises(Refused, match="A colleague who sees you vouches"):
        choose_secret(ines, new=NEW, at=AT)


def test_the_command_line_gives_a_code_with_a_reason_that_stands_in_the_trail(cast: Cast) -> None:
    given_a_code(cast)
    said = StringIO()
    with pytest.raises(CommandError, match="short sentence"):
        call_command("starter_code", cast.ines.staff_no, reason="lost")
    with pytest.raises(CommandError, match="no person with staff number"):
        call_command("starter_code", "nobody", reason="the last keeper lost it")
    call_command("starter_code", cast.ines.staff_no, reason="the last keeper lost it", stdout=said)
    code = said.getvalue().split()[-1]
    ines = Person.objects.get(pk=cast.ines.pk)
    assert check_password(code, ines.starter_hash) and not needs_voucher(ines)
    event = Event.objects.filter(action="issue-starter-code").latest("pk")
    assert "from the command line" in event.sentence
    assert event.reason == "the last keeper lost it"


def test_while_nobody_else_ever_signed_in_it_goes_alone_and_the_trail_says_so(cast: Cast) -> None:
    issue_starter(cast.ines, code="QQQQ-7777", by=cast.keeper, at=AT)
    choose_secret(try_sign_in(cast.ines.staff_no, "QQQQ-7777", at=AT), new=NEW, at=AT)
    event = Event.objects.get(action="choose-secret")
    assert "nobody else had ever signed in who could vouch" in event.sentence
    assert '"vouched":"nobody"' in event.body


def test_the_starter_code_itself_cannot_become_the_password(cast: Cast) -> None:
    code = "XU8R-M3RK-NBZ5-KAQV"
    issue_starter(cast.ines, code=code, by=cast.keeper, at=AT)
    ines = Person.objects.get(pk=cast.ines.pk)
    with pytest.raises(Refused, match="other than the starter code"):
        choose_secret(ines, new=code, at=AT)


def test_the_administrator_finds_no_secret_anywhere_in_the_database_or_the_trail(cast: Cast) -> None:
    issue_starter(cast.ines, code="QQQQ-7777", by=cast.keeper, at=AT)
    choose_secret(Person.objects.get(pk=cast.ines.pk), new=NEW, at=AT)
    choose_pin(Person.objects.get(pk=cast.ines.pk), pin="274915", at=AT)
    kept = str(list(Person.objects.values())) + str(list(Event.objects.values()))
    for secret in ("QQQQ-7777", NEW, "274915"):
        assert secret not in kept


def test_a_starter_code_lives_for_a_day_and_only_a_keeper_gives_one(cast: Cast) -> None:
    issue_starter(cast.ines, code="QQQQ-7777", by=cast.keeper, at=AT)
    end = AT + timedelta(hours=24)
    assert try_sign_in(cast.ines.staff_no, "QQQQ-7777", at=end - timedelta(seconds=1))
    assert refusal_of(cast.ines, "QQQQ-7777", end).code == "wrong-secret"
    with pytest.raises(Forbidden):
        issue_starter(cast.mei, code="QQQQ-7777", by=cast.sol, at=AT)


@pytest.mark.parametrize(
    "weak",
    [
        "too short",
        "1234567890123456",
        "password1234567",
        "Passwort!!!!!!!!!",
        "qwertzuiopasdfgh",
        "aaaaaaaaaaaaaaaaaa",
        "abcabcabcabcabcabc",
        "ines varga ines varga",
        "bandkeeper bandkeeper",
        "Varga-Bandkeeper-2468",
        "zyxwvutsrqponmlkjih",
    ],
)
def test_a_short_known_repeated_or_own_name_password_is_refused_with_what_to_do(cast: Cast, weak: str) -> None:
    with pytest.raises(Refused) as refusal:
        choose_secret(cast.ines, new=weak, at=AT)
    assert (refusal.value.code, refusal.value.field) == ("weak-secret", "new")


@pytest.mark.parametrize(
    "good",
    [
        NEW,
        "correct harbour lantern",
        "Überführung im Nebel 3",
        "  spaces at both ends  ",
        "漆黒の夜空に星が輝いています今",
    ],
)
def test_a_few_words_will_do_in_any_script_without_rules_of_composition(cast: Cast, good: str) -> None:
    choose_secret(cast.ines, new=good, at=AT)
    assert try_sign_in(cast.ines.staff_no, good, at=AT) == cast.ines


@pytest.mark.parametrize("pin", ["12345", "1234567890123", "12ab56", "111111", "123456", "987654", "121212", ""])
def test_a_pin_of_wrong_length_or_easy_to_guess_is_refused(cast: Cast, pin: str) -> None:
    with pytest.raises(Refused) as refusal:
        choose_pin(cast.ines, pin=pin, at=AT)
    assert refusal.value.field == "pin"


def wrong_signing(person: Person, at=AT, secret: str = "not it") -> Refused:
    with pytest.raises(Refused) as refused:
        confirm_secret(person, secret, at=at, time_zone="Europe/Vienna")
    return refused.value


@pytest.mark.db_both
def test_five_wrong_secrets_lock_signing_for_a_quarter_of_an_hour_but_not_sign_in(cast: Cast) -> None:
    said = [wrong_signing(cast.ines).sentence for _ in range(5)]
    assert ["4 tries left" in said[0], "1 tries left" in said[3]] == [True, True]
    assert "signing is locked for 15 min" in said[4]
    locked = wrong_signing(cast.ines, AT + timedelta(minutes=14), make.SECRET)
    assert (locked.code, locked.field) == ("signing-locked", "secret")
    assert try_sign_in(cast.ines.staff_no, make.SECRET, at=AT)
    assert confirm_secret(cast.ines, make.SECRET, at=AT + timedelta(minutes=15), time_zone="UTC").person == cast.ines
    assert Event.objects.filter(action="signing-failed").count() == 5


def test_a_right_secret_between_wrong_ones_starts_the_count_again(cast: Cast) -> None:
    for _ in range(4):
        wrong_signing(cast.ines)
    confirm_secret(cast.ines, make.SECRET, at=AT, time_zone="UTC")
    assert "4 tries left" in wrong_signing(cast.ines).sentence


def test_a_confirmation_carries_the_roles_of_that_moment_and_a_leaver_confirms_nothing(cast: Cast) -> None:
    confirmation = confirm_secret(cast.dara, make.SECRET, at=AT, time_zone="Europe/Vienna")
    assert confirmation.roles == ("assessor", "process engineer")
    leave(cast.dara, leaves_at=AT, reason="new job", by=cast.keeper, at=AT)
    assert wrong_signing(cast.dara, secret=make.SECRET).code == "not-active"


@pytest.mark.db_both
@pytest.mark.django_db(transaction=True)
def test_wrong_tries_from_many_devices_at_once_are_all_counted(cast: Cast) -> None:
    staff_no, pk, gate, codes = cast.ines.staff_no, cast.ines.pk, threading.Barrier(6), []

    def attempt() -> None:
        gate.wait(timeout=20)
        try:
            try_sign_in(staff_no, "not it", at=AT)
        except Refused as refusal:
            codes.append(refusal.code)
        finally:
            connection.close()

    threads = [threading.Thread(target=attempt) for _ in range(6)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join(timeout=60)
    # Three are checked, the third starts the wait, the others meet it: nobody tries more often by being quick.
    assert sorted(codes) == ["wait"] * 3 + ["wrong-secret"] * 3
    assert Person.objects.get(pk=pk).sign_in_failures == 3
