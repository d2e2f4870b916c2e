"""Tape stocks: what a kind of tape is, and in which rooms it may be."""

from datetime import date
from typing import Any

import pytest

from calcs import case
from plant.audit.models import Event
from plant.errors import Forbidden, Refused
from plant.web.quantities import Typed, typed_of
from rollers.models import TapeStock
from rollers.services.stocks import STOCK_BOUNDS, change_stock, enter_stock
from tests.conftest import Cast
from tests.make import AT

pytestmark = pytest.mark.django_db
CREPE: dict[str, Any] = {"thickness_mm": 0.14, "width_mm": 48, "roughness_um": 25, "room_kinds": ["general"]}


def enter(cast: Cast, by: Any = None, **changes: Any) -> TapeStock:
    return enter_stock(code="T1", name="crepe", values=CREPE | changes, by=by or cast.dara, at=AT)


@pytest.mark.db_both
def test_a_stock_keeps_what_was_typed(cast: Cast) -> None:
    made = enter(cast, thickness_mm=Typed("5.50", "mil"), max_temp_c=Typed("176", "°F"), max_life_days=7)
    made.refresh_from_db()
    assert (made.thickness_mm, made.max_temp_c, made.room_kinds) == (0.1397, 80.0, ["general"])
    assert typed_of(made, "thickness_mm") == Typed("5.50", "mil")


def test_food_and_medical_rooms_are_allowed_by_qa_only(cast: Cast) -> None:
    assert cast.yuki
    with pytest.raises(Forbidden, match="Yuki Sandoval"):
        enter(cast, room_kinds=["general", "food"])
    made = enter(cast)
    wider = CREPE | {"room_kinds": ["food", "general"]}
    with pytest.raises(Forbidden):
        change_stock(made, name="crepe", values=wider, reason="asked", by=cast.dara, at=AT)
    changed = change_stock(made, name="crepe", values=wider, reason="statement came", by=cast.yuki, at=AT)
    assert changed.room_kinds == ["general", "food"]
    # Whoever changes another figure later does not need QA again.
    change_stock(changed, name="crepe", values=wider | {"width_mm": 50}, reason="lot", by=cast.dara, at=AT)
    assert Event.objects.filter(action="change-stock").count() == 2


@pytest.mark.parametrize(
    ("field", "value", "match"),
    [
        ("thickness_mm", -0.1, "outside 0.03 to 0.3 mm"),
        ("thickness_mm", float("inf"), "not a finite number"),
        ("width_mm", None, "width of the tape is missing"),
        ("roughness_um", Typed("rough", "um"), "not a number"),
        ("room_kinds", [], "in which rooms"),
        ("room_kinds", ["kitchen"], "no room class"),
        ("thickness_min_mm", 0.2, "outside its own lowest"),
        ("max_life_days", 0, "1 to 3650"),
    ],
)
def test_a_bad_field_is_refused_by_name(cast: Cast, field: str, value: Any, match: str) -> None:
    with pytest.raises(Refused, match=match):
        enter(cast, **{field: value})
    assert not TapeStock.objects.exists()


def test_an_ended_contact_statement_keeps_a_tape_out_of_clean_rooms(cast: Cast) -> None:
    with pytest.raises(Refused, match="contact statement ended"):
        enter(cast, cast.yuki, room_kinds=["food"], contact_statement_ends=date(2026, 3, 24))
    enter(cast, cast.yuki, room_kinds=["food"], contact_statement_ends=date(2026, 3, 25))


def test_a_change_has_a_reason_and_clears_what_is_left_out(cast: Cast) -> None:
    made = enter(cast, friction=0.4, colour="cream")
    with pytest.raises(Refused, match="Say why"):
        change_stock(made, name="crepe", values=CREPE, reason="", by=cast.dara, at=AT)
    changed = change_stock(made, name="crepe", values=CREPE, reason="sheet corrected", by=cast.dara, at=AT)
    assert (changed.friction, changed.colour) == (None, "")


def test_what_the_registry_accepts_the_calculation_accepts() -> None:
    for field in ("thickness_mm", "width_mm", "roughness_um", "friction"):
        low, high = STOCK_BOUNDS[field]
        assert case.BOUNDS["tape"][field][0] <= low and high <= case.BOUNDS["tape"][field][1]
