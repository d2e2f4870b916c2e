"""Old, forged and half-empty forms of the tablet."""

import pytest
import time_machine
from django.core import signing
from django.urls import reverse

from rollers.models import TapeFact
from rollers.services.spot import LOCKOUT
from tests import make
from tests.rollers.scenes import both, line_a

pytestmark = pytest.mark.django_db
STEPS = {key: "on" for key, _ in LOCKOUT}


@pytest.fixture
def scene(cast):
    with time_machine.travel(make.AT, tick=False):
        scene = line_a(cast)
        version = scene.recipe("A05", ["SF-17"], make.stock("T1"), both(600, 792, 4))
        scene.sheet("SF-17", A05=version)
        yield scene


def act(client, kind, **fields):
    return client.post(reverse("tablet:act", args=["A05", kind]) + "?product=SF-17", fields)


def locked_out(client, kind):
    context = act(client, kind, screen="lockout", lock_number="L-7", **STEPS).context
    return {"lockout_token": context["lockout_token"], "seen": context["seen"]}


def kinds():
    return list(TapeFact.objects.exclude(kind="surveyed").order_by("pk").values_list("kind", flat=True))


def test_a_lockout_counts_for_one_act_and_is_gone_through_again_for_the_next(signed_in, cast, scene):
    client = signed_in(cast.ines)
    first = locked_out(client, "apply")
    assert act(client, "apply", pieces=8, **first).status_code == 302
    assert act(client, "remove", pieces=8, residue="no", **locked_out(client, "remove")).status_code == 302
    newest = TapeFact.objects.latest("pk").pk
    again = act(client, "apply", pieces=8, lockout_token=first["lockout_token"], seen=newest)
    assert again.status_code == 422
    assert "Lock out" in again.content.decode()
    assert kinds() == ["applied", "removed"]


def test_a_lockout_token_made_by_anybody_else_than_the_server_does_not_count(signed_in, cast, scene):
    client = signed_in(cast.ines)
    real = locked_out(client, "apply")
    held = signing.loads(real["lockout_token"], salt="lockout")
    for forged in (
        signing.dumps(held, salt="other"),
        signing.dumps(held, key="x" * 50, salt="lockout"),
        real["lockout_token"][:-1],
        "null",
        "",
    ):
        assert act(client, "apply", pieces=8, lockout_token=forged, seen=real["seen"]).status_code != 302
    assert kinds() == []


@pytest.mark.parametrize("seen", ["", "²", "-1", "9" * 5000, "None"])
def test_a_form_that_does_not_say_what_its_sender_saw_records_nothing(signed_in, cast, scene, seen):
    client = signed_in(cast.ines)
    assert act(client, "apply", pieces=8, **locked_out(client, "apply")).status_code == 302
    answer = act(client, "measure", operator=0.56, drive=0.56, seen=seen)
    assert answer.status_code == 422
    assert "Changed since you looked" in answer.content.decode()
    assert kinds() == ["applied"]


def test_a_slip_in_an_old_form_does_not_make_it_new(signed_in, cast, scene):
    client = signed_in(cast.ines)
    act(client, "apply", pieces=8, **locked_out(client, "apply"))
    old = TapeFact.objects.latest("pk").pk
    act(client, "measure", operator=0.56, drive=0.56, seen=old)
    slip = act(client, "measure", operator="x", drive=0.56, seen=old)
    assert slip.context["seen"] == old


def test_tape_wound_by_a_recipe_that_changed_meanwhile_is_not_recorded_as_the_new_one(signed_in, cast, scene):
    client = signed_in(cast.ines)
    form = locked_out(client, "apply")
    other = scene.recipe("A05", ["SF-17"], make.stock("T1"), both(600, 792, 3))
    scene.sheet("SF-17", A05=other)
    answer = act(client, "apply", pieces=8, **form)
    assert answer.status_code == 422
    assert "changed since you locked out" in answer.content.decode()
    assert kinds() == []
