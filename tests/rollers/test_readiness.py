"""May this line run this product now? Every reason why not, by position."""

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from plant.floor.models import PathStep
from plant.floor.services import revise_product
from plant.floor.services.paths import Step, draw_path
from rollers.cases import SetPoints
from rollers.models import Mounting, RecipeVersion
from rollers.readiness import readiness
from rollers.rules import Weight, deciding_check
from rollers.services.approving import approve_recipe
from rollers.services.bodies import enter_body, record_measurement
from rollers.services.looking import report_found_tape
from rollers.services.mountings import swap_body, turn_body
from rollers.services.recipes import withdraw_recipe
from rollers.services.surveys import close_survey, record_seen, start_survey
from tests import make
from tests.rollers.scenes import Scene, both, line_a, line_b, line_c, taped_b
from tests.rollers.test_recipes import changed

pytestmark = pytest.mark.django_db


def answer(scene: Scene, product: str, path=None, **fields):
    version = scene.product(product).versions.get(current=True)
    return readiness(path or scene.path, version, at=make.AT, **fields)


def at(scene: Scene, product: str, code: str, path=None):
    """The row of one position."""
    return next(row for row in answer(scene, product, path).positions if row.position.code == code)


def said(row):
    """Code and weight of what is said about a position."""
    return [(found.code, str(found.weight)) for found in row.findings]


def off(scene, code, pieces, *, by, residue=False):
    scene.take_off(code, pieces, by=by, residue=residue)


def running_stretch(cast, checker="dara"):
    scene = line_a(cast)
    version = scene.recipe("A05", ["SF-17", "SF-23", "SF-30"], make.stock("T1"), both(600, 792, 4))
    for product in scene.versions:
        scene.sheet(product, A05=version)
    scene.tape("A05", version, by=cast.ines, checker=getattr(cast, checker) if checker else None)
    return scene, version


# --- decided, undecided, bare ---------------------------------------------------------------------------------


def test_undecided_is_said_in_a_general_room_and_is_not_bare(cast):
    scene = line_a(cast)
    assert said(at(scene, "SF-17", "A05")) == [("undecided", "caution")]
    assert "Undecided is not bare" in at(scene, "SF-17", "A05").findings[0].sentence
    assert answer(scene, "SF-17").may_run


@pytest.mark.parametrize(("build", "product", "code"), [(line_b, "BO-20", "B09"), (line_c, "ML-62", "C06")])
def test_undecided_blocks_where_people_eat_or_heal(cast, build, product, code):
    scene = build(cast)
    assert said(at(scene, product, code)) == [("undecided", "block")]
    assert not answer(scene, product).may_run


def test_a_sheet_that_leaves_all_bare_makes_a_bare_line_ready(cast):
    scene = line_b(cast)
    scene.sheet("CP-70")
    found = answer(scene, "CP-70")
    assert found.may_run and [row.word for row in found.positions] == ["ready"] * 4
    assert found.sheet_label == "product sheet v1"


def test_positions_that_are_never_taped_are_bare_without_any_sheet(cast):
    scene = line_b(cast)
    assert said(at(scene, "BO-20", "B11")) == []


def test_a_bare_roller_that_must_carry_tape_asks_for_it(cast):
    scene = line_a(cast)
    version = scene.recipe("A05", ["SF-17"], make.stock("T1"), both(600, 792, 4))
    scene.sheet("SF-17", A05=version)
    row = at(scene, "SF-17", "A05")
    assert (said(row), row.action) == ([("apply", "block")], "apply")
    assert row.findings[0].sentence.startswith("A05: put on T1 × 4, both ends")


# --- the proof of the tape ------------------------------------------------------------------------------------


def test_measured_tape_runs_in_a_general_room_and_its_check_may_follow(cast):
    scene, _ = running_stretch(cast, checker=None)
    assert ("not-checked", "notice") in said(at(scene, "SF-17", "A05"))
    assert answer(scene, "SF-17").may_run


def test_unchecked_tape_blocks_in_a_food_room(cast):
    scene = line_b(cast)
    nine = scene.recipe("B09", ["BO-20"], make.stock("T5"), both(640, 840, 1))
    scene.sheet("BO-20", B09=nine)
    scene.tape("B09", nine, by=cast.tomas)
    row = at(scene, "BO-20", "B09")
    assert ("not-checked", "block") in said(row)
    assert row.blocks[0].who == "a second person with Check for this room"


def test_checked_tape_is_ready_and_kept(cast):
    scene, _, _ = taped_b(cast)
    found = answer(scene, "BO-35")
    assert found.may_run
    assert {row.position.code: row.action for row in found.positions} == dict.fromkeys(
        ("B04", "B09", "B11", "B12"), "keep"
    )


# --- what is on it --------------------------------------------------------------------------------------------


def test_one_of_two_bands_off_blocks_as_partial(cast):
    scene, _ = running_stretch(cast)
    off(scene, "A05", 4, by=cast.ines)
    row = at(scene, "SF-17", "A05")
    assert said(row) == [("partial", "block")]
    assert "4 pieces left" in row.findings[0].sentence


def test_residue_blocks_where_tape_goes_on_and_in_strict_rooms(cast):
    scene, nine, _four = taped_b(cast)
    off(scene, "B04", 3, by=cast.tomas, residue=True)
    assert ("residue", "block") in said(at(scene, "BO-35", "B04"))
    assert ("residue", "block") in said(at(scene, "CP-70", "B04"))
    assert nine


def test_residue_on_a_bare_position_of_a_general_room_is_said(cast):
    scene, _ = running_stretch(cast)
    off(scene, "A05", 8, by=cast.ines, residue=True)
    scene.sheet("SF-17")
    assert said(at(scene, "SF-17", "A05")) == [("residue", "caution")]


@pytest.mark.parametrize(
    ("build", "product", "code", "weight"),
    [(line_a, "SF-17", "A08", "caution"), (line_b, "CP-70", "B12", "block")],
)
def test_a_roller_nobody_knows_about_blocks_in_strict_rooms_and_is_said_elsewhere(cast, build, product, code, weight):
    scene = build(cast)
    scene.sheet(product)
    body = enter_body(serial="R-900", face_mm=1800, roughness_um=25, diameter_mm=160, by=cast.kwame, at=make.AT)
    swap_body(scene[code], body, to="spare", by=cast.kwame, at=make.AT)
    assert said(at(scene, product, code)) == [("unknown", weight)]


def test_a_position_without_a_roller_blocks_and_names_maintenance(cast):
    scene = line_a(cast)
    scene.sheet("SF-17")
    Mounting.objects.filter(position=scene["A08"]).update(removed_at=make.AT)
    row = at(scene, "SF-17", "A08")
    assert said(row) == [("no-body", "block")]
    assert row.blocks[0].who == "maintenance"


def test_found_tape_after_the_survey_leaves_the_roller_unknown(cast):
    scene = line_b(cast)
    scene.sheet("CP-70")
    survey = start_survey(scene["B12"].room, by=cast.hanna, at=make.AT)
    for code in ("B04", "B09", "B11", "B12"):
        record_seen(survey, scene[code], state="bare", by=cast.tomas, at=make.AT)
    close_survey(survey, confirmation=make.confirmation(cast.yuki))
    report_found_tape(scene["B12"], what="blue film, operator end", by=cast.tomas, at=make.AT)
    assert said(at(scene, "CP-70", "B12")) == [("unknown", "block")]


# --- turned, reversed, rethreaded -----------------------------------------------------------------------------


def test_a_taped_roller_turned_end_for_end_is_not_compliant(cast):
    scene, _, _ = taped_b(cast)
    turn_body(scene["B04"], by=cast.kwame, at=make.AT)
    row = at(scene, "BO-35", "B04")
    assert ("not-compliant", "block") in said(row)
    sentence = next(found.sentence for found in row.findings if found.code == "not-compliant")
    assert "turned end for end" in sentence and "one-end tape is at the wrong end" in sentence
    turn_body(scene["B04"], by=cast.kwame, at=make.AT)
    assert ("not-compliant", "block") not in said(at(scene, "BO-35", "B04"))


def rethreaded(scene, cast, code, **changes):
    steps = []
    for step in scene.path.steps.select_related("position").order_by("order"):
        values = {name: getattr(step, name) for name in ("wrap_deg", "rotation", "web_side", "entry_span_mm")}
        steps.append(Step(step.position, **values | (changes if step.position.code == code else {})))
    return draw_path(scene.path.line, name="other way", steps=steps, by=cast.dara, at=make.AT)


def test_another_path_that_turns_the_roller_the_other_way_makes_its_tail_lead(cast):
    scene, nine, _ = taped_b(cast)
    path = rethreaded(scene, cast, "B09", rotation=PathStep.Rotation.CLOCKWISE)
    row = at(scene, "BO-20", "B09", path)
    assert ("not-compliant", "block") in said(row)
    assert any("the tail leads" in found.sentence for found in row.findings)
    assert nine.bands.count() == 2


def test_another_wrap_angle_is_judged_anew(cast):
    scene, _, _ = taped_b(cast)
    path = rethreaded(scene, cast, "B09", wrap_deg=40)
    assert ("refused", "block") in said(at(scene, "BO-20", "B09", path))


# --- mechanics ------------------------------------------------------------------------------------------------


def test_a_narrow_web_whose_edge_rides_the_step_blocks_under_that_name(cast):
    scene, _, _ = taped_b(cast)
    scene.sheet("CP-110")
    row = at(scene, "CP-110", "B09")
    assert said(row) == [("edge-on-step", "block")]
    assert row.action == "remove"


def test_a_narrow_web_inside_the_bands_is_a_notice_and_no_block(cast):
    scene, _ = running_stretch(cast)
    row = at(scene, "SF-30", "A05")
    assert row.word == "ready" and row.action == "keep"
    notices = [found.sentence for found in row.notices]
    assert any("not touched" in notice or "no effect" in notice for notice in notices), notices


def test_tape_at_one_end_gives_a_notice_that_the_web_steers_to_that_end(cast):
    scene, _, _ = taped_b(cast)
    notices = [found.sentence for found in at(scene, "BO-35", "B04").notices]
    assert any("steer" in notice and "operator" in notice for notice in notices), notices


def test_tape_left_on_for_a_product_that_runs_bare_must_come_off_with_the_reason(cast):
    scene, _, _ = taped_b(cast)
    found = answer(scene, "CP-70")
    assert [(block.code, block.sentence.split(":")[0]) for block in found.blocks] == [
        ("remove", "B04"),
        ("remove", "B09"),
    ]
    assert "2.4" in at(scene, "CP-70", "B09").findings[0].sentence


def test_a_caution_accepted_in_the_recipe_is_a_notice_another_one_is_a_caution(cast):
    scene = line_c(cast)
    version = scene.draft("C06", ["MN-160"], make.stock("T5"), both(256, 356, 1))
    scene.signed(version, {"MN-160": {"edge_ratio": "Kept so that lids and pouches share a tape"}})
    scene.approved(version, qa=True)
    second = make.person("Ada Quill", "engineer", skills="aware size")
    approve_recipe(version, meaning="second size", confirmation=make.confirmation(second))
    scene.sheet("MN-160", C06=RecipeVersion.objects.get(pk=version.pk))
    scene.tape("C06", RecipeVersion.objects.get(pk=version.pk), by=cast.mei, checker=cast.yuki)
    row = at(scene, "MN-160", "C06")
    assert ("caution", "notice") in said(row) and row.word == "ready"
    assert any("Accepted with a reason" in found.sentence for found in row.findings)


def test_set_points_outside_the_window_are_judged_as_well(cast):
    scene, _, _ = taped_b(cast)
    row = next(
        row for row in answer(scene, "BO-20", set_points=SetPoints(40, 250)).positions if row.position.code == "B09"
    )
    assert ("refused", "block") in said(row)


# --- what changed ---------------------------------------------------------------------------------------------


def test_changed_product_data_ask_for_a_re_check_and_block_in_strict_rooms(cast):
    scene, _, _ = taped_b(cast)
    values = changed(scene.versions["BO-20"], modulus_md_mpa=1990)
    revise_product(scene.product("BO-20"), values=values, reason="New tests", by=cast.dara, at=make.AT)
    assert ("needs-re-check", "block") in said(at(scene, "BO-20", "B09"))


def test_changed_product_data_are_said_in_a_general_room(cast):
    scene, _ = running_stretch(cast)
    values = changed(scene.versions["SF-17"], modulus_md_mpa=121)
    revise_product(scene.product("SF-17"), values=values, reason="New tests", by=cast.dara, at=make.AT)
    assert ("needs-re-check", "caution") in said(at(scene, "SF-17", "A05"))
    assert answer(scene, "SF-17").may_run


def test_a_roller_ground_down_is_judged_by_its_new_diameter(cast):
    scene, _, _ = taped_b(cast)
    body = scene["B09"].mountings.get().body
    record_measurement(quantity="diameter_mm", value=80.0, body=body, by=cast.kwame, at=make.AT)
    row = at(scene, "BO-20", "B09")
    assert row.case["roller"]["diameter_mm"] == 80.0
    assert ("refused", "block") in said(row) or row.cautions


def test_a_sheet_that_names_a_recipe_no_longer_in_force_blocks(cast):
    scene, version = running_stretch(cast)
    withdraw_recipe(version, reason="Marks at the band edge", by=cast.hanna, at=make.AT)
    row = at(scene, "SF-17", "A05")
    assert ("sheet-outdated", "block") in said(row)


def test_other_tape_than_the_product_asks_for_blocks_and_names_both(cast):
    scene, _ = running_stretch(cast)
    three = scene.recipe("A05", ["SF-23"], make.stock("T1"), both(600, 792, 3), title="three wraps")
    scene.sheet("SF-23", A05=three)
    row = at(scene, "SF-23", "A05")
    assert ("other-recipe", "block") in said(row) and row.action == "change"
    sentence = next(found.sentence for found in row.findings if found.code == "other-recipe")
    assert "T1 × 4" in sentence and "T1 × 3" in sentence


# --- the whole path -------------------------------------------------------------------------------------------


def test_positions_off_the_path_are_listed_and_do_not_block(cast):
    scene, _, _ = taped_b(cast)
    kept = [
        Step(step.position, step.wrap_deg, step.rotation, step.web_side, step.entry_span_mm)
        for step in scene.path.steps.select_related("position").order_by("order")
        if step.position.code != "B04"
    ]
    path = draw_path(scene.path.line, name="past B04", steps=kept, by=cast.dara, at=make.AT)
    found = answer(scene, "CP-70", path)
    assert [row.position.code for row in found.others] == ["B04"]
    assert {block.sentence.split(":")[0] for block in found.blocks} == {"B09", "B12"}
    assert found.others[0].on.state == "taped"


def test_a_product_that_is_not_permitted_on_the_line_blocks_the_line(cast):
    scene = line_a(cast)
    stranger = make.product(
        "BO-99", make.line("Z"), width=1600, thickness=20, modulus=2000, tension=120, speed=250, friction=0.3
    )
    found = readiness(scene.path, stranger, at=make.AT)
    assert [block.code for block in found.line_blocks] == ["product-not-on-line"]


def test_every_block_says_who_clears_it(cast):
    scene, _, _ = taped_b(cast)
    for product in ("CP-70", "CP-110", "BO-20"):
        for block in answer(scene, product).blocks:
            assert block.weight == Weight.BLOCK and block.who


def test_the_number_of_queries_does_not_grow_with_the_rollers(cast):
    scene, _, _ = taped_b(cast)

    def queries():
        with CaptureQueriesContext(connection) as caught:
            answer(scene, "BO-20")
        return len(caught)

    before = queries()
    for number in range(20, 32):
        place = {"path": scene.path, "room": scene["B09"].room, "face_mm": 1750, "roughness_um": 25}
        make.position(f"B{number}", diameter_mm=160, wrap_deg=70, entry_span_mm=900, **place)
    assert queries() == before


def test_the_check_named_behind_a_verdict_is_the_nearest_figure_not_the_kind_of_roller(cast):
    scene, _ = running_stretch(cast)
    result = at(scene, "SF-17", "A05").result
    named = deciding_check(result)
    nearest = min(check["margin"] / check["limit"] for check in result["checks"] if check["margin"] and check["limit"])
    assert named["id"] != "kind"
    assert named["margin"] / named["limit"] == pytest.approx(nearest)
