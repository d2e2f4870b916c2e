"""The story of one Monday, end to end: seen, walked, causes checked, decided, ordered, tried, studied."""

from datetime import timedelta
from uuid import uuid4

import pytest

from plant.errors import Forbidden, Refused
from plant.web.quantities import Typed
from rollers import slots
from rollers.cases import TypedBand
from rollers.causes.models import Exposure, Order, StudyResult
from rollers.causes.services.deciding import decide
from rollers.causes.services.orders import finish_order, order_work
from rollers.causes.services.sheets import check_cause, close_sheet, open_sheet
from rollers.causes.services.studies import plan_study, work_out
from rollers.causes.services.walks import record_look, start_walk
from rollers.models import Decision, Task
from rollers.readiness import readiness
from rollers.services.recipes import draft_recipe
from rollers.services.tasks import close_task
from tests import make
from tests.causes.world import later, stretch_line
from training.models import JobDone

pytestmark = pytest.mark.django_db
DAY = timedelta(days=1)


@pytest.fixture
def line(cast):
    return stretch_line(cast)


def ran(line, roll, day, *, metres=6000.0, hours=0.36, wrinkles=None, breaks=None, tension=50.0):
    start = make.AT + day * DAY
    while Exposure.objects.filter(starts_at=start).exists():
        start += timedelta(minutes=30)
    return Exposure.objects.create(
        line=line.path.line,
        product=line.film.product,
        roll=roll,
        starts_at=start,
        ends_at=start + timedelta(minutes=25),
        length_m=metres,
        running_h=hours,
        wrinkles=wrinkles,
        breaks=breaks,
        tension_n_per_m=tension,
        speed_m_per_min=280,
        recorded_at=start + timedelta(hours=1),
    )


def counts(total, rolls):
    """So many events spread over so many rolls as evenly as they go."""
    return [total * (n + 1) // rolls - total * n // rolls for n in range(rolls)]


def test_the_walk_names_the_roller_upstream_of_where_it_shows_and_the_span_into_it(line):
    line.seen(3)
    _, result = line.walked_to_a05()
    assert result.first.code == "A05"
    assert result.answer["enters_from"] == "A04"
    assert result.sureness > 0.8
    assert "A05" in result.answer["agreement"]


def test_clean_after_crease_is_said_and_both_are_walked_again(line):
    _, result = line.walk(A06="clean", A05="crease", A04="crease", A03="clean")
    assert any("Clean at A06 after crease at A05" in said for said in result.answer["contradictions"])


def test_every_cause_has_a_value_with_its_limit_and_gauge_or_a_reason(line):
    sheet = line.sheet()
    by_cause = {row.cause: row for row in sheet.entries.all()}
    tilt = by_cause["misalignment"]
    assert tilt.outcome == "pass" and "0.07 mm/m" in tilt.sentence
    assert "LV-1: ±0.02 mm/m" in tilt.gauge_words
    assert tilt.limits["source"].startswith("T. Walker")
    assert by_cause["temperature"].reason == "no gauge on this shift"


def test_what_was_not_checked_is_said_where_a_recipe_is_approved(line):
    line.sheet()
    said = " ".join(slots.said_of(line["A05"], [line.film.product]))
    assert "Causes not checked at A05: Temperature across the face (no gauge on this shift)" in said


def test_a_sheet_with_open_causes_does_not_close_and_names_them(line):
    sheet = open_sheet(line["A05"], line.film, by=line.cast.dara, at=make.AT)
    check_cause(sheet, "air", value=Typed("0.4", "1"), by=line.cast.dara, at=make.AT)
    with pytest.raises(Refused, match="still open") as refusal:
        close_sheet(sheet, by=line.cast.dara, at=make.AT)
    assert "Misaligned roller" in refusal.value.details and "Air film" not in refusal.value.details


def test_tape_is_decided_after_walk_and_sheet_and_not_before(line):
    products = [line.film.product]
    ask = {"products": products, "answer": "tape", "reason": "Crease at A05, all causes pass", "at": make.AT}
    with pytest.raises(Refused, match="No finished line walk"):
        decide(line["A05"], by=line.cast.dara, **ask)
    line.walked_to_a05()
    with pytest.raises(Refused, match="cause sheet"):
        decide(line["A05"], by=line.cast.dara, **ask)
    line.sheet()
    made = decide(line["A05"], by=line.cast.dara, **ask)
    assert made.answer == "tape" and made.ends == "both"
    assert made.grounds["not_checked"] == ["Temperature across the face"]


def test_a_no_is_a_record_like_a_yes(line):
    made = decide(
        line["A05"],
        products=[line.film.product],
        answer="nothing",
        reason="Troughs only, nobody downstream minds",
        by=line.cast.dara,
        at=make.AT,
    )
    assert Decision.objects.get().pk == made.pk


def test_a_load_cell_roller_is_never_taped(line):
    with pytest.raises(Refused, match="never taped"):
        decide(
            line["A04"],
            products=[line.film.product],
            answer="tape",
            reason="It shows here every day",
            emergency=True,
            by=line.cast.dara,
            at=make.AT,
        )


def test_tape_at_one_end_needs_a_diagonal_wrinkle_at_that_end(line):
    line.walked_to_a05()
    line.sheet()
    ask = {
        "products": [line.film.product],
        "answer": "tape",
        "ends": "operator",
        "reason": "Diagonal from the operator end",
        "by": line.cast.dara,
        "at": make.AT,
    }
    line.seen(3, before="A05", after="A04", lane="operator", direction="md")
    with pytest.raises(Refused, match="diagonal wrinkles at one end"):
        decide(line["A05"], **ask)
    line.seen(3, before="A05", after="A04", lane="operator", direction="toward-drive")
    assert decide(line["A05"], **ask).ends == "operator"


def test_an_emergency_is_followed_up_within_a_day_and_closes_with_walk_and_sheet(line):
    decide(
        line["A05"],
        products=[line.film.product],
        answer="tape",
        reason="Breaks every ten minutes",
        emergency=True,
        by=line.cast.dara,
        at=make.AT,
    )
    task = Task.objects.get(kind=Task.Kind.CAUSE_SHEET)
    assert task.due == later(hours=24)
    line.walked_to_a05()
    line.sheet()
    task.refresh_from_db()
    assert task.closed_at is not None


def test_when_maintenance_is_done_the_question_comes_back_to_the_engineer(line):
    sheet = line.sheet(misalignment=("0.6", "mm/m"))
    order = order_work(sheet, "align", by=line.cast.dara, at=make.AT)
    with pytest.raises(Refused):
        finish_order(order, outcome="Aligned to 0.05 mm/m", by=line.cast.ines, at=later(days=1))
    finish_order(order, outcome="Aligned to 0.05 mm/m", by=line.cast.kwame, at=later(days=1))
    asked = Order.objects.get().question
    assert asked.for_role == "engineer" and "Aligned to 0.05" in asked.sentence


def test_a_failed_cause_that_can_be_fixed_soon_refuses_tape(line):
    line.walked_to_a05()
    line.sheet(misalignment=("0.6", "mm/m"))
    with pytest.raises(Refused, match="Fix it"):
        decide(
            line["A05"],
            products=[line.film.product],
            answer="tape",
            reason="Would be quicker than the level",
            fixable_soon=True,
            by=line.cast.dara,
            at=make.AT,
        )


def planned(line, measure="wrinkles", **more):
    windows = {"before": (later(days=-7), make.AT), "after": (later(hours=1), later(days=7))}
    asked = {"product": line.film.product, "measure": measure, "what": "T1 x 4 at A05", "at": make.AT} | windows
    return plan_study(line["A05"], by=line.cast.dara, **asked | more)


def test_forty_six_before_and_nine_after_are_better(line):
    for n, events in enumerate(counts(46, 20)):
        ran(line, f"b{n}", -3, wrinkles=events)
    study = planned(line)
    for n, events in enumerate(counts(9, 20)):
        ran(line, f"a{n}", 2, metres=6500, wrinkles=events)
    found = work_out(study, by=line.cast.sol, at=later(days=8))
    answer = found.answer
    assert found.verdict == "better"
    assert answer["before"]["events"] == 46 and answer["before"]["exposure"] == 120_000
    assert answer["after"]["events"] == 9 and answer["after"]["exposure"] == 130_000
    assert (round(answer["ratio"], 2), round(answer["low"], 2), round(answer["high"], 2)) == (0.18, 0.08, 0.37)


def test_five_breaks_and_three_are_not_enough_evidence(line):
    for n, events in enumerate(counts(5, 21)):
        ran(line, f"b{n}", -3, hours=10, breaks=events)
    study = planned(line, measure="breaks")
    for n, events in enumerate(counts(3, 23)):
        ran(line, f"a{n}", 2, hours=10, breaks=events)
    found = work_out(study, by=line.cast.dara, at=later(days=8))
    assert found.verdict == "not enough evidence"
    assert (round(found.answer["ratio"], 2), round(found.answer["low"], 2)) == (0.55, 0.09)


def test_windows_fixed_after_the_rolls_were_known_cannot_say_better(line):
    for n, events in enumerate(counts(46, 20)):
        ran(line, f"b{n}", -3, wrinkles=events)
    for n in range(20):
        ran(line, f"a{n}", 1, metres=6500, wrinkles=0)
    late = planned(line, at=later(days=7))
    found = work_out(late, by=line.cast.dara, at=later(days=8))
    assert found.verdict == "not enough evidence"
    assert any("before the windows were fixed" in said for said in found.answer["sentences"])


def test_worse_asks_for_less_tape_in_the_same_stop(line):
    for n in range(10):
        ran(line, f"b{n}", -3, wrinkles=0)
    study = planned(line)
    for n in range(10):
        ran(line, f"a{n}", 2, wrinkles=5)
    assert work_out(study, by=line.cast.dara, at=later(days=8)).verdict == "worse"
    task = Task.objects.get(kind=Task.Kind.REDUCE)
    assert task.for_role == "supervisor" and "in this stop" in task.sentence
    rows = readiness(line.path, line.film, at=later(days=8)).positions
    blocks = {block.code: block.sentence for row in rows if row.position.code == "A05" for block in row.blocks}
    assert "Reduce the tape or take it off in this stop" in blocks["fix-first"]
    close_task(task, outcome="Taken off in the same stop", by=line.cast.hanna, at=later(days=8))
    rows = readiness(line.path, line.film, at=later(days=8)).positions
    assert "fix-first" not in {block.code for row in rows for block in row.blocks}


def test_rolls_at_another_tension_are_left_out_and_named(line):
    for n in range(4):
        ran(line, f"b{n}", -3, wrinkles=3)
    ran(line, "slack", -3, wrinkles=40, tension=40.0)
    study = planned(line)
    for n in range(4):
        ran(line, f"a{n}", 2, wrinkles=1)
    answer = work_out(study, by=line.cast.dara, at=later(days=8)).answer
    assert answer["before"]["events"] == 12
    assert answer["left_out"]["before"][0][0] == "slack"


def test_other_windows_are_another_study_and_the_first_stays(line):
    first = planned(line)
    second = planned(line, after=(later(days=1), later(days=9)), replaces=first)
    assert second.replaces == first
    assert not StudyResult.objects.exists()


def test_a_guest_walks_and_proposes_but_decides_and_drafts_nothing(line):
    guest = make.person("Pia Hollander", "guest")
    walk = start_walk(line.path, key=uuid4(), product_version=line.film, starts_from=line["A06"], by=guest, at=make.AT)
    assert record_look(walk, line["A06"], key=uuid4(), seen="crease", by=guest, at=make.AT).by == guest
    with pytest.raises(Forbidden):
        decide(
            line["A05"],
            products=[line.film.product],
            answer="tape",
            reason="I have seen this before",
            by=guest,
            at=make.AT,
        )
    with pytest.raises(Refused):
        draft_recipe(
            step=line.path.steps.get(position=line["A05"]),
            title="Trial",
            products=[line.film.product],
            stock=make.stock("T1"),
            bands=[TypedBand("operator", 600, 792, 4)],
            by=guest,
            at=make.AT,
        )


def test_a_study_worked_out_is_practice_of_who_planned_it_once(line):
    for n in range(3):
        ran(line, f"b{n}", -3, wrinkles=3)
    study = planned(line)
    for person in (line.cast.sol, line.cast.dara):
        work_out(study, by=person, at=later(days=8))
    (told,) = JobDone.objects.filter(key=f"study:{study.pk}")
    assert (told.person, told.kind, told.room_kind) == (study.by, "study", "")
