"""The roller's page on the tablet: what is on it, what belongs there, may I, and one act a screen."""

import re
from datetime import timedelta

import pytest
import time_machine
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from rollers.cases import TypedBand
from rollers.models import Application, Bag, Piece, Reel, TapeFact
from rollers.rules_application import LOCKOUT
from rollers.services.approving import approve_recipe, check_recipe
from rollers.services.recipes import draft_recipe
from rollers.services.sheets import draft_sheet, sign_sheet
from tests import make

pytestmark = pytest.mark.django_db


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
    make.reel(make.stock("T1"), room)
    return position


def page(client, name="roller", *args, **query):
    return client.get(reverse(f"tablet:{name}", args=args), query).content.decode()


def newest():
    return TapeFact.objects.filter(position__code="A05").latest("pk").pk


def step(client, name, track="apply", product="SF-17", **fields):
    url = reverse("tablet:job", args=["A05", track]) + f"?product={product}"
    return client.post(url, {"act": name, "seen": newest()} | fields)


def act(client, act_name, product="SF-17", **fields):
    url = reverse("tablet:act", args=["A05", act_name]) + f"?product={product}"
    return client.post(url, {"seen": newest()} | fields)


def job(client, track="apply"):
    return client.get(reverse("tablet:job", args=["A05", track]) + "?product=SF-17").content.decode()


def lock_out(client, track="apply"):
    step(client, "begin", track)
    for key, _ in LOCKOUT:
        assert step(client, "lock", track, step=key, lock_number="L-7").status_code == 302


READY = {"clean": "on", "dry": "on", "no_residue": "on", "marked": "on", "face_c": "22"}
EDGES = {"operator": "0.56", "drive": "0.55", "edge_operator": "600", "edge_drive": "600.5"}


def tape_on(client):
    """From lockout to lock off; the tape rests ten minutes in between."""
    lock_out(client)
    step(client, "prepare", **READY)
    wound = {"reel": Reel.objects.get().label, "pieces": 8, "tail_trails": "yes", "finish_over_start": "on"}
    assert step(client, "wind", **wound).status_code == 302
    with time_machine.travel(make.AT + timedelta(minutes=10), tick=False):
        assert step(client, "measure", **EDGES).status_code == 302
        assert step(client, "count", pieces=8, offcuts=1).status_code == 302
        assert step(client, "lock-off", clear="on", told="on").status_code == 302


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
    refused = signed_in(cast.hanna).get(reverse("tablet:job", args=["A05", "apply"]))
    assert refused.status_code == 403


def test_a_roller_is_at_most_three_taps_from_the_line(signed_in, cast, a05):
    client = signed_in(cast.ines)
    lines = page(client, "lines")
    line_url = re.search(r'href="(/tablet/line/A/)"', lines).group(1)
    line = client.get(line_url + "?product=SF-17").content.decode()
    assert re.search(r'href="/tablet/roller/A05/\?product=SF-17"', line)


def test_no_figure_can_be_typed_before_the_lockout_is_confirmed_step_by_step(signed_in, cast, a05):
    """29 CFR 1910.147(d)(1)-(6): prepare, shut down, isolate, lock, stored energy, verify."""
    client = signed_in(cast.ines)
    assert "First lock out, step by step" in job(client)
    step(client, "begin")
    for number, (key, sentence) in enumerate(LOCKOUT):
        page_now = job(client)
        assert f'<p class="now__line">{sentence}</p>' in page_now and f"step {number + 2} of 12" in page_now
        assert not re.search(r'name="(face_c|pieces|operator|reel)"', page_now)
        assert ("lock_number" in page_now) == (key == "lock")
        step(client, "lock", step=key, lock_number="L-7")
    assert 'name="face_c"' in job(client)


def test_the_page_of_a_job_keeps_its_budget_of_queries(signed_in, cast, a05):
    client = signed_in(cast.ines)
    step(client, "begin")
    with CaptureQueriesContext(connection) as asked:
        job(client)
    assert len(asked) <= 70


def test_the_lock_number_is_asked_for_where_the_lock_is_hung(signed_in, cast, a05):
    client = signed_in(cast.ines)
    step(client, "begin")
    for key in ("prepare", "shut-down", "isolate"):
        step(client, "lock", step=key)
    answer = step(client, "lock", step="lock", lock_number="")
    assert answer.status_code == 422 and "number of your own lock" in answer.content.decode()


def test_tape_is_put_on_measured_counted_and_checked_by_a_second_person(signed_in, cast, a05):
    ines, dara = signed_in(cast.ines), signed_in(cast.dara)
    lock_out(ines)
    step(ines, "prepare", **READY)
    label = Reel.objects.get().label
    assert label in job(ines) and "clockwise" in job(ines) and "operator end, lane 4" in job(ines)
    wound = {"reel": label, "tail_trails": "yes", "finish_over_start": "on"}
    wrong = step(ines, "wind", pieces=7, **wound)
    assert wrong.status_code == 422 and "8 pieces" in wrong.content.decode()
    assert step(ines, "wind", pieces=8, **wound).status_code == 302
    early = step(ines, "measure", **EDGES)
    assert early.status_code == 422 and "let it rest" in early.content.decode()
    with time_machine.travel(make.AT + timedelta(minutes=10), tick=False):
        assert step(ines, "measure", **EDGES).status_code == 302
        assert step(ines, "count", pieces=8, offcuts=1).status_code == 302
        assert step(ines, "lock-off", clear="on", told="on").status_code == 302
        assert act(ines, "check", pieces=8, tail_trails="yes").status_code == 403
        assert act(dara, "check", pieces=8, tail_trails="yes").status_code == 302
    fact = TapeFact.objects.latest("pk")
    assert (fact.state, fact.measured, fact.checked, fact.applier) == ("taped", True, True, cast.ines)


def test_taking_off_goes_piece_by_piece_into_the_counted_bag(signed_in, cast, a05):
    ines = signed_in(cast.ines)
    tape_on(ines)
    with time_machine.travel(make.AT + timedelta(minutes=30), tick=False):
        lock_out(ines, "remove")
        assert step(ines, "remove", "remove").status_code == 302
        opened = step(ines, "pieces", "remove", open_bag="1")
        assert opened.status_code == 302
        label = Bag.objects.get().label
        assert label in job(ines, "remove")
        keys = list(Piece.objects.values_list("pk", flat=True))
        half = {f"piece_{key}": "removed intact" for key in keys[:4]}
        assert step(ines, "pieces", "remove", bag=label, **half).status_code == 302
        assert "4 on by the record" in job(ines, "remove")
        torn = step(ines, "pieces", "remove", bag=label, **{f"piece_{keys[4]}": "removed in parts"})
        assert torn.status_code == 422 and "a second person" in torn.content.decode()
        second = {"second_no": cast.hanna.staff_no, "second_secret": make.SECRET}
        answer = step(ines, "pieces", "remove", bag=label, **{f"piece_{keys[4]}": "removed in parts"}, **second)
        assert answer.status_code == 302
        rest = {f"piece_{key}": "removed intact" for key in keys[5:]}
        assert step(ines, "pieces", "remove", bag=label, **rest).status_code == 302
        assert step(ines, "finish", "remove", residue="none", surface_ok="on").status_code == 302
        assert "Done. Take lock L-7 off" in job(ines, "remove")
    assert TapeFact.objects.latest("pk").state == "bare"


def test_a_wrong_password_of_the_second_person_stays_counted_and_nothing_is_recorded(signed_in, cast, a05):
    ines = signed_in(cast.ines)
    tape_on(ines)
    with time_machine.travel(make.AT + timedelta(minutes=30), tick=False):
        lock_out(ines, "remove")
        step(ines, "remove", "remove")
        step(ines, "pieces", "remove", open_bag="1")
        key = Piece.objects.first().pk
        fields = {f"piece_{key}": "removed in parts", "bag": Bag.objects.get().label}
        answer = step(ines, "pieces", "remove", second_no=cast.hanna.staff_no, second_secret="wrong", **fields)
    assert answer.status_code == 422 and "This is not your password" in answer.content.decode()
    cast.hanna.refresh_from_db()
    assert cast.hanna.signing_failures == 1 and not Piece.objects.filter(facts__state="removed in parts").exists()


def test_who_may_not_tape_may_learn_it_beside_a_certified_person_who_signs(signed_in, cast, a05):
    hanna = signed_in(cast.hanna)
    page_now = hanna.get(reverse("tablet:job", args=["A05", "apply"]) + "?product=SF-17")
    assert page_now.status_code == 403 and "Learn it beside a certified person" in page_now.content.decode()
    wrong = step(hanna, "begin", certified_no=cast.sol.staff_no, certified_secret=make.SECRET)
    assert wrong.status_code in (403, 422) and not Application.objects.exists()
    right = step(hanna, "begin", certified_no=cast.ines.staff_no, certified_secret=make.SECRET)
    assert right.status_code == 302
    made = Application.objects.get()
    assert (made.trainee, made.applier) == (cast.hanna, cast.ines)


def test_who_looked_at_an_older_state_is_told_and_overwrites_nothing(signed_in, cast, a05):
    ines, dara = signed_in(cast.ines), signed_in(cast.dara)
    seen = newest()
    lock_out(ines)
    late = step(dara, "begin", seen=seen)
    assert late.status_code == 422
    assert "Changed since you looked" in late.content.decode() and "Ines Varga" in late.content.decode()
    assert Application.objects.count() == 1


def test_a_report_of_what_was_done_earlier_is_stored_with_its_reason(signed_in, cast, a05):
    fields = {"kind": "applied", "done_at": "2026-03-25T06:30", "pieces": 8, "reel": Reel.objects.get().label}
    without = act(signed_in(cast.ines), "report", **fields)
    assert without.status_code == 422 and "Say in a few words why" in without.content.decode()
    answer = act(signed_in(cast.ines), "report", **fields, late_reason="Server was down", lock_number="L-7")
    assert answer.status_code == 302
    fact = TapeFact.objects.latest("pk")
    assert (fact.kind, fact.state, fact.late) == ("applied", "unknown", True)
    assert fact.at.hour == 5  # half past six in Vienna


@pytest.mark.parametrize("code", ["Z99", "<b>", "A05'--"])
def test_an_unknown_roller_gets_a_sentence(signed_in, cast, a05, code):
    answer = signed_in(cast.ines).get(reverse("tablet:roller", args=[code]))
    assert answer.status_code == 404
    assert "There is no roller position" in answer.content.decode()
    assert "<b>" not in answer.content.decode().replace("<b>Who can help", "")
