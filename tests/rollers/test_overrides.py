"""Overrides: two persons, one rule, a short time; and what nobody may let pass."""

from datetime import timedelta

import pytest

from plant.errors import Forbidden, Refused
from plant.floor.models import Line
from plant.people.models import RoleGrant
from rollers.models import Alert, Deviation, Override
from rollers.readiness import readiness
from rollers.rules import Finding, Weight
from rollers.rules_overrides import GENERAL_ONLY, PASSABLE, Passed, end_of, let_pass, why_not
from rollers.services.overrides import grant_override
from tests import make
from tests.rollers import scenes

pytestmark = pytest.mark.django_db
REASON = "The order ends at noon, the recipe is drafted and waits for QA."


@pytest.fixture
def scene(cast):
    return scenes.line_a(cast)


def grant(cast, line, code="undecided", *, at=make.AT, second=None, supervisor=None, signed_at=None, **fields):
    given = {
        "position": None,
        "reason_code": "end-of-order",
        "reason": REASON,
        "ends_at": at + timedelta(hours=3),
        "supervisor": make.confirmation(supervisor or cast.hanna, at=signed_at or at),
        "second": make.confirmation(second or cast.dara, at=at),
        "at": at,
    }
    return grant_override(line, code, **given | fields)


@pytest.mark.db_both
def test_an_override_in_a_general_room_takes_supervisor_and_engineer(cast, scene):
    made = grant(cast, Line.objects.get())
    assert made.supervisor_signature.person == cast.hanna and made.second_signature.person == cast.dara
    assert made.deviation.code == "override-undecided" and made.deviation.severity == Deviation.Severity.MINOR
    with pytest.raises(Forbidden):
        grant(cast, Line.objects.get(), second=cast.ines)
    with pytest.raises(Forbidden):
        grant(cast, Line.objects.get(), supervisor=cast.dara)


def test_an_override_needs_two_different_persons(cast, scene):
    RoleGrant.objects.create(person=cast.hanna, role="engineer", granted_at=make.LONG_AGO)
    with pytest.raises(Refused) as refusal:
        grant(cast, Line.objects.get(), second=cast.hanna)
    assert refusal.value.code == "same-person"


@pytest.mark.parametrize(
    "code",
    ["lock-on", "missing-piece", "recalled-lot", "refused", "edge-on-step", "partial", "conflict", "unsafe-recipe"],
)
def test_nobody_passes_a_lock_a_lost_piece_a_recalled_lot_a_hard_limit_or_partial_tape(cast, scene, code):
    with pytest.raises(Refused) as refusal:
        grant(cast, Line.objects.get(), code)
    assert refusal.value.code == "never-passed" and not Override.objects.exists()


def test_in_food_and_medical_rooms_a_lapsed_certificate_is_never_passed():
    assert {"not-certified", "not-checked"} <= GENERAL_ONLY <= set(PASSABLE)
    for code in GENERAL_ONLY:
        assert why_not(code, ["general"]) == "" and "never passed" in why_not(code, ["general", "food"])


def test_an_override_needs_a_reason_of_twenty_characters(cast, scene):
    with pytest.raises(Refused) as refusal:
        grant(cast, Line.objects.get(), reason="because it is late")
    assert refusal.value.field == "reason"


def test_an_old_signature_does_not_count_for_an_override(cast, scene):
    with pytest.raises(Refused) as refusal:
        grant(cast, Line.objects.get(), at=make.AT + timedelta(minutes=10), signed_at=make.AT)
    assert refusal.value.code == "not-live"


def test_an_override_ends_with_the_shift_and_after_twelve_hours_at_most():
    at = make.AT
    day = timedelta(days=1)
    assert end_of(at, at + day, at + timedelta(hours=2), 12) == at + timedelta(hours=2)
    assert end_of(at, at + day, None, 12) == at + timedelta(hours=12)
    assert end_of(at, at + timedelta(hours=1), at + day, 12) == at + timedelta(hours=1)


def test_an_override_lets_its_rule_pass_on_its_line_until_it_ends_by_itself(cast):
    scene = scenes.line_b(cast)
    line, version = Line.objects.get(), scene.versions["BO-20"]

    def undecided(at):
        return [block for block in readiness(scene.path, version, at=at).blocks if block.code == "undecided"]

    before = undecided(make.AT)
    assert before, "in a food room a roller without a recipe blocks"
    made = grant(cast, line, second=cast.yuki)
    assert undecided(made.ends_at - timedelta(minutes=1)) == []
    assert undecided(made.ends_at) == before


def test_in_a_food_room_qa_signs_an_override_and_an_engineer_does_not(cast):
    scenes.line_b(cast)
    with pytest.raises(Forbidden):
        grant(cast, Line.objects.get(), second=cast.dara)
    assert grant(cast, Line.objects.get(), second=cast.yuki).deviation.severity == Deviation.Severity.MAJOR


def test_only_the_named_rule_passes_and_only_where_it_was_signed_for():
    passed = [Passed("look-overdue", "A05", make.AT, "why", "Hanna and Dara")]
    found = [Finding("look-overdue", Weight.BLOCK, "late."), Finding("refused", Weight.BLOCK, "no.")]
    here, there = let_pass("A05", found, passed), let_pass("A06", found, passed)
    assert [one.weight for one in here] == [Weight.CAUTION, Weight.BLOCK] and "Hanna and Dara" in here[0].sentence
    assert [one.weight for one in there] == [Weight.BLOCK, Weight.BLOCK]


def test_the_third_override_of_one_rule_on_one_line_in_thirty_days_reaches_the_manager(cast, scene):
    line = Line.objects.get()
    for day in (0, 1):
        grant(cast, line, at=make.AT + timedelta(days=day))
    assert not Alert.objects.filter(for_role="manager").exists()
    grant(cast, line, at=make.AT + timedelta(days=2))
    assert "3 times in 30 days" in Alert.objects.get(for_role="manager").sentence
