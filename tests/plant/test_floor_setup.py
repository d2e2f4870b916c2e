"""Setting up a plant: rooms in time, lines, positions, paths, products."""

from datetime import UTC, date, datetime, timedelta
from typing import Any

import pytest

from calcs import case
from plant.audit.models import Event
from plant.errors import Conflict, Forbidden, Refused
from plant.floor import queries, rules
from plant.floor.models import Plant, ProductVersion, Room, WebPath
from plant.floor.services import (
    Step,
    add_line,
    add_position,
    add_room,
    change_plant,
    draw_path,
    enter_product,
    plan_shifts,
    reclassify_room,
    revise_product,
    set_shift_patterns,
    set_up_plant,
)
from plant.web.quantities import Typed, conversion, typed_of
from tests import make
from tests.conftest import Cast
from tests.make import AT

pytestmark = pytest.mark.django_db

STRETCH: dict[str, Any] = {
    "modulus_md_mpa": 120,
    "modulus_direction": "MD",
    "modulus_on": date(2025, 11, 3),
    "thickness_um": 17,
    "width_min_mm": 1500,
    "width_max_mm": 1500,
    "tension_min_n_per_m": 45,
    "tension_set_n_per_m": 50,
    "tension_max_n_per_m": 55,
    "speed_min_m_per_min": 100,
    "speed_set_m_per_min": 280,
    "speed_max_m_per_min": 300,
    "friction": 0.35,
}


def test_a_plant_is_set_up_once_and_its_clock_is_checked(cast: Cast) -> None:
    with pytest.raises(Refused, match="Europe/Vienna"):
        set_up_plant(code="TH", name="Tarn Hollow Works", time_zone="Vienna", by=cast.keeper, at=AT)
    plant = set_up_plant(code="TH", name="Tarn Hollow Works", time_zone="Europe/Vienna", by=cast.keeper, at=AT)
    assert queries.the_plant() == plant
    with pytest.raises(Refused, match="serves Tarn Hollow Works already"):
        set_up_plant(code="X", name="Other", time_zone="Europe/Paris", by=cast.keeper, at=AT)
    assert Event.objects.filter(action="set-up-plant").count() == 1


def test_the_clock_stays_once_shifts_are_planned_by_it(cast: Cast) -> None:
    plant = make.plant()
    change_plant(plant, name="Tarn Hollow", time_zone="Europe/Berlin", units="inch", by=cast.keeper, at=AT)
    set_shift_patterns([("Day", rules.time(6), rules.time(18))], by=cast.hanna, at=AT)
    plan_shifts(date(2026, 4, 1), date(2026, 4, 1), by=cast.hanna, at=AT)
    with pytest.raises(Refused, match="the clock stays"):
        change_plant(plant, name="Tarn", time_zone="Europe/Vienna", units="si", by=cast.keeper, at=AT)
    assert Plant.objects.get().time_zone == "Europe/Berlin"


def test_an_operator_may_not_build_the_floor_and_learns_who_may(cast: Cast) -> None:
    assert cast.dara
    with pytest.raises(Forbidden, match="Dara Whitlow"):
        add_line(code="A", name="Line A", by=cast.ines, at=AT)


@pytest.mark.db_both
def test_a_room_has_its_class_of_then(cast: Cast) -> None:
    start = datetime(2025, 1, 1, tzinfo=UTC)
    room = add_room(code="F1", name="Laminate", kind="general", valid_from=start, by=cast.keeper, at=AT)
    later = AT + timedelta(days=3)
    reclassify_room(room, kind="food", valid_from=later, reason="food customer", by=cast.yuki, at=AT)
    assert queries.room_kind(room, AT) == "general"
    assert queries.room_kind(room, later - timedelta(microseconds=1)) == "general"
    assert queries.room_kind(room, later) == "food"
    assert queries.room_kinds(later) == {room.pk: "food"}
    with pytest.raises(Refused, match="No class is recorded"):
        queries.room_kind(room, start - timedelta(days=1))


def test_a_looser_class_takes_a_signature_of_qa(cast: Cast) -> None:
    room = make.room("F1", "food")
    change: dict[str, Any] = {"kind": "general", "valid_from": AT, "reason": "customer left", "at": AT}
    with pytest.raises(Refused, match="QA signs"):
        reclassify_room(room, by=cast.yuki, **change)
    with pytest.raises(Forbidden):
        reclassify_room(room, by=cast.keeper, confirmation=make.confirmation(cast.keeper), **change)
    reclassify_room(room, by=cast.yuki, confirmation=make.confirmation(cast.yuki), **change)
    event = Event.objects.get(action="reclassify-room")
    assert "signature" in event.body and event.reason == "customer left"


def test_a_class_is_never_changed_for_the_past(cast: Cast) -> None:
    room = make.room("G1", "general")
    with pytest.raises(Refused, match="in the past"):
        reclassify_room(room, kind="food", valid_from=AT - timedelta(days=2), reason="late", by=cast.yuki, at=AT)


@pytest.mark.parametrize("code", ["", "A B", "=A", "ä", "A" * 13, "-A"])
def test_a_code_that_does_not_do_is_refused(cast: Cast, code: str) -> None:
    with pytest.raises(Refused) as refusal:
        add_room(code=code, name="Room", kind="general", valid_from=AT, by=cast.keeper, at=AT)
    assert refusal.value.field == "code"
    assert not Room.objects.exists()


def test_a_code_is_taken_whatever_the_case_of_its_letters(cast: Cast) -> None:
    make.line("A")
    with pytest.raises(Refused, match="already"):
        add_line(code="a", name="Again", by=cast.dara, at=AT)


def test_a_position_has_a_free_number_and_a_zone_of_its_line(cast: Cast) -> None:
    line = add_line(code="A", name="Line A", by=cast.dara, at=AT)
    room = make.room()
    add_position(line=line, room=room, code="A01", order=1, kind="chill", zone=1, by=cast.dara, at=AT)
    for change, match in (
        ({"order": 1}, "A01 already"),
        ({"kind": "spinner"}, "no kind of roller"),
        ({"zone": 4}, "no tension zone 4"),
        ({"order": 0}, "numbered from 1"),
        ({"surface_temp_c": 900}, "outside -100 to 500"),
    ):
        with pytest.raises(Refused, match=match):
            add_position(**{"line": line, "room": room, "code": "A02", "order": 2, "by": cast.dara, "at": AT} | change)


def test_a_path_drawn_again_is_a_new_version_and_the_old_one_stays(cast: Cast) -> None:
    line, room = make.line(), make.room()
    first = add_position(line=line, room=room, code="A01", order=1, by=cast.dara, at=AT)
    second = add_position(line=line, room=room, code="A02", order=2, by=cast.dara, at=AT)
    steps = [Step(first, 60, "cw", "A", Typed("35.5", "in")), Step(second, 90, "ccw", "B", 1100)]
    path = draw_path(line, name="straight", steps=steps, by=cast.dara, at=AT)
    assert [step.position.code for step in queries.path_steps(path)] == ["A01", "A02"]
    step = path.steps.first()
    assert step is not None and step.entry_span_mm == pytest.approx(901.7, rel=1e-15)
    assert typed_of(step, "entry_span_mm") == Typed("35.5", "in")
    again = draw_path(line, name="Straight", steps=steps[:1], by=cast.dara, at=AT, reason="bypass")
    assert again.version == 2
    assert list(WebPath.objects.filter(in_use=True)) == [again]
    assert path.steps.count() == 2


def test_a_path_refuses_a_roller_twice_a_foreign_roller_and_a_missing_figure(cast: Cast) -> None:
    line, room = make.line(), make.room()
    here = add_position(line=line, room=room, code="A01", order=1, by=cast.dara, at=AT)
    there = add_position(line=make.line("B"), room=room, code="B01", order=1, by=cast.dara, at=AT)
    good = Step(here, 60, "cw", "A", 900)
    for steps, match in (
        ([good, good], "comes twice"),
        ([Step(there, 60, "cw", "A", 900)], "another line"),
        ([Step(here, None, "cw", "A", 900)], "wrap is missing"),
        ([Step(here, 60, "left", "A", 900)], "seen from the operator end"),
        ([Step(here, 60, "cw", "C", 900)], "A or B"),
        ([Step(here, 5, "cw", "A", 900)], "outside 10 to 220"),
        ([], "at least one roller"),
    ):
        with pytest.raises(Refused, match=match):
            draw_path(line, name="straight", steps=steps, by=cast.dara, at=AT)
    assert not WebPath.objects.exists()


def enter(cast: Cast, **changes: Any) -> ProductVersion:
    confirmed = changes.pop("confirmed", False)
    return enter_product(
        code="SF-17",
        name="Stretch 17",
        lines=[make.line()],
        values=STRETCH | changes,
        confirmed=confirmed,
        by=cast.dara,
        at=AT,
    )


@pytest.mark.db_both
def test_typed_digits_and_units_come_back_as_they_were_typed(cast: Cast) -> None:
    inches = {"width_min_mm": Typed("59.0551", "in"), "width_max_mm": Typed("59.0551", "in")}
    version = enter(cast, **inches, thickness_um=Typed("0.670", "mil"))
    version.refresh_from_db()
    assert version.width_min_mm == 1499.99954
    assert version.thickness_um == 17.018
    assert typed_of(version, "width_min_mm") == Typed("59.0551", "in")
    assert typed_of(version, "thickness_um") == Typed("0.670", "mil")
    assert conversion("thickness_um", Typed("0.670", "mil")) == "0.670 mil = 17.018 µm"
    assert typed_of(version, "friction") == Typed("0.35", "1")


@pytest.mark.parametrize(
    ("field", "value", "match"),
    [
        ("modulus_md_mpa", -5, "outside 1 to 250000 MPa"),
        ("modulus_md_mpa", float("nan"), "not a finite number"),
        ("thickness_um", Typed("1e999", "um"), "outside|too large|figure of this world"),
        ("thickness_um", None, "thickness is missing"),
        ("thickness_um", Typed("0.7", "pounds"), "unit 'pounds' is not known"),
        ("thickness_um", Typed("seventeen", "um"), "not a number"),
        ("tension_min_n_per_m", 52, "above the tension set"),
        ("speed_max_m_per_min", 200, "above the speed max"),
        ("width_min_mm", 1600, "above the width max"),
        ("friction", 3, "outside 0.05 to 1"),
        ("contact_side", "left", "A or B"),
        ("modulus_direction", "CD", "machine direction"),
    ],
)
def test_a_bad_figure_is_refused_by_name(cast: Cast, field: str, value: Any, match: str) -> None:
    with pytest.raises(Refused, match=match):
        enter(cast, **{field: value})
    assert not ProductVersion.objects.exists()


def test_a_line_strain_outside_the_usual_range_is_confirmed_or_refused(cast: Cast) -> None:
    with pytest.raises(Refused, match="line strain") as refusal:
        enter(cast, modulus_md_mpa=Typed("120", "GPa"))
    assert refusal.value.field == "modulus_md_mpa"
    assert enter(cast, modulus_md_mpa=Typed("120", "GPa"), confirmed=True).modulus_md_mpa == 120_000


def test_line_strain_is_tension_over_modulus_times_thickness() -> None:
    # Elementary mechanics: 50 N/m on 17 µm of 120 MPa strains 50 / (120e6 × 17e-6) = 2.451 %.
    assert rules.line_strain_pct(50, 120, 17) == pytest.approx(2.45098, abs=1e-5)


def test_a_revised_product_keeps_its_old_version_and_refuses_who_looked_at_an_older_one(cast: Cast) -> None:
    first = enter(cast)
    changed = STRETCH | {"tension_set_n_per_m": 48}
    act: dict[str, Any] = {"values": changed, "reason": "trial", "by": cast.dara, "at": AT}
    second = revise_product(first.product, seen_version=1, **act)
    assert (second.number, second.current) == (2, True)
    first.refresh_from_db()
    assert (first.current, first.tension_set_n_per_m) == (False, 50)
    with pytest.raises(Conflict, match="version 2"):
        revise_product(first.product, seen_version=1, **act)
    with pytest.raises(Refused, match="Say why"):
        revise_product(first.product, **act | {"reason": " "})


def test_an_old_or_undirected_modulus_is_noted(cast: Cast) -> None:
    version = enter(cast, modulus_on=date(2024, 3, 24), modulus_direction="")
    notes = queries.version_notes(version, AT)
    assert len(notes) == 2 and "more than 24 months" in notes[1]
    assert not rules.product_notes("MD", date(2024, 3, 26), date(2026, 3, 25))


def test_what_the_floor_accepts_the_calculation_accepts() -> None:
    same = {"width_min_mm": "width_mm", "width_max_mm": "width_mm"}
    for field, (low, high) in rules.PRODUCT_BOUNDS.items():
        name = same.get(field, field.replace("_min", "").replace("_set", "").replace("_max", ""))
        for group in ("web", "state"):
            if name in case.BOUNDS[group]:
                bounds = case.BOUNDS[group][name]
                assert bounds[0] <= low and high <= bounds[1], field
    for field, (low, high) in rules.STEP_BOUNDS.items():
        bounds = case.BOUNDS["roller"][field]
        assert bounds[0] <= low and high <= bounds[1], field


def test_the_overview_of_lines_asks_the_same_few_questions_for_one_line_or_many(
    cast: Cast, django_assert_num_queries: Any
) -> None:
    room = make.room()
    for code in "ABCDEF":
        line = make.line(code)
        for number in range(1, 4):
            add_position(
                line=line,
                room=room,
                code=f"{code}{number}",
                order=number,
                by=cast.dara,
                at=AT,
                kind="idler" if number > 1 else "nip",
            )
    with django_assert_num_queries(4):
        overview = queries.lines_overview()
    assert [(view.positions, view.tapeable, view.rooms) for view in overview] == [(3, 2, ["G1"])] * 6
