"""Product sheets: one signed document says which positions carry a recipe; all others are bare."""

import pytest
from django.db import IntegrityError, transaction

from plant.audit.models import Event, Signature
from plant.errors import Conflict, Forbidden, Refused
from rollers.models import ProductSheet, SheetLine
from rollers.queries import requirements, sheet_in_force
from rollers.services.recipes import withdraw_recipe
from rollers.services.sheets import draft_sheet, sign_sheet, withdraw_sheet
from tests import make
from tests.rollers.scenes import both, line_a

pytestmark = pytest.mark.django_db


def stretch(cast):
    scene = line_a(cast)
    return scene, scene.recipe("A05", ["SF-17"], make.stock("T1"), both(600, 792, 4))


def drafted(scene, choices, by=None, product="SF-17"):
    return draft_sheet(
        product=scene.product(product), path=scene.path, choices=choices, by=by or scene.cast.hanna, at=make.AT
    )


def asked(scene, product="SF-17"):
    positions = [scene[code] for code in ("A01", "A05", "A08")]
    found = requirements(scene.versions[product], scene.path, positions).by_position
    return {position.code: found[position.pk] for position in positions}


def test_before_any_sheet_a_position_is_undecided_and_a_chill_roller_is_bare_by_type(cast):
    scene = line_a(cast)
    found = asked(scene)
    assert {code: required.kind for code, required in found.items()} == {
        "A01": "bare",
        "A05": "undecided",
        "A08": "undecided",
    }
    assert found["A01"].by_type


def test_a_signed_sheet_makes_every_position_it_does_not_name_bare(cast):
    scene, version = stretch(cast)
    scene.sheet("SF-17", A05=version)
    assert {code: required.kind for code, required in asked(scene).items()} == {
        "A01": "bare",
        "A05": "taped",
        "A08": "bare",
    }


def test_one_signature_stands_for_every_position_of_the_path_by_name(cast):
    scene, version = stretch(cast)
    sheet = scene.sheet("SF-17", A05=version)
    signature = Signature.objects.get(subject_type="productsheet", subject_id=str(sheet.pk))
    assert signature.meaning == "recipes assigned"
    for words in ('["A01","bare"]', '"A05","T1 × 4, both ends', '["A08","bare"]'):
        assert words in signature.content
    assert Event.objects.filter(action="sign-sheet").count() == 1


def test_a_draft_sheet_decides_nothing(cast):
    scene, version = stretch(cast)
    drafted(scene, {scene["A05"]: version})
    assert sheet_in_force(scene.product("SF-17"), scene.path) is None


def test_only_a_supervisor_assigns_and_signs(cast):
    scene, _ = stretch(cast)
    with pytest.raises(Forbidden, match="Hanna Lindqvist can"):
        drafted(scene, {}, by=cast.dara)
    sheet = drafted(scene, {})
    with pytest.raises(Forbidden, match="Hanna Lindqvist can"):
        sign_sheet(sheet, confirmation=make.confirmation(cast.dara))


def test_what_cannot_stand_on_a_sheet_is_refused_with_its_position(cast):
    scene, version = stretch(cast)
    other = make.position("A99", path=make.web_path(scene.path.line, "another"), room=scene["A05"].room)
    elsewhere = drafted, {other: version}
    not_served = drafted, {scene["A08"]: version}
    chill = drafted, {scene["A01"]: version}
    for (act, choices), word in ((elsewhere, "is not on"), (not_served, "not in force"), (chill, "bare by its type")):
        with pytest.raises(Refused, match=word) as refusal:
            act(scene, choices)
        assert refusal.value.field == f"position-{next(iter(choices)).pk}"
    with pytest.raises(Refused, match="not in force at A05 for SF-30"):
        drafted(scene, {scene["A05"]: version}, product="SF-30")


def test_a_recipe_withdrawn_after_the_draft_cannot_be_signed(cast):
    scene, version = stretch(cast)
    sheet = drafted(scene, {scene["A05"]: version})
    withdraw_recipe(version, reason="Marks at the band edge", by=cast.hanna, at=make.AT)
    with pytest.raises(Refused, match="not in force"):
        sign_sheet(sheet, confirmation=make.confirmation(cast.hanna))
    assert ProductSheet.objects.get().state == "draft"


def test_a_new_draft_takes_the_place_of_the_old_one_which_can_no_longer_be_signed(cast):
    scene, version = stretch(cast)
    old = drafted(scene, {})
    new = drafted(scene, {scene["A05"]: version})
    assert ProductSheet.objects.get(state="draft") == new
    with pytest.raises(Conflict, match="signed or replaced since you looked"):
        sign_sheet(old, confirmation=make.confirmation(cast.hanna))


@pytest.mark.db_both
def test_the_next_sheet_ends_the_one_before_and_the_database_keeps_one_in_force(cast):
    scene, version = stretch(cast)
    first = scene.sheet("SF-17")
    second = scene.sheet("SF-17", A05=version)
    first.refresh_from_db()
    assert (first.state, second.state, second.number) == ("superseded", "in force", 2)
    with pytest.raises(IntegrityError), transaction.atomic():
        ProductSheet.objects.filter(pk=first.pk).update(state="in force")


def test_a_signed_sheet_is_not_signed_twice(cast):
    scene, version = stretch(cast)
    sheet = scene.sheet("SF-17", A05=version)
    with pytest.raises(Conflict):
        sign_sheet(sheet, confirmation=make.confirmation(cast.hanna))


def test_withdrawing_a_sheet_leaves_the_recipe_in_force_and_the_others_undecided(cast):
    scene, version = stretch(cast)
    sheet = scene.sheet("SF-17", A05=version)
    with pytest.raises(Refused, match="Say why"):
        withdraw_sheet(sheet, reason="no", by=cast.hanna, at=make.AT)
    withdraw_sheet(sheet, reason="The wrong path was chosen", by=cast.hanna, at=make.AT)
    assert {code: required.kind for code, required in asked(scene).items()} == {
        "A01": "bare",
        "A05": "taped",
        "A08": "undecided",
    }
    with pytest.raises(Conflict, match="ended since you looked"):
        withdraw_sheet(sheet, reason="The wrong path was chosen", by=cast.hanna, at=make.AT)


@pytest.mark.db_both
def test_what_a_signed_sheet_says_never_changes(cast):
    scene, version = stretch(cast)
    sheet = scene.sheet("SF-17", A05=version)
    for attempt in (
        lambda: SheetLine.objects.filter(sheet=sheet).delete(),
        lambda: SheetLine.objects.create(sheet=sheet, position=scene["A08"], recipe_version=version),
        lambda: ProductSheet.objects.filter(pk=sheet.pk).update(number=9),
    ):
        with pytest.raises(IntegrityError), transaction.atomic():
            attempt()
