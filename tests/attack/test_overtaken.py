"""What was right when it was signed and is not any more: asked again at every later step."""

from datetime import date, timedelta

import pytest

from plant.errors import Conflict, Refused
from plant.floor.models import ProductVersion, RoomClass
from plant.people.models import Role
from plant.people.services import end_role, leave
from rollers.models import TapeStock
from rollers.readiness import readiness
from rollers.services.applications import begin_application
from rollers.services.approving import approve_recipe
from rollers.services.calculations import set_limits
from tests import make
from tests.rollers.scenes import both, line_a, line_b, taped_b

pytestmark = pytest.mark.django_db
YESTERDAY = date(2026, 3, 24)


def approve(scene, version):
    return approve_recipe(version, meaning="approved", confirmation=make.confirmation(scene.cast.hanna))


def tighten(cast):
    """Limits by which four wraps on A05 are refused."""
    set_limits(
        {"edge_ratio": {"caution": 1.05, "refuse": 1.1}},
        reason="trial on line A broke edges",
        engineer=make.confirmation(cast.dara),
        qa=make.confirmation(cast.yuki),
        at=make.AT,
    )


def make_food(scene, code):
    room = scene[code].room
    RoomClass.objects.filter(room=room).update(valid_to=make.AT - timedelta(hours=1))
    RoomClass.objects.create(room=room, kind="food", valid_from=make.AT - timedelta(hours=1))


def test_a_recipe_judged_by_older_limits_is_not_approved(cast):
    scene = line_a(cast)
    version = scene.signed(scene.draft("A05", ["SF-17"], make.stock("T1"), both(600, 792, 4)))
    tighten(cast)
    with pytest.raises(Refused, match="limits changed"):
        approve(scene, version)


def test_a_recipe_is_not_approved_in_a_room_that_no_longer_permits_its_tape(cast):
    scene = line_a(cast)
    version = scene.signed(scene.draft("A05", ["SF-17"], make.stock("T1"), both(600, 792, 4)))
    make_food(scene, "A05")
    with pytest.raises(Refused, match="not permitted in food rooms"):
        approve(scene, version)


def test_tape_on_a_roller_whose_room_no_longer_permits_it_stops_the_release(cast):
    scene = line_a(cast)
    version = scene.recipe("A05", ["SF-17"], make.stock("T1"), both(600, 792, 4))
    scene.sheet("SF-17", A05=version)
    scene.tape("A05", version, by=cast.ines, checker=cast.dara)
    make_food(scene, "A05")
    blocks = readiness(scene.path, scene.versions["SF-17"], at=make.AT).blocks
    assert ("stock", "A05") in [(block.code, block.sentence[:3]) for block in blocks]


def test_tape_whose_contact_statement_ended_is_neither_drafted_nor_applied_nor_released_in_a_food_room(cast):
    scene, nine, _ = taped_b(cast)
    TapeStock.objects.filter(code="T5").update(contact_statement="letter 7", contact_statement_ends=YESTERDAY)
    ProductVersion.objects.update(contact_side="A")
    stock = TapeStock.objects.get(code="T5")
    with pytest.raises(Refused, match="contact statement ended"):
        scene.draft("B12", ["BO-20"], stock, both(640, 840, 1))
    nine.refresh_from_db()
    with pytest.raises(Refused, match="contact statement ended"):
        begin_application(scene["B09"], nine, step=scene.step("B09"), by=cast.tomas, at=make.AT)
    version = scene.versions["BO-20"]
    version.refresh_from_db()
    assert "stock" in [block.code for block in readiness(scene.path, version, at=make.AT).blocks]


def test_tape_on_the_side_that_touches_the_product_needs_a_contact_statement_in_a_food_room(cast):
    scene = line_b(cast)
    ProductVersion.objects.update(contact_side="A")
    make.stock("T5", contact_statement="", contact_statement_ends=None)
    with pytest.raises(Refused, match="contact side"):
        scene.draft("B09", ["BO-20"], make.stock("T5"), both(640, 840, 1))
    TapeStock.objects.update(contact_statement="letter 7", contact_statement_ends=date(2026, 12, 31))
    assert scene.draft("B09", ["BO-20"], make.stock("T5"), both(640, 840, 1)).state == "draft"
    ProductVersion.objects.update(contact_side="B")
    TapeStock.objects.update(contact_statement="", contact_statement_ends=None)
    assert scene.draft("B09", ["BO-20"], make.stock("T5"), both(640, 840, 1)).state == "draft"


def test_a_recipe_withdrawn_since_the_page_was_opened_is_not_applied(cast):
    scene = line_a(cast)
    version = scene.recipe("A05", ["SF-17"], make.stock("T1"), both(600, 792, 4))
    type(version).objects.filter(pk=version.pk).update(state="withdrawn")
    assert version.state == "in force"  # as the page had it
    with pytest.raises((Refused, Conflict), match="not a taped recipe in force"):
        begin_application(scene["A05"], version, step=scene.step("A05"), by=cast.ines, at=make.AT)


def test_the_last_system_keeper_cannot_be_taken_away(cast):
    keeper = cast.keeper
    with pytest.raises(Refused, match="last system keeper"):
        end_role(keeper, Role.KEEPER, by=keeper, at=make.AT, reason="moves on")
    with pytest.raises(Refused, match="last system keeper"):
        leave(keeper, leaves_at=make.AT, reason="moves on", by=keeper, at=make.AT)
    make.person("Ada Falk", "keeper")
    end_role(keeper, Role.KEEPER, by=keeper, at=make.AT, reason="moves on")
