"""Old, forged and half-empty forms of the tablet."""

import uuid
from datetime import timedelta

import pytest
import time_machine
from django.urls import reverse

from rollers.models import Application, Lockout, Piece, TapeFact
from rollers.rules_application import LOCKOUT
from tests import make
from tests.rollers.scenes import both, line_a

pytestmark = pytest.mark.django_db
STEPS = [key for key, _ in LOCKOUT]
READY = {"clean": "on", "dry": "on", "no_residue": "on", "marked": "on", "face_c": "22"}


@pytest.fixture
def scene(cast):
    with time_machine.travel(make.AT, tick=False):
        scene = line_a(cast)
        version = scene.recipe("A05", ["SF-17"], make.stock("T1"), both(600, 792, 4))
        scene.sheet("SF-17", A05=version)
        scene.reel_label = scene.reel("A05", version).label
        yield scene


def step(client, name, track="apply", **fields):
    return client.post(reverse("tablet:job", args=["A05", track]) + "?product=SF-17", {"act": name} | fields)


def newest():
    return TapeFact.objects.filter(position__code="A05").latest("pk").pk


def lock_out(client, track="apply"):
    step(client, "begin", track, seen=newest())
    for key in STEPS:
        step(client, "lock", track, step=key, lock_number="L-7")


def winding(scene, **fields):
    given = {"reel": scene.reel_label, "pieces": 8, "tail_trails": "yes", "finish_over_start": "on"}
    return given | {"seen": newest()} | fields


def kinds():
    return list(TapeFact.objects.exclude(kind="surveyed").order_by("pk").values_list("kind", flat=True))


def said(answer):
    return answer.content.decode()


@pytest.mark.parametrize("name", ["prepare", "wind", "measure", "count", "lock-off"])
def test_no_step_is_recorded_by_a_direct_request_ahead_of_the_lockout(signed_in, cast, scene, name):
    client = signed_in(cast.ines)
    fields = READY | winding(scene) | {"operator": "0.56", "drive": "0.56", "edge_operator": 600, "edge_drive": 600}
    fields |= {"offcuts": 0, "clear": "on", "told": "on"}
    assert step(client, name, **fields).status_code in (409, 422)
    assert kinds() == []
    step(client, "begin", seen=newest())
    assert step(client, name, **fields).status_code in (200, 302, 409, 422)
    assert kinds() == []


def test_the_steps_of_a_lockout_posted_in_one_go_or_out_of_order_do_not_make_it_complete(signed_in, cast, scene):
    client = signed_in(cast.ines)
    step(client, "begin", seen=newest())
    for key in reversed(STEPS):
        step(client, "lock", step=key, lock_number="L-7")
    assert [row["key"] for row in Lockout.objects.get().steps] == ["prepare"]


def test_a_lockout_of_one_person_does_not_open_the_form_of_another(signed_in, cast, scene):
    lock_out(signed_in(cast.ines))
    other = signed_in(cast.dara)
    assert step(other, "prepare", seen=newest(), **READY).status_code == 422
    assert kinds() == ["locked out"]


def test_a_form_of_an_earlier_step_from_another_tab_changes_nothing(signed_in, cast, scene):
    client = signed_in(cast.ines)
    lock_out(client)
    old = newest()
    assert step(client, "prepare", seen=old, **READY).status_code == 302
    assert step(client, "wind", **winding(scene)).status_code == 302
    late = step(client, "prepare", seen=old, **READY)
    assert late.status_code in (409, 422) and "Changed since you looked" in said(late)
    again = step(client, "wind", **winding(scene))
    assert "Already recorded" in said(again)
    assert kinds() == ["locked out", "prepared", "applied"] and Piece.objects.count() == 8


def test_the_same_form_sent_twice_is_one_record(signed_in, cast, scene):
    client, key = signed_in(cast.ines), str(uuid.uuid4())
    lock_out(client)
    fields = READY | {"seen": newest(), "key": key}
    assert step(client, "prepare", **fields).status_code == 302
    assert step(client, "prepare", **fields).status_code == 302
    assert kinds() == ["locked out", "prepared"]


@pytest.mark.parametrize("seen", ["", "²", "-1", "9" * 5000, "None"])
def test_a_form_that_does_not_say_what_its_sender_saw_records_nothing(signed_in, cast, scene, seen):
    client = signed_in(cast.ines)
    lock_out(client)
    answer = step(client, "prepare", seen=seen, **READY)
    assert answer.status_code == 422
    assert "Changed since you looked" in said(answer)
    assert kinds() == ["locked out"]


def test_a_slip_in_an_old_form_does_not_make_it_new(signed_in, cast, scene):
    client = signed_in(cast.ines)
    lock_out(client)
    old = newest()
    slip = step(client, "prepare", seen=old, **READY | {"face_c": "warm"})
    assert slip.context["seen"] == old and slip.status_code == 422


def test_tape_wound_by_a_recipe_that_was_withdrawn_meanwhile_is_not_recorded(signed_in, cast, scene):
    client = signed_in(cast.ines)
    lock_out(client)
    step(client, "prepare", seen=newest(), **READY)
    version = Application.objects.get().recipe_version
    type(version).objects.filter(pk=version.pk).update(state="superseded")
    answer = step(client, "wind", **winding(scene))
    assert answer.status_code == 422 and "not a taped recipe in force any more" in said(answer)
    assert kinds() == ["locked out", "prepared"]


def test_a_lock_that_came_off_is_hung_again_for_the_next_work(signed_in, cast, scene):
    client = signed_in(cast.ines)
    lock_out(client)
    step(client, "prepare", seen=newest(), **READY)
    step(client, "wind", **winding(scene))
    with time_machine.travel(make.AT + timedelta(minutes=12), tick=False):
        edges = {"operator": "0.56", "drive": "0.56", "edge_operator": "600", "edge_drive": "600"}
        assert step(client, "measure", seen=newest(), **edges).status_code == 302
        assert step(client, "count", seen=newest(), pieces=8, offcuts=1).status_code == 302
        assert step(client, "lock-off", clear="on", told="on").status_code == 302
        refused = step(client, "remove", "remove", seen=newest())
    assert refused.status_code in (403, 422) and "Lock out A05 first" in said(refused)
    assert kinds()[-1] == "counted"


@pytest.mark.parametrize("track", ["apply", "remove", "clean"])
def test_an_unknown_step_gets_a_sentence(signed_in, cast, scene, track):
    answer = step(signed_in(cast.ines), "<b>", track)
    assert answer.status_code == 404 and "There is no step" in said(answer)
