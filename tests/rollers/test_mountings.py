"""A body at a position in time: never in two places, never taken out with tape on."""

from datetime import timedelta
from typing import Any

import pytest
from django.db import IntegrityError, transaction

from plant.errors import Forbidden, Refused
from rollers.models import Body, Mounting, TapeFact
from rollers.queries_registry import mounted_at, tape_state
from rollers.services.mountings import mount, swap_body, turn_body, unmount
from tests import make
from tests.conftest import Cast
from tests.make import AT

pytestmark = [pytest.mark.django_db, pytest.mark.db_both]


@pytest.fixture
def floor(cast: Cast) -> Any:
    line, room = make.line("B"), make.room("F1", "food")
    path = make.web_path(line)
    return {code: make.position(code, path=path, room=room) for code in ("B01", "B09")}


def closed_survey(cast: Cast, room: Any) -> None:
    room.surveys.create(opened_at=AT - timedelta(days=2), opened_by=cast.yuki, closed_at=AT - timedelta(days=1))


def taped(cast: Cast, body: Body, state: str = "taped") -> None:
    TapeFact.objects.create(body=body, kind="applied", at=AT, recorded_at=AT, by=cast.tomas, state=state)


def test_a_swap_keeps_the_recipe_place_and_moves_the_bodies(cast: Cast, floor: Any) -> None:
    spare = make.body("SP-1")
    before = mounted_at(floor["B09"])
    made = swap_body(floor["B09"], spare, to="grinding", looked_bare=True, by=cast.kwame, at=AT)
    assert before is not None
    before.refresh_from_db()
    assert (before.removed_at, before.body.whereabouts) == (AT, "grinding")
    assert mounted_at(floor["B09"]) == made and made.body.whereabouts == "mounted"
    assert tape_state(made.body) == "bare"


def test_the_incoming_roller_is_known_once_the_room_is_surveyed(cast: Cast, floor: Any) -> None:
    spare = make.body("SP-1")
    closed_survey(cast, floor["B09"].room)
    with pytest.raises(Refused, match="not known what is on roller SP-1"):
        swap_body(floor["B09"], spare, to="spare", by=cast.kwame, at=AT)
    swap_body(floor["B09"], spare, to="spare", looked_bare=True, by=cast.kwame, at=AT)


@pytest.mark.parametrize("state", ["taped", "partial", "residue"])
def test_a_roller_with_tape_or_residue_does_not_leave_its_place(cast: Cast, floor: Any, state: str) -> None:
    mounting = mounted_at(floor["B09"])
    assert mounting is not None
    taped(cast, mounting.body, state)
    for act in (
        lambda: unmount(floor["B09"], to="grinding", by=cast.kwame, at=AT),
        lambda: swap_body(floor["B09"], make.body("SP-1"), to="spare", by=cast.kwame, at=AT),
        lambda: unmount(floor["B09"], to="spare", looked_bare=True, by=cast.kwame, at=AT),
    ):
        with pytest.raises(Refused, match="leaves its place bare"):
            act()
    assert mounted_at(floor["B09"]) == mounting


def test_looking_does_not_make_a_taped_spare_bare(cast: Cast, floor: Any) -> None:
    spare = make.body("SP-1")
    taped(cast, spare)
    unmount(floor["B09"], to="spare", by=cast.kwame, at=AT)
    with pytest.raises(Refused, match="looking does not make it bare"):
        mount(spare, floor["B09"], looked_bare=True, by=cast.kwame, at=AT)


def test_turned_end_for_end_is_a_new_mounting_and_turning_back_another(cast: Cast, floor: Any) -> None:
    make_at = AT + timedelta(minutes=5)
    assert turn_body(floor["B01"], by=cast.kwame, at=AT).orientation == "flipped"
    assert turn_body(floor["B01"], by=cast.kwame, at=make_at).orientation == "normal"
    assert Mounting.objects.filter(position=floor["B01"]).count() == 3


def test_what_cannot_be_mounted_says_why(cast: Cast, floor: Any) -> None:
    spare, scrapped = make.body("SP-1"), make.body("SC-1")
    scrapped.whereabouts = "scrapped"
    scrapped.save()
    there = mounted_at(floor["B01"])
    assert there is not None
    with pytest.raises(Refused, match="B09 holds roller R-B09"):
        mount(spare, floor["B09"], by=cast.kwame, at=AT)
    unmount(floor["B09"], to="spare", by=cast.kwame, at=AT)
    for body, changes, match in (
        (there.body, {}, "sits at B01"),
        (scrapped, {}, "scrapped"),
        (spare, {"orientation": "left"}, "normal"),
        (spare, {"when": AT + timedelta(hours=1)}, "future"),
        (spare, {"when": AT - timedelta(days=9)}, "was taken"),
    ):
        with pytest.raises(Refused, match=match):
            mount(body, floor["B09"], **{"by": cast.kwame, "at": AT} | changes)
    with pytest.raises(Forbidden, match="maintenance"):
        mount(spare, floor["B09"], by=cast.ines, at=AT)
    with pytest.raises(Refused, match="No roller is recorded"):
        unmount(floor["B09"], to="spare", by=cast.kwame, at=AT)


def test_a_roller_is_not_taken_out_before_it_was_put_in(cast: Cast, floor: Any) -> None:
    turn_body(floor["B01"], by=cast.kwame, at=AT)
    with pytest.raises(Refused, match="not mounted yet"):
        unmount(floor["B01"], to="spare", when=AT - timedelta(hours=1), by=cast.kwame, at=AT)


def test_the_database_itself_refuses_a_roller_in_two_places_at_a_time(cast: Cast, floor: Any) -> None:
    spare = make.body("SP-1")
    past = {"mounted_at": AT - timedelta(days=30), "removed_at": AT - timedelta(days=20)}
    for fields in (
        {"body": spare, "position": floor["B09"], **past},
        {"body": spare, "position": floor["B09"], "mounted_at": AT},
    ):
        with pytest.raises(IntegrityError), transaction.atomic():
            Mounting.objects.create(**fields)
    free = make.web_path(make.line("X"))
    other = make.position("X01", path=free, room=floor["B09"].room)
    Mounting.objects.filter(position=other).update(removed_at=AT)
    Mounting.objects.create(body=spare, position=other, mounted_at=AT)
    with pytest.raises(IntegrityError), transaction.atomic():
        Mounting.objects.filter(body=spare).update(mounted_at=AT - timedelta(days=1))


def test_a_taped_place_takes_no_roller_of_unknown_diameter(cast: Cast, floor: Any) -> None:
    spare = make.body("SP-1")
    spare.diameter_mm = None
    spare.save()
    make_recipe_in_force(cast, floor["B09"])
    with pytest.raises(Refused, match="diameter of roller SP-1 is not known"):
        swap_body(floor["B09"], spare, to="spare", looked_bare=True, by=cast.kwame, at=AT)


def make_recipe_in_force(cast: Cast, position: Any) -> None:
    version = make.product(
        "BO-20", position.line, width=1600, thickness=20, modulus=2000, tension=120, speed=250, friction=0.3
    )
    recipe = position.recipes.create(title="edges", kind="taped")
    drafted = recipe.versions.create(
        number=1, step=position.steps.get(), author=cast.dara, drafted_at=AT, state="draft"
    )
    row = drafted.products.create(product=version.product, position=position)
    row.in_force = True
    row.save()
