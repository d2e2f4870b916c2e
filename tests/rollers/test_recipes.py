"""Recipes: drafted, computed, signed by the author, approved by others, in force, superseded."""

import threading
from datetime import timedelta

import pytest
from django.db import IntegrityError, connection, transaction

from plant.audit.models import Event, Signature
from plant.errors import Conflict, Forbidden, Refused
from plant.floor.models import RoomClass
from plant.floor.services import revise_product
from rollers.cases import TypedBand
from rollers.models import Band, Calculation, RecipeProduct, RecipeVersion
from rollers.queries import open_versions, recipes_in_force
from rollers.services.approving import approve_recipe, check_recipe, given_signatures, still_needed
from rollers.services.bodies import record_measurement
from rollers.services.recipes import copy_to_position, draft_recipe, withdraw_recipe
from tests import make
from tests.rollers.scenes import both, line_a, line_b, line_c

pytestmark = pytest.mark.django_db
A_REASON = "Kept so that both webs run on one tape"


def fresh(version):
    return RecipeVersion.objects.get(pk=version.pk)


def stretch(cast, wraps=4, products=("SF-17",)):
    scene = line_a(cast)
    return scene, scene.draft("A05", list(products), make.stock("T1"), both(600, 792, wraps))


def approve(version, person, meaning="approved"):
    return approve_recipe(version, meaning=meaning, confirmation=make.confirmation(person))


# --- the computed draft ---------------------------------------------------------------------------------------


def test_a_draft_keeps_the_inputs_the_answer_and_the_versions_of_limits_and_calculation(cast):
    _, version = stretch(cast, products=("SF-17", "SF-23"))
    for row in version.products.all():
        kept = row.calculation
        assert kept.verdict == kept.result["verdict"] == "fits"
        assert {band["end"]: band["wraps"] for band in kept.case["bands"]} == {"operator": 4, "drive": 4}
        assert kept.limits_version and kept.calcs_version
        assert kept.product_version.product == row.product


@pytest.mark.db_both
def test_a_kept_calculation_never_changes(cast):
    _, version = stretch(cast)
    with pytest.raises(IntegrityError), transaction.atomic():
        Calculation.objects.filter(pk=version.products.get().calculation_id).update(verdict="refused")


def test_only_a_person_with_size_drafts_and_the_refusal_names_who_can(cast):
    scene = line_a(cast)
    _ = cast.dara, cast.hanna
    with pytest.raises(Forbidden, match="Dara Whitlow"):
        scene.draft("A05", ["SF-17"], make.stock("T1"), both(600, 792, 4), by=cast.ines)
    assert not RecipeVersion.objects.exists()


def test_tape_that_the_room_does_not_permit_is_refused_at_the_draft(cast):
    scene = line_b(cast)
    with pytest.raises(Refused, match="not permitted in food rooms") as refusal:
        scene.draft("B09", ["BO-20"], make.stock("T1"), both(640, 832, 1))
    assert refusal.value.field == "stock"


def test_a_roller_that_is_never_taped_takes_no_recipe(cast):
    scene = line_a(cast)
    with pytest.raises(Refused, match="never taped"):
        scene.draft("A01", ["SF-17"], make.stock("T1"), both(600, 792, 4))


def test_tape_and_bands_go_together(cast):
    scene = line_a(cast)
    for tape, bands in ((make.stock("T1"), []), (None, both(600, 792, 4))):
        with pytest.raises(Refused, match="go together"):
            scene.draft("A05", ["SF-17"], tape, bands)


def test_bare_is_a_recipe_of_its_own(cast):
    scene = line_a(cast)
    version = scene.recipe("A05", ["SF-17"], None, [])
    assert fresh(version).state == "in force"
    assert version.recipe.kind == "bare"


# --- the author -----------------------------------------------------------------------------------------------


def test_a_recipe_that_breaks_a_hard_limit_cannot_be_signed_with_any_reason(cast):
    scene = line_b(cast)
    version = scene.draft("B09", ["CP-70"], make.stock("T5"), both(640, 840, 4))
    with pytest.raises(Refused, match="breaks a hard limit") as refusal:
        scene.signed(version, {"CP-70": {"edge_ratio": A_REASON, "hold": A_REASON}})
    assert refusal.value.details
    assert fresh(version).state == "draft"


def test_each_caution_needs_its_reason(cast):
    scene = line_c(cast)
    version = scene.draft("C06", ["MN-160"], make.stock("T5"), both(256, 356, 1))
    for reasons in ({}, {"MN-160": {"edge_ratio": "short"}}, {"MN-160": {"another": A_REASON}}):
        with pytest.raises(Refused, match="write why this caution is accepted") as refusal:
            scene.signed(version, reasons)
        assert refusal.value.field == "reason-MN-160-edge_ratio"
    scene.signed(version, {"MN-160": {"edge_ratio": A_REASON}})
    assert fresh(version).reasons == {"MN-160": {"edge_ratio": A_REASON}}


def doubtful(scene, code, product):
    """A tape whose thickness may be larger than nominal: whether it holds cannot be told."""
    tape = make.stock("T5", thickness_min_mm=0.08, thickness_max_mm=0.12)
    return scene.draft(code, [product], tape, both(640, 840, 2))


def test_cannot_tell_is_refused_in_a_food_room_until_it_is_measured(cast):
    scene = line_b(cast)
    version = doubtful(scene, "B09", "BO-20")
    checks = version.products.get().calculation.result["checks"]
    unsure = {check["id"]: A_REASON for check in checks if check["verdict"] == "cannot tell"}
    assert unsure
    every = {check["id"]: A_REASON for check in checks}
    with pytest.raises(Refused, match="must be measured first") as refusal:
        scene.signed(version, {"BO-20": every})
    assert refusal.value.code == "measure-first"


def test_cannot_tell_is_accepted_with_a_reason_in_a_general_room(cast):
    scene = line_b(cast)
    room = scene["B09"].room
    room.classes.update(valid_to=make.AT - timedelta(hours=1))
    RoomClass.objects.create(room=room, kind="general", valid_from=make.AT - timedelta(hours=1))
    version = doubtful(scene, "B09", "BO-20")
    checks = version.products.get().calculation.result["checks"]
    every = {check["id"]: A_REASON for check in checks}
    scene.signed(version, {"BO-20": every})
    assert fresh(version).state == "checked"
    assert "second size" in {needed.meaning for needed in still_needed(fresh(version), make.AT)}


def test_nobody_signs_as_author_for_another(cast):
    _, version = stretch(cast)
    other = make.person("Ada Quill", "engineer", skills="aware size")
    with pytest.raises(Refused, match="Dara Whitlow drafted"):
        check_recipe(version, reasons={}, confirmation=make.confirmation(other))


# --- approving ------------------------------------------------------------------------------------------------


def test_the_author_cannot_approve_the_own_recipe_whatever_roles_the_author_has(cast):
    scene = line_a(cast)
    both_hats = make.person("Edda Roth", "supervisor", "qa", "engineer", skills="aware apply check size")
    version = scene.signed(scene.draft("A05", ["SF-17"], make.stock("T1"), both(600, 792, 4), by=both_hats))
    for meaning in ("approved", "second size", "QA approved"):
        with pytest.raises(Refused, match="cannot approve it") as refusal:
            approve(version, both_hats, meaning)
        assert refusal.value.code == "own-recipe"
    assert fresh(version).state == "checked"


def test_a_draft_is_not_approved_before_its_author_signed(cast):
    _, version = stretch(cast)
    with pytest.raises(Conflict, match="its author has to sign it first"):
        approve(version, cast.hanna)


def test_a_supervisor_brings_a_recipe_into_force_in_a_general_room(cast):
    scene, version = stretch(cast)
    scene.signed(version)
    approve(version, cast.hanna)
    version = fresh(version)
    assert version.state == "in force" and version.in_force_at == make.AT
    assert version.products.get().in_force
    assert set(given_signatures(version)) == {"authored", "approved"}


def test_an_operator_approves_nothing_and_reads_who_can(cast):
    scene, version = stretch(cast)
    scene.signed(version)
    with pytest.raises(Forbidden, match="Hanna Lindqvist can"):
        approve(version, cast.ines)


@pytest.mark.parametrize(
    ("build", "code", "product", "edges"),
    [(line_b, "B09", "BO-20", (640, 840)), (line_c, "C06", "ML-62", (256, 356))],
    ids=["food", "medical"],
)
def test_food_and_medical_rooms_wait_for_qa(cast, build, code, product, edges):
    scene = build(cast)
    version = scene.signed(scene.draft(code, [product], make.stock("T5"), both(*edges, 1)))
    approve(version, cast.hanna)
    assert fresh(version).state == "checked"
    with pytest.raises(Forbidden, match="Yuki Sandoval can"):
        approve(version, cast.sol, "QA approved")
    approve(version, cast.yuki, "QA approved")
    assert fresh(version).state == "in force"


def test_an_accepted_caution_waits_for_a_second_person_with_size(cast):
    scene = line_c(cast)
    version = scene.draft("C06", ["MN-160"], make.stock("T5"), both(256, 356, 1))
    scene.signed(version, {"MN-160": {"edge_ratio": A_REASON}})
    scene.approved(version, qa=True)
    assert fresh(version).state == "checked"
    assert [needed.meaning for needed in still_needed(fresh(version), make.AT)] == ["second size"]
    assert list(open_versions(scene["C06"])) == [version]
    with pytest.raises(Forbidden):
        approve(version, cast.hanna, "second size")
    second = make.person("Ada Quill", "engineer", skills="aware size")
    approve(version, second, "second size")
    assert fresh(version).state == "in force"


def test_one_person_gives_one_signature(cast):
    scene = line_b(cast)
    two_hats = make.person("Otto Brand", "supervisor", "qa", skills="aware")
    version = scene.signed(scene.draft("B09", ["BO-20"], make.stock("T5"), both(640, 840, 1)))
    approve(version, two_hats)
    with pytest.raises(Refused, match="signed this version already"):
        approve(version, two_hats, "QA approved")


def test_a_signature_that_is_not_needed_is_not_taken(cast):
    scene, version = stretch(cast)
    scene.signed(version)
    with pytest.raises(Conflict, match="not needed"):
        approve(version, cast.yuki, "QA approved")


def test_each_signature_stands_for_exactly_this_content(cast):
    scene, version = stretch(cast)
    scene.signed(version)
    approve(version, cast.hanna)
    signatures = Signature.objects.filter(subject_type="recipeversion", subject_id=str(version.pk))
    assert len({signature.digest for signature in signatures}) == 1
    assert {signature.printed_name for signature in signatures} == {"Dara Whitlow", "Hanna Lindqvist"}
    actions = Event.objects.filter(stream="line:A").order_by("seq").values_list("action", flat=True)
    assert list(actions) == ["draft-recipe", "check-recipe", "approve-recipe"]


# --- in force -------------------------------------------------------------------------------------------------


@pytest.mark.db_both
def test_the_database_keeps_one_recipe_in_force_per_position_and_product(cast):
    scene, first = stretch(cast)
    scene.approved(scene.signed(first))
    second = scene.draft("A05", ["SF-17"], make.stock("T1"), both(600, 792, 3), title="another title")
    with pytest.raises(IntegrityError), transaction.atomic():
        RecipeProduct.objects.filter(version=second).update(in_force=True)


@pytest.mark.db_both
def test_a_signed_version_never_changes_and_changing_it_means_the_next_version(cast):
    scene, version = stretch(cast)
    scene.signed(version)
    attempts = [
        lambda: RecipeVersion.objects.filter(pk=version.pk).update(note="other words"),
        lambda: RecipeVersion.objects.filter(pk=version.pk).update(reasons={"SF-17": {}}),
        lambda: RecipeVersion.objects.filter(pk=version.pk).update(state="draft"),
        lambda: Band.objects.filter(version=version).update(wraps=1),
        lambda: Band.objects.filter(version=version).delete(),
        lambda: Band.objects.create(version=version, end="drive", inner_mm=1, outer_mm=2, wraps=1),
        lambda: RecipeProduct.objects.create(
            version=version, product=scene.product("SF-30"), position=scene["A05"], in_force=False
        ),
        lambda: RecipeVersion.objects.filter(pk=version.pk).delete(),
    ]
    for attempt in attempts:
        with pytest.raises(IntegrityError), transaction.atomic():
            attempt()
    following = scene.draft("A05", ["SF-17"], make.stock("T1"), both(600, 792, 3))
    assert (following.recipe, following.number, following.state) == (version.recipe, 2, "draft")
    assert fresh(version).bands.first().wraps == 4


def test_the_next_version_in_force_ends_the_one_before(cast):
    scene, first = stretch(cast)
    scene.approved(scene.signed(first))
    second = scene.recipe("A05", ["SF-17"], make.stock("T1"), both(600, 792, 3))
    first = fresh(first)
    assert first.state == "superseded" and first.ended_at == make.AT
    assert recipes_in_force(scene.product("SF-17"), [scene["A05"]])[scene["A05"].pk].version == second


def test_a_version_that_still_serves_another_product_stays_in_force_for_it(cast):
    scene = line_a(cast)
    wide = scene.recipe("A05", ["SF-17", "SF-23"], make.stock("T1"), both(600, 792, 4))
    own = scene.recipe("A05", ["SF-23"], make.stock("T1"), both(600, 792, 3), title="only 23 µm")
    assert fresh(wide).state == "in force"
    in_force = {
        code: recipes_in_force(scene.product(code), [scene["A05"]])[scene["A05"].pk].version
        for code in ("SF-17", "SF-23")
    }
    assert in_force == {"SF-17": wide, "SF-23": own}


def test_a_withdrawn_recipe_is_out_of_force_at_once_and_says_why(cast):
    scene, version = stretch(cast)
    scene.approved(scene.signed(version))
    with pytest.raises(Refused, match="Say why"):
        withdraw_recipe(version, reason="bad", by=cast.hanna, at=make.AT)
    with pytest.raises(Forbidden):
        withdraw_recipe(version, reason="The film tears at the band edge", by=cast.ines, at=make.AT)
    withdraw_recipe(version, reason="The film tears at the band edge", by=cast.hanna, at=make.AT)
    version = fresh(version)
    assert (version.state, version.end_reason) == ("withdrawn", "The film tears at the band edge")
    assert recipes_in_force(scene.product("SF-17"), [scene["A05"]]) == {}
    with pytest.raises(Conflict, match="withdrawn already"):
        withdraw_recipe(version, reason="The film tears at the band edge", by=cast.hanna, at=make.AT)


# --- what changed since ---------------------------------------------------------------------------------------


def changed(version, **fields):
    names = [
        *("modulus_md_mpa", "thickness_um", "width_min_mm", "width_max_mm", "friction", "modulus_direction"),
        *(f"tension_{word}_n_per_m" for word in ("min", "set", "max")),
        *(f"speed_{word}_m_per_min" for word in ("min", "set", "max")),
    ]
    return {name: getattr(version, name) for name in names} | fields


def test_changed_product_data_asks_for_a_new_computation_before_anybody_signs(cast):
    scene, version = stretch(cast)
    values = changed(scene.versions["SF-17"], modulus_md_mpa=180)
    revise_product(scene.product("SF-17"), values=values, reason="New resin", by=cast.dara, at=make.AT)
    with pytest.raises(Refused, match="data of SF-17 changed") as refusal:
        scene.signed(version)
    assert refusal.value.code == "needs-re-check"


def test_changed_product_data_between_author_and_supervisor_stop_the_approval(cast):
    scene, version = stretch(cast)
    scene.signed(version)
    values = changed(scene.versions["SF-17"], thickness_um=20)
    revise_product(scene.product("SF-17"), values=values, reason="Thicker film", by=cast.dara, at=make.AT)
    with pytest.raises(Refused, match="data of SF-17 changed"):
        approve(version, cast.hanna)
    assert fresh(version).state == "checked"


def test_a_roller_measured_anew_asks_for_a_new_computation(cast):
    scene, version = stretch(cast)
    body = scene["A05"].mountings.get().body
    record_measurement(quantity="diameter_mm", value=116.0, body=body, by=cast.kwame, at=make.AT)
    with pytest.raises(Refused, match="Roller or position A05 changed"):
        scene.signed(version)


def test_copying_to_another_roller_sizes_anew_and_never_takes_the_old_wraps(cast):
    scene = line_b(cast)
    source = scene.recipe("B09", ["BO-20"], make.stock("T5"), both(640, 840, 1))
    room = scene["B09"].room
    place = {"path": scene.path, "room": room, "face_mm": 1750, "roughness_um": 25, "wrap_deg": 95}
    make.position("B20", diameter_mm=80, entry_span_mm=1600, **place)
    make.position("B21", diameter_mm=300, entry_span_mm=1600, **place)
    small, suggestion = copy_to_position(source, scene.step("B20"))
    assert suggestion.formula[0] == pytest.approx(1.25 * 80 / 200, rel=0.01)
    assert all(band.wraps <= 1 for band in small)
    large, suggestion = copy_to_position(source, scene.step("B21"))
    assert suggestion.formula[0] == pytest.approx(1.25 * 300 / 200, rel=0.01)
    assert {band.wraps for band in large} == {2}
    assert {(band.inner_mm, band.outer_mm) for band in large} == {(640, 840)}


# --- two at once ----------------------------------------------------------------------------------------------


@pytest.mark.db_both
@pytest.mark.django_db(transaction=True)
def test_two_people_approving_at_once_both_count_and_nothing_is_lost(cast):
    scene = line_b(cast)
    version = scene.signed(scene.draft("B09", ["BO-20"], make.stock("T5"), both(640, 840, 1)))
    people = [(cast.hanna, "approved"), (cast.yuki, "QA approved")]
    refusals = together(version, people)
    assert refusals == []
    assert fresh(version).state == "in force"
    assert set(given_signatures(fresh(version))) == {"authored", "approved", "QA approved"}


@pytest.mark.db_both
@pytest.mark.django_db(transaction=True)
def test_of_two_supervisors_who_approve_at_once_the_second_reads_that_it_is_done(cast):
    scene, version = stretch(cast)
    scene.signed(version)
    refusals = together(version, [(cast.hanna, "approved"), (cast.babak, "approved")])
    assert len(refusals) == 1 and isinstance(refusals[0], Conflict)
    approvals = Signature.objects.filter(meaning="approved", subject_id=str(version.pk))
    assert approvals.count() == 1
    assert Event.objects.filter(action="approve-recipe").count() == 1


def together(version, people):
    """Let several persons approve at the same moment, each with a connection of the own."""
    start, refusals = threading.Barrier(len(people)), []

    def one(person, meaning):
        try:
            confirmation = make.confirmation(person)
            start.wait(10)
            approve_recipe(version, meaning=meaning, confirmation=confirmation)
        except Refused as refusal:
            refusals.append(refusal)
        finally:
            connection.close()

    threads = [threading.Thread(target=one, args=each) for each in people]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join(30)
    assert not any(thread.is_alive() for thread in threads)
    return refusals


def test_the_same_title_at_the_same_place_is_the_next_version_of_one_recipe(cast):
    scene, first = stretch(cast)
    second = draft_recipe(
        step=scene.step("A05"),
        title=" tape ",
        products=[scene.product("SF-17")],
        stock=make.stock("T1"),
        bands=[TypedBand("operator", 600, 792, 2), TypedBand("drive", 600, 792, 2)],
        by=cast.dara,
        at=make.AT,
    )
    assert (second.recipe_id, second.number) == (first.recipe_id, 2)
