"""Screens of a running line: what is open, the change sheet, set-points, overrides, holds, handover, settings."""

from datetime import timedelta

import pytest
from django.urls import reverse

from plant.floor.models import Line, Run
from plant.web import clock
from rollers.control import CONTROLS
from rollers.models import Alert, ControlSet, Deviation, Handover, HeldRoll, Hold, Lockout, Override, SetPoint, Task
from rollers.services.holds import hold_between
from rollers.services.runs import plan_run, release_run
from rollers.services.tasks import open_deviation, open_task, raise_alert
from tests import make
from tests.rollers import scenes

pytestmark = pytest.mark.django_db
AT = make.AT
LOCAL_END = "2026-03-25T13:30"


@pytest.fixture(autouse=True)
def wednesday(monkeypatch):
    monkeypatch.setattr(clock, "now", lambda: AT)


def run_of(scene, code, cast, *, start=AT):
    version = scene.versions[code]
    return plan_run(
        path=scene.path,
        version=version,
        tension_n_per_m=version.tension_set_n_per_m,
        speed_m_per_min=version.speed_set_m_per_min,
        starts_at=start,
        by=cast.hanna,
        at=AT,
    )


@pytest.fixture
def films(cast):
    """Line A with A05 taped for SF-17; SF-30 runs bare."""
    scene = scenes.line_a(cast)
    recipe = scene.recipe("A05", ["SF-17"], make.stock("T1"), scenes.both(600, 792, 4))
    scene.sheet("SF-17", A05=recipe)
    scene.sheet("SF-30")
    scene.tape("A05", recipe, by=cast.ines, checker=cast.dara)
    return scene


@pytest.fixture
def food(cast):
    """Line B in the food room, nothing decided for BO-20."""
    return scenes.line_b(cast)


def two(cast_member, **fields):
    return {"secret": make.SECRET, "other_staff_no": cast_member.staff_no, "other_secret": make.SECRET} | fields


def test_the_change_sheet_names_the_roller_the_act_and_the_minutes(films, cast, signed_in):
    run = run_of(films, "SF-30", cast)
    text = signed_in(cast.hanna).get(reverse("rollers:change-sheet", args=[run.pk])).content.decode()
    assert "1 roller to do, about 46 min with one lockout" in text and "take off" in text
    assert "Lock out and try to start" in text


def test_open_work_lists_the_next_change_of_each_line(films, cast, signed_in):
    run = run_of(films, "SF-30", cast)
    text = signed_in(cast.hanna).get(reverse("rollers:open-work")).content.decode()
    assert "Next changes" in text and reverse("rollers:change-sheet", args=[run.pk]) in text
    assert "take off" in text


def test_a_set_point_is_typed_in_any_unit_and_answered_with_the_window(films, cast, signed_in):
    run = run_of(films, "SF-17", cast)
    release_run(run, confirmation=make.confirmation(cast.hanna))
    client = signed_in(cast.ines)
    page = client.post(
        reverse("rollers:set-point", args=[run.pk]),
        {"tension": "0.2", "tension_unit": "pli", "speed_unit": "m/min", "reason": "dancer swings"},
        follow=True,
    )
    made = SetPoint.objects.get()
    # 1 pli is 175.126... N/m (pound-force and inch as in NIST SP 811), so 0.2 pli are 35.03 N/m.
    assert made.after == pytest.approx(35.0254, abs=1e-3) and not made.inside
    text = page.content.decode()
    assert "OUTSIDE the window" in text and "dancer swings" in text


def test_an_empty_or_absurd_set_point_is_said_at_its_field_and_records_nothing(films, cast, signed_in):
    run = run_of(films, "SF-17", cast)
    release_run(run, confirmation=make.confirmation(cast.hanna))
    client = signed_in(cast.ines)
    for sent, words in (({}, "Type the new tension"), ({"tension": "much"}, "much")):
        page = client.post(reverse("rollers:set-point", args=[run.pk]), sent)
        assert page.status_code == 422 and words in page.content.decode()
    assert not SetPoint.objects.exists()


def test_an_override_is_signed_by_two_at_one_desk_and_shown_until_it_ends(food, cast, signed_in):
    run_of(food, "BO-20", cast)
    client = signed_in(cast.hanna)
    client.get(reverse("rollers:open-work"))
    address = reverse("rollers:override", args=["B"])
    assert "Both sign now" in client.get(address, {"code": "undecided"}).content.decode()
    sent = two(
        cast.yuki,
        code="undecided",
        reason_code="end-of-order",
        reason="The order ends at noon and the sheet is drafted.",
        ends_at=LOCAL_END,
    )
    page = client.post(address, sent, follow=True)
    assert "Let pass for a short time" in page.content.decode()
    made = Override.objects.get()
    assert made.ends_at == AT.replace(hour=12, minute=30)


def test_a_wrong_password_of_the_second_person_is_said_there_and_everything_typed_is_kept(food, cast, signed_in):
    address = reverse("rollers:override", args=["B"])
    sent = two(
        cast.yuki,
        code="undecided",
        reason_code="other",
        reason="The order ends at noon and the sheet is drafted.",
        ends_at=LOCAL_END,
    )
    page = signed_in(cast.hanna).post(address, sent | {"other_secret": "wrong"})
    text = page.content.decode()
    assert page.status_code >= 400 and "Yuki Sandoval:" in text and "the sheet is drafted" in text
    assert make.SECRET not in text and not Override.objects.exists()


@pytest.mark.parametrize("code", ["missing-piece", "lock-on", "refused", "edge-on-step", "partial"])
def test_what_is_never_let_pass_shows_no_form_and_refuses_a_direct_request(food, cast, signed_in, code):
    client, address = signed_in(cast.hanna), reverse("rollers:override", args=["B"])
    text = client.get(address, {"code": code}).content.decode()
    assert "never passed" in text and "other_secret" not in text
    sent = two(
        cast.yuki, code=code, reason_code="other", reason="We have to run now, whatever it is.", ends_at=LOCAL_END
    )
    assert "never passed" in client.post(address, sent).content.decode()
    assert not Override.objects.exists()


def test_an_override_page_is_for_supervisors(food, cast, signed_in):
    assert signed_in(cast.tomas).get(reverse("rollers:override", args=["B"]), {"code": "undecided"}).status_code == 403


@pytest.fixture
def held(food, cast):
    hold = hold_between(
        Line.objects.get(), AT - timedelta(hours=2), AT, why=Hold.Why.MISSING, sentence="1 piece missing.",
        by=cast.tomas, at=AT,
    )  # fmt: skip
    HeldRoll.objects.create(hold=hold, label="B-77", length_m=3000)
    return hold


def test_qa_decides_about_a_roll_and_then_closes_the_hold(held, cast, signed_in):
    client = signed_in(cast.yuki)
    roll = HeldRoll.objects.get()
    page = client.get(reverse("rollers:hold", args=[held.pk])).content.decode()
    assert "1 to decide" in page and "A metal detector does not see plain tape" in page
    decide = reverse("rollers:held-roll", args=[roll.pk])
    assert client.post(decide, {"secret": make.SECRET, "reason": "Rewound and looked at."}).status_code == 422
    client.post(decide, {"decision": "rejected", "reason": "Rewound and looked at.", "secret": make.SECRET})
    closed = client.post(
        reverse("rollers:close-hold", args=[held.pk]),
        {"reason": "The piece was found in the trim bag.", "secret": make.SECRET},
        follow=True,
    )
    assert "hold closed" in closed.content.decode()
    held.refresh_from_db()
    assert held.closed_at == AT


@pytest.mark.parametrize("who", ["hanna", "dara", "sol", "tomas"])
def test_nobody_but_qa_decides_about_held_product(held, cast, signed_in, who):
    client, roll = signed_in(getattr(cast, who)), HeldRoll.objects.get()
    page = client.get(reverse("rollers:held-roll", args=[roll.pk])).content.decode()
    assert "nobody else can" in page and 'name="secret"' not in page
    answer = client.post(
        reverse("rollers:held-roll", args=[roll.pk]),
        {"decision": "released", "reason": "It looks good to me.", "secret": make.SECRET},
    )
    assert answer.status_code == 403
    roll.refresh_from_db()
    assert roll.decision == HeldRoll.Decision.OPEN


def test_a_line_is_handed_over_with_what_is_open_and_both_names(food, cast, signed_in):
    open_task("other", "x", "Ask the store for T5", at=AT, for_role="supervisor", line=Line.objects.get())
    client, address = signed_in(cast.tomas), reverse("rollers:handover", args=["B"])
    assert "Ask the store for T5" in client.get(address).content.decode()
    page = client.post(address, two(cast.babak, note="Dancer two sticks"), follow=True)
    assert "Babak Nouri has it" in page.content.decode()
    assert [item["sentence"] for item in Handover.objects.get().open_items] == ["Ask the store for T5"]


def test_nobody_hands_over_to_himself_or_leaves_an_own_lock_behind(food, cast, signed_in):
    client, address = signed_in(cast.tomas), reverse("rollers:handover", args=["B"])
    assert "takes two" in client.post(address, two(cast.tomas)).content.decode()
    Lockout.objects.create(position=food["B09"], purpose="apply", person=cast.tomas, lock_number="4", begun_at=AT)
    assert "Your lock is still on at B09" in client.post(address, two(cast.babak)).content.decode()
    assert not Handover.objects.exists()


def test_engineer_and_qa_change_a_setting_together_and_one_alone_does_not(food, cast, signed_in):
    client, address = signed_in(cast.dara), reverse("rollers:controls")
    figures = {one.key: f"{one.default:g}" for one in CONTROLS} | {"tape_cap": "2", "reason": "We tape less now."}
    assert client.post(address, figures | two(cast.dara)).status_code >= 400
    assert client.post(address, figures | two(cast.yuki) | {"tape_cap": "many"}).status_code == 422
    assert client.post(address, figures | two(cast.yuki) | {"tape_cap": "99"}).status_code == 422
    assert not ControlSet.objects.exists()
    client.post(address, figures | two(cast.yuki))
    assert ControlSet.objects.get().values["tape_cap"] == 2


def test_a_task_is_closed_by_its_role_with_an_outcome_and_by_nobody_else(food, cast, signed_in):
    task = open_task("other", "x", "Ask the store", at=AT, for_role="supervisor", line=Line.objects.get())
    address = reverse("rollers:task", args=[task.pk])
    assert signed_in(cast.tomas).post(address, {"outcome": "I did it all"}).status_code == 403
    assert signed_in(cast.hanna).post(address, {"outcome": ""}).status_code == 422
    signed_in(cast.hanna).post(address, {"outcome": "Store has it"})
    assert Task.objects.get().outcome == "Store has it"


def test_a_deviation_is_never_closed_by_the_person_it_is_about(food, cast, signed_in):
    one = open_deviation(
        "late-entry", "minor", "entered late", at=AT, owner_role="supervisor", person=cast.hanna,
        line=Line.objects.get(),
    )  # fmt: skip
    address = reverse("rollers:deviation", args=[one.pk])
    assert "about you" in signed_in(cast.hanna).post(address, {"outcome": "All was in order."}).content.decode()
    signed_in(cast.babak).post(address, {"outcome": "All was in order."})
    assert Deviation.objects.get().closed_by == cast.babak


def test_an_alert_is_taken_once_by_its_role(food, cast, signed_in):
    alert = raise_alert("a", "major", "trouble", next_action="look", for_role="supervisor", at=AT)
    address = reverse("rollers:take-alert", args=[alert.pk])
    assert signed_in(cast.tomas).post(address).status_code == 403
    assert signed_in(cast.hanna).post(address).status_code == 302
    assert signed_in(cast.babak).post(address).status_code == 409
    assert Alert.objects.get().acknowledged_by == cast.hanna


def test_the_tape_of_a_room_is_on_one_page_with_who_put_it_on(films, cast, signed_in):
    text = signed_in(cast.yuki).get(reverse("rollers:room-tape", args=["G1"])).content.decode()
    assert "8 pieces of tape on record" in text and "A05" in text and "cap 3 a line" in text


def test_the_order_of_runs_is_compared_and_a_bad_due_time_is_named(cast, signed_in):
    scene = scenes.taped_b(cast)[0]
    runs = [
        run_of(scene, code, cast, start=AT + timedelta(hours=4 * number))
        for number, code in enumerate(("BO-35", "CP-70", "BO-20"))
    ]
    client, address = signed_in(cast.hanna), reverse("rollers:run-order", args=["B"])
    text = client.get(address).content.decode()
    assert "Another order saves" in text and "As planned" in text and "Order that needs least" in text
    bad = client.get(address, {f"due-{runs[0].pk}": "soon"})
    assert bad.status_code == 422 and "no number of hours" in bad.content.decode()
    assert Run.objects.filter(state=Run.State.PLANNED).count() == 3
