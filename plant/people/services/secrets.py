"""Secrets: starter codes, own passwords and PINs, and their throttles.

A failed try must stay counted although the act is refused, so these services commit before they refuse and may not
run inside another transaction (`durable`).
"""

from datetime import datetime

from django.contrib.auth.hashers import check_password, make_password
from django.contrib.auth.password_validation import validate_password
from django.core.exceptions import ValidationError
from django.db import transaction

from plant.audit.services import Confirmation, record, sign
from plant.errors import Refused
from plant.people.access import require_role
from plant.people.models import Person, Role
from plant.people.queries import may_vouch, needs_voucher, role_words, roles_of
from plant.people.rules import SIGN_IN_LOCK, SIGNING_PAUSE, SIGNING_TRIES, STARTER_LIFE, sign_in_pause, wait_sentence

STREAM = "people"
WRONG = (
    "Staff number and secret do not fit. Type both again; after a lost secret the system keeper gives a starter code."
)


@transaction.atomic
def issue_starter(person: Person, *, code: str, by: Person | None, at: datetime, reason: str = "") -> None:
    """Let a person choose a new secret with a code that works once within a day. Unlocks sign-in and signing.

    The old password and PIN end here: whoever found them out may not use them while the code waits.
    """
    if by is not None:
        require_role(by, Role.KEEPER, at=at, act="Issuing a starter code")
    person = Person.objects.select_for_update().get(pk=person.pk)
    person.starter_hash, person.starter_ends_at = make_password(code), at + STARTER_LIFE
    person.must_choose_secret, person.starter_by = True, by
    person.set_unusable_password()
    person.pin_hash = ""
    person.sign_in_failures = person.signing_failures = 0
    person.sign_in_waits_until = person.signing_locked_until = None
    person.save()
    sentence = f"starter code issued to {person.name}{'' if by else ' from the command line of the server'}"
    record(stream=STREAM, action="issue-starter-code", subject=person, sentence=sentence, by=by, at=at, reason=reason)


def _starter_fits(person: Person, secret: str, at: datetime) -> bool:
    alive = person.starter_ends_at is not None and at < person.starter_ends_at
    return alive and check_password(secret, person.starter_hash)


def try_sign_in(staff_no: str, secret: str, *, at: datetime) -> Person:
    """Check staff number and secret (or starter code); count failures, wait from the third, lock at the tenth."""
    with transaction.atomic(durable=True):
        person = Person.objects.select_for_update().filter(staff_no__iexact=staff_no.strip()).first()
        refusal = _sign_in_refusal(person, secret, at)
    if refusal is not None or person is None:
        raise refusal or Refused("wrong-secret", WRONG)
    return person


def _sign_in_refusal(person: Person | None, secret: str, at: datetime) -> Refused | None:
    if person is None:
        make_password(secret)  # the same work as for a known number, so that time tells nothing
        # What was typed is not kept: it may be a password in the wrong place.
        said = "sign-in tried with a staff number that nobody has"
        record(stream="strangers", action="sign-in-failed", subject=None, sentence=said, by=None, at=at)
        return Refused("wrong-secret", WRONG)
    if person.sign_in_waits_until is not None and at < person.sign_in_waits_until:
        wait = wait_sentence(person.sign_in_waits_until, at)
        sentence = f"Too many wrong tries. Wait {wait}, or ask the system keeper for a starter code."
        said = f"sign-in of {person.name} tried while it waits after wrong tries"
        record(stream=STREAM, action="sign-in-refused", subject=person, sentence=said, by=None, at=at)
        return Refused("wait", sentence)
    if not (person.check_password(secret) or _starter_fits(person, secret, at)):
        person.sign_in_failures += 1
        person.sign_in_waits_until = at + sign_in_pause(person.sign_in_failures)
        person.save(update_fields=["sign_in_failures", "sign_in_waits_until"])
        locked = "; sign-in is locked for a day" if person.sign_in_failures >= SIGN_IN_LOCK else ""
        sentence = f"wrong secret for {person.name}, try {person.sign_in_failures}{locked}"
        record(stream=STREAM, action="sign-in-failed", subject=person, sentence=sentence, by=None, at=at)
        return Refused("wrong-secret", WRONG)
    if not person.active_at(at):
        sentence = f"{person.name} has no access now: it ended or has not begun. Ask the system keeper."
        said = f"{person.name} tried to sign in without access"
        record(stream=STREAM, action="sign-in-refused", subject=person, sentence=said, by=None, at=at)
        return Refused("not-active", sentence)
    person.sign_in_failures, person.sign_in_waits_until = 0, None
    person.save(update_fields=["sign_in_failures", "sign_in_waits_until"])
    record(stream=STREAM, action="sign-in", subject=person, sentence=f"{person.name} signed in", by=person, at=at)
    return None


@transaction.atomic
def sign_out(person: Person, *, at: datetime) -> None:
    """The session of a device is ended by the person."""
    record(stream=STREAM, action="sign-out", subject=person, sentence=f"{person.name} signed out", by=person, at=at)


@transaction.atomic
def choose_secret(person: Person, *, new: str, at: datetime, voucher: Confirmation | None = None) -> None:
    """The signed-in person sets the own password. The starter code ends with it.

    Whoever issued the code knows it and could use it. So a colleague, not the issuer, who sees the person confirms
    who it is with the own password (`voucher`); only while nobody else has ever signed in it goes without, and the
    trail says so.
    """
    try:
        validate_password(new, person)
    except ValidationError as trouble:
        raise Refused("weak-secret", " ".join(trouble.messages), field="new") from None
    if person.starter_hash and check_password(new, person.starter_hash):
        raise Refused("same-secret", "Choose something other than the starter code.", field="new")
    person = Person.objects.select_for_update().get(pk=person.pk)
    facts, said = _vouched(person, voucher, at)
    person.set_password(new)
    person.must_choose_secret, person.starter_hash, person.starter_ends_at = False, "", None
    person.starter_by = None
    person.save()
    sentence = f"{person.name} chose a new password{said}"
    record(stream=STREAM, action="choose-secret", subject=person, sentence=sentence, by=person, at=at, facts=facts)


def _vouched(person: Person, voucher: Confirmation | None, at: datetime) -> tuple[dict[str, str], str]:
    """Who says that it is this person, signed: facts and words for the trail."""
    issuer = person.starter_by
    if not person.must_choose_secret or issuer is None:
        return {}, ""
    if not needs_voucher(person):
        return {"vouched": "nobody"}, "; nobody else had ever signed in who could vouch for who it is"
    if voucher is None:
        sentence = "A colleague who sees you vouches for you: type that person's staff number and password below."
        raise Refused("needs-voucher", sentence, field="voucher")
    if not may_vouch(voucher.person, person, at):
        sentence = (
            f"{voucher.person.name} cannot vouch here: take a colleague of the plant who is neither you nor "
            f"{issuer.name}, who issued the code."
        )
        raise Refused("cannot-vouch", sentence, field="voucher")
    content = {"person": person.staff_no, "name": person.name, "code_issued_by": issuer.staff_no}
    signature = sign(voucher, meaning="I see that it is this person", subject=person, content=content)
    facts = {"vouched": voucher.person.staff_no, "signature": signature.digest}
    return facts, f"; {voucher.person.name} vouched for who it is"


@transaction.atomic
def choose_pin(person: Person, *, pin: str, at: datetime) -> None:
    """The signed-in person sets the own PIN for shop-floor facts in general rooms: six digits or more."""
    if not (pin.isascii() and pin.isdigit() and 6 <= len(pin) <= 12):
        raise Refused("weak-pin", "A PIN has six to twelve digits.", field="pin")
    if len(set(pin)) < 3 or pin in "01234567890123456789" or pin in "98765432109876543210":
        raise Refused("weak-pin", "This PIN is too easy to guess. Mix the digits.", field="pin")
    person = Person.objects.select_for_update().get(pk=person.pk)
    person.pin_hash = make_password(pin)
    person.save(update_fields=["pin_hash"])
    sentence = f"{person.name} chose a new PIN"
    record(stream=STREAM, action="choose-pin", subject=person, sentence=sentence, by=person, at=at)


def confirm_secret(person: Person, secret: str, *, at: datetime, time_zone: str) -> Confirmation:
    """Ask a person's own password again for one signature; five failures lock signing for 15 minutes.

    Raises
    ------
    Refused
        Wrong secret, locked, or no longer active. The failure stays counted.
    """
    with transaction.atomic(durable=True):
        person = Person.objects.select_for_update().get(pk=person.pk)
        refusal = _signing_refusal(person, secret, at)
    if refusal is not None:
        raise refusal
    return Confirmation(person, role_words(roles_of(person, at)), at, "password", time_zone)


def _signing_refusal(person: Person, secret: str, at: datetime) -> Refused | None:
    if person.signing_locked_until is not None and at < person.signing_locked_until:
        wait = wait_sentence(person.signing_locked_until, at)
        sentence = f"Signing is locked for {wait} after {SIGNING_TRIES} wrong tries. Nothing you typed is lost."
        return Refused("signing-locked", sentence, field="secret")
    if not person.active_at(at):
        return Refused("not-active", f"{person.name} has no access now and cannot sign. Ask the system keeper.")
    if person.must_choose_secret:
        return Refused("choose-first", "Choose your own password first; a starter code signs nothing.", field="secret")
    if person.check_password(secret):
        if person.signing_failures:
            person.signing_failures, person.signing_locked_until = 0, None
            person.save(update_fields=["signing_failures", "signing_locked_until"])
        return None
    person.signing_failures += 1
    left = SIGNING_TRIES - person.signing_failures
    sentence = f"This is not your password. {left} tries left; nothing you typed is lost."
    if left <= 0:
        person.signing_failures, person.signing_locked_until = 0, at + SIGNING_PAUSE
        sentence = f"Not your password, {SIGNING_TRIES} times: signing is locked for 15 min. Nothing you typed is lost."
    person.save(update_fields=["signing_failures", "signing_locked_until"])
    said = f"wrong secret at signing for {person.name}{'; signing is locked for 15 min' if left <= 0 else ''}"
    record(stream=STREAM, action="signing-failed", subject=person, sentence=said, by=None, at=at)
    return Refused("wrong-secret", sentence, field="secret")
