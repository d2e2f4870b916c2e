"""The roller's page on the tablet: what is on it, what belongs there, may I, and one act a screen."""

import re

import pytest
import time_machine
from django.urls import reverse

from rollers.cases import TypedBand
from rollers.models import TapeFact
from rollers.services.approving import approve_recipe, check_recipe
from rollers.services.recipes import draft_recipe
from rollers.services.sheets import draft_sheet, sign_sheet
from rollers.services.spot import LOCKOUT
from tests import make

pytestmark = pytest.mark.django_db
STEPS = {key: "on" for key, _ in LOCKOUT}


@pytest.fixture(autouse=True)
def at_the_fixed_time():
    with time_machine.travel(make.AT, tick=False):
        yield


@pytest.fixture
def a05(cast):
    """A05 bare, with SF-17 assigned four wraps at both ends."""
    make.plant()
    line, room = make.line("A"), make.room("G1")
    path = make.web_path(line)
    position = make.position("A05", path=path, room=room)
    product = make.product(
        "SF-17", line, width=1500, thickness=17, modulus=120, tension=50, speed=280, friction=0.35
    ).product
    make.shift(cast.ines, cast.dara, cast.hanna)
    version = draft_recipe(
        step=path.steps.get(),
        title="stretch",
        products=[product],
        stock=make.stock("T1"),
        bands=[TypedBand("operator", 600, 792, 4), TypedBand("drive", 600, 792, 4)],
        by=cast.dara,
        at=make.AT,
    )
    check_recipe(version, reasons={}, confirmation=make.confirmation(cast.dara))
    approve_recipe(version, meaning="approved", confirmation=make.confirmation(cast.hanna))
    sheet = draft_sheet(product=product, path=path, choices={position: version}, by=cast.hanna, at=make.AT)
    sign_sheet(sheet, confirmation=make.confirmation(cast.hanna))
    return position


def page(client, name="roller", *args, **query):
    return client.get(reverse(f"tablet:{name}", args=args), query).content.decode()


def act(client, kind, product="SF-17", **fields):
    url = reverse("tablet:act", args=["A05", kind]) + f"?product={product}"
    return client.post(url, fields)


def hidden(answer, name):
    return re.search(rf'name="{name}" value="([^"]*)"', answer.content.decode()).group(1)


def test_the_page_says_what_is_on_what_belongs_there_and_that_i_may(signed_in, cast, a05):
    text = page(signed_in(cast.ines), "roller", "a05", product="SF-17")
    assert "put on T1 × 4, both ends" in text
    assert "You may tape this roller" in text
    assert "operator end" in text and "<svg" in text
    assert "Pieces</dt><dd>8" in text


def test_a_person_without_a_certificate_reads_why_not_and_who_can(signed_in, cast, a05):
    text = page(signed_in(cast.hanna), "roller", "A05", product="SF-17")
    assert "You may not tape this roller" in text
    assert "Ines Varga" in text and "Dara Whitlow" in text
    refused = signed_in(cast.hanna).get(reverse("tablet:act", args=["A05", "apply"]))
    assert refused.status_code == 403


def test_a_roller_is_at_most_three_taps_from_the_line(signed_in, cast, a05):
    client = signed_in(cast.ines)
    lines = page(client, "lines")
    line_url = re.search(r'href="(/tablet/line/A/)"', lines).group(1)
    line = client.get(line_url + "?product=SF-17").content.decode()
    assert re.search(r'href="/tablet/roller/A05/\?product=SF-17"', line)


def test_no_figure_can_be_typed_before_the_lockout_is_confirmed(signed_in, cast, a05):
    """29 CFR 1910.147(d)(1)-(6): prepare, shut down, isolate, lock, stored energy, verify."""
    client = signed_in(cast.ines)
    answer = act(client, "apply", pieces=8, seen=0)
    assert 'name="pieces"' not in answer.content.decode()
    missing_last = {key: "on" for key, _ in LOCKOUT[:-1]}
    answer = act(client, "apply", screen="lockout", lock_number="L-7", **missing_last)
    assert answer.status_code == 422
    assert "tried to start it" in answer.content.decode()
    assert TapeFact.objects.filter(kind="applied").count() == 0


def test_tape_is_put_on_measured_and_checked_by_a_second_person(signed_in, cast, a05):
    ines, dara = signed_in(cast.ines), signed_in(cast.dara)
    answer = act(ines, "apply", screen="lockout", lock_number="L-7", **STEPS)
    token, seen = hidden(answer, "lockout_token"), hidden(answer, "seen")
    wrong = act(ines, "apply", pieces=7, lockout_token=token, seen=seen)
    assert wrong.status_code == 422 and "8 pieces" in wrong.content.decode()
    assert act(ines, "apply", pieces=8, lockout_token=token, seen=seen).status_code == 302
    seen = TapeFact.objects.latest("pk").pk
    assert act(ines, "measure", operator=0.56, drive=0.55, seen=seen).status_code == 302
    assert act(ines, "check", pieces=8, tail_trails="yes").status_code == 403
    assert act(dara, "check", pieces=8, tail_trails="yes", seen=seen + 1).status_code == 302
    fact = TapeFact.objects.latest("pk")
    assert (fact.state, fact.measured, fact.checked, fact.applier) == ("taped", True, True, cast.ines)
    assert "Leave the tape on" in page(ines, "roller", "A05", product="SF-17")


def test_a_lockout_of_another_person_or_act_does_not_count(signed_in, cast, a05):
    answer = act(signed_in(cast.ines), "apply", screen="lockout", lock_number="L-7", **STEPS)
    token = hidden(answer, "lockout_token")
    assert 'name="pieces"' not in act(signed_in(cast.dara), "apply", pieces=8, lockout_token=token).content.decode()
    assert 'name="pieces"' not in act(signed_in(cast.ines), "remove", pieces=8, lockout_token=token).content.decode()


def test_who_looked_at_an_older_state_is_told_and_overwrites_nothing(signed_in, cast, a05):
    ines, dara = signed_in(cast.ines), signed_in(cast.dara)
    forms = []
    for client in (ines, dara):
        answer = act(client, "apply", screen="lockout", lock_number="L-7", **STEPS)
        forms.append({"lockout_token": hidden(answer, "lockout_token"), "seen": hidden(answer, "seen")})
    assert act(ines, "apply", pieces=8, **forms[0]).status_code == 302
    late = act(dara, "apply", pieces=8, **forms[1])
    assert late.status_code == 422
    assert "Changed since you looked" in late.content.decode() and "Ines Varga" in late.content.decode()
    assert TapeFact.objects.filter(kind="applied").count() == 1


@pytest.mark.parametrize("code", ["Z99", "<b>", "A05'--"])
def test_an_unknown_roller_gets_a_sentence(signed_in, cast, a05, code):
    answer = signed_in(cast.ines).get(reverse("tablet:roller", args=[code]))
    assert answer.status_code == 404
    assert "There is no roller position" in answer.content.decode()
    assert "<b>" not in answer.content.decode().replace("<b>Who can help", "")
