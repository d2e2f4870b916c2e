"""No way round the record of tape: what is on a roller, or missing from it, is cleared by removal and count only."""

import pytest

from plant.errors import Refused
from rollers.readiness import readiness
from rollers.services.looking import report_found_tape
from rollers.services.mountings import unmount
from rollers.services.surveys import close_survey, record_seen, start_survey
from tests import make
from tests.rollers.scenes import both, line_a, now

pytestmark = pytest.mark.django_db


def surveyed_line(cast):
    """Line A in a room whose go-live survey is closed; A05 taped, eight pieces."""
    scene = line_a(cast)
    survey = start_survey(scene["A05"].room, by=cast.hanna, at=make.AT)
    for code in ("A01", "A05", "A08"):
        record_seen(survey, scene[code], state="bare", by=cast.ines, at=make.AT)
    close_survey(survey, confirmation=make.confirmation(cast.yuki))
    version = scene.recipe("A05", ["SF-17"], make.stock("T1"), both(600, 792, 4))
    scene.sheet("SF-17", A05=version)
    scene.tape("A05", version, by=cast.ines)
    return scene, version


def take_off(scene, cast, pieces):
    return scene.take_off("A05", pieces, by=cast.ines)


def blocks(scene):
    found = readiness(scene.path, scene.versions["SF-17"], at=make.AT)
    return [(block.code, block.sentence.partition(":")[0]) for block in found.blocks]


@pytest.mark.parametrize("state", ["bare", "unknown"])
@pytest.mark.parametrize("removed", [0, 7])
def test_a_further_survey_does_not_wipe_out_recorded_tape_or_a_missing_piece(cast, state, removed):
    scene, _ = surveyed_line(cast)
    if removed:
        take_off(scene, cast, removed)
    again = start_survey(scene["A05"].room, by=cast.hanna, at=make.AT)
    with pytest.raises(Refused, match="remove"):
        record_seen(again, scene["A05"], state=state, by=cast.ines, at=make.AT)


def test_a_further_survey_does_not_make_a_partial_roller_whole(cast):
    scene, version = surveyed_line(cast)
    take_off(scene, cast, 7)
    again = start_survey(scene["A05"].room, by=cast.hanna, at=make.AT)
    with pytest.raises(Refused, match="remove"):
        record_seen(
            again, scene["A05"], state="taped", text="crepe", version=version, pieces=8, by=cast.ines, at=make.AT
        )


def test_a_survey_does_not_change_the_recorded_count_of_pieces(cast):
    scene, version = surveyed_line(cast)
    again = start_survey(scene["A05"].room, by=cast.hanna, at=make.AT)
    with pytest.raises(Refused, match="8 pieces"):
        record_seen(
            again, scene["A05"], state="taped", text="crepe", version=version, pieces=7, by=cast.ines, at=make.AT
        )


def test_unrecorded_tape_is_no_survey_entry_once_the_room_was_surveyed(cast):
    scene, _ = surveyed_line(cast)
    again = start_survey(scene["A05"].room, by=cast.hanna, at=make.AT)
    with pytest.raises(Refused, match="found tape"):
        record_seen(again, scene["A08"], state="taped", text="one lane", pieces=1, by=cast.ines, at=make.AT)
    assert record_seen(again, scene["A08"], state="bare", by=cast.ines, at=make.AT).state == "bare"


def test_reporting_found_tape_does_not_lift_the_block_of_a_partial_roller(cast):
    scene, _ = surveyed_line(cast)
    take_off(scene, cast, 7)
    assert ("partial", "A05") in blocks(scene)
    report_found_tape(scene["A05"], what="a lane at the drive end", by=cast.ines, at=now(scene["A05"]))
    assert ("unknown", "A05") in blocks(scene)


def test_pieces_on_record_are_still_counted_off_after_found_tape(cast):
    scene, _ = surveyed_line(cast)
    report_found_tape(scene["A05"], what="one lane more", by=cast.ines, at=now(scene["A05"]))
    fact = take_off(scene, cast, 1)
    assert (fact.state, fact.pieces) == ("partial", 7)
    assert take_off(scene, cast, 7).state == "bare"


def test_found_tape_does_not_leave_with_a_look_at_the_roller(cast):
    scene, _ = surveyed_line(cast)
    report_found_tape(scene["A08"], what="one lane", by=cast.ines, at=make.AT)
    with pytest.raises(Refused, match="removal"):
        unmount(scene["A08"], to="spare", by=cast.kwame, at=make.AT, looked_bare=True)


def test_tape_without_a_recipe_is_never_passed_over_in_silence(cast):
    scene = line_a(cast)
    survey = start_survey(scene["A05"].room, by=cast.hanna, at=make.AT)
    record_seen(survey, scene["A05"], state="taped", text="some crepe", pieces=8, by=cast.ines, at=make.AT)
    row = next(
        r for r in readiness(scene.path, scene.versions["SF-17"], at=make.AT).positions if r.position.code == "A05"
    )
    assert "no-recipe" in [finding.code for finding in row.findings]
