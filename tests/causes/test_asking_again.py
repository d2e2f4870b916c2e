"""Work on a suspected roller brings the question back; a decision answers it; old ground speaks for nothing."""

import pytest

from plant.errors import Refused
from plant.floor.models import Run
from plant.web.quantities import Typed
from rollers.causes.services.deciding import decide
from rollers.causes.services.orders import finish_order, order_work
from rollers.models import Mounting, TapeFact, Task
from rollers.models.tape import TapeState
from rollers.readiness import readiness
from rollers.services.bodies import record_measurement
from rollers.services.controlling import set_controls
from rollers.services.mountings import swap_body, turn_body
from tests import make
from tests.causes.world import later, stretch_line

pytestmark = pytest.mark.django_db
REASON = "Crease at A05 and every cause passes"


@pytest.fixture
def line(cast):
    return stretch_line(cast)


def aligned(line, value, at=make.AT, code="A05"):
    return record_measurement(
        quantity="misalignment_mm_per_m",
        value=Typed(str(value), "mm/m"),
        gauge=line.gauge,
        position=line[code],
        by=line.cast.kwame,
        at=at,
    )


def tape_on(line, code="A05"):
    body = Mounting.objects.get(position=line[code], removed_at=None).body
    TapeFact.objects.create(
        body=body,
        position=line[code],
        kind=TapeFact.Kind.APPLIED,
        at=make.AT,
        recorded_at=make.AT,
        by=line.cast.dara,
        state=TapeState.TAPED,
    )
    return body


def decided(line, answer="tape", at=make.AT, **more):
    asked = {"products": [line.film.product], "reason": REASON, "by": line.cast.dara} | more
    return decide(line["A05"], answer=answer, at=at, **asked)


def questions():
    return list(Task.objects.filter(kind=Task.Kind.STILL_NEEDED, closed_at=None).order_by("pk"))


def test_alignment_that_moved_at_a_roller_decided_to_be_mended_asks_the_engineer_without_an_order(line):
    aligned(line, 0.4)
    decided(line, "fix")
    assert questions() == []
    aligned(line, 0.05, later(days=1))
    (asked,) = questions()
    assert asked.for_role == "engineer" and asked.due == later(days=4)
    assert "misalignment is 0.05 mm/m now, 0.4 mm/m before" in asked.sentence
    assert "Does it still wrinkle?" in asked.sentence


def test_the_same_alignment_measured_again_asks_nothing(line):
    aligned(line, 0.06)
    decided(line, "fix")
    aligned(line, 0.07, later(days=1))
    assert questions() == []


def test_a_roller_that_nobody_suspects_is_aligned_without_a_question(line):
    aligned(line, 0.4)
    aligned(line, 0.05, later(days=1))
    decided(line, "nothing")
    aligned(line, 0.4, later(days=2))
    assert questions() == []


def test_alignment_mended_below_tape_makes_a_run_without_it_due_in_fourteen_days(line):
    aligned(line, 0.4)
    tape_on(line)
    aligned(line, 0.05, later(days=1))
    (asked,) = questions()
    assert "Is the tape still needed?" in asked.sentence
    without = Task.objects.get(kind=Task.Kind.RUN_WITHOUT)
    assert without.due == later(days=15) and without.for_role == "supervisor"


def test_the_plant_sets_in_how_many_days_the_run_without_tape_is_due(line):
    engineer, qa = make.confirmation(line.cast.dara), make.confirmation(line.cast.yuki)
    set_controls({"run_without_days": 7}, reason="We run this film weekly", engineer=engineer, qa=qa, at=make.AT)
    aligned(line, 0.4)
    tape_on(line)
    aligned(line, 0.05, later(days=1))
    assert Task.objects.get(kind=Task.Kind.RUN_WITHOUT).due == later(days=8)


def test_alignment_that_got_worse_below_tape_asks_but_calls_nothing_mended(line):
    aligned(line, 0.05)
    tape_on(line)
    aligned(line, 0.4, later(days=1))
    assert len(questions()) == 1
    assert not Task.objects.filter(kind=Task.Kind.RUN_WITHOUT).exists()


def test_a_run_without_tape_that_is_overdue_is_said_on_the_ready_board(line):
    aligned(line, 0.4)
    tape_on(line)
    aligned(line, 0.05, later(days=1))
    found = {
        finding.code: finding
        for row in readiness(line.path, line.film, at=later(days=16)).positions
        for finding in row.findings
    }
    assert "a run without tape is overdue" in found["run-without-due"].sentence


def test_a_turned_and_a_changed_roller_ask_too_and_one_open_question_covers_both(line):
    decided(line, "fix")
    turn_body(line["A05"], by=line.cast.kwame, at=later(days=1))
    (asked,) = questions()
    assert "turned end for end at A05" in asked.sentence
    spare = make.body("A-77")
    swap_body(
        line["A05"],
        spare,
        to="spare",
        by=line.cast.kwame,
        at=later(days=2),
        looked_bare=True,
        outgoing_bare=True,
    )
    assert questions() == [asked]


def test_an_order_done_and_its_alignment_measured_are_one_question(line):
    sheet = line.sheet(misalignment=("0.6", "mm/m"))
    decided(line, "fix")
    order = order_work(sheet, "align", by=line.cast.dara, at=make.AT)
    finish_order(order, outcome="Aligned to 0.05 mm/m", by=line.cast.kwame, at=later(days=1))
    aligned(line, 0.05, later(days=1))
    assert len(questions()) == 1


def test_a_new_decision_answers_the_question(line):
    decided(line, "fix")
    turn_body(line["A05"], by=line.cast.kwame, at=later(days=1))
    (asked,) = questions()
    decided(line, "nothing", at=later(days=2), reason="Ran two rolls, nothing is seen any more")
    asked.refresh_from_db()
    assert asked.outcome.startswith("Decided: nothing") and questions() == []


def test_tape_is_decided_on_ground_of_the_last_thirty_days_or_what_the_plant_set(line):
    line.walked_to_a05()
    line.sheet()
    assert decided(line, at=later(days=30)).answer == "tape"
    with pytest.raises(Refused, match="line walk that names this roller is 31 days old") as refusal:
        decided(line, at=later(days=31))
    assert "Check the causes again" in " ".join(refusal.value.details)
    assert decided(line, "watch", at=later(days=31)).answer == "watch"


def test_an_emergency_on_old_ground_is_followed_up_by_new_ground(line):
    line.walked_to_a05()
    line.sheet()
    decided(line, at=later(days=40), emergency=True)
    task = Task.objects.get(kind=Task.Kind.CAUSE_SHEET)
    assert task.due == later(days=41)


def test_a_place_where_no_tape_of_the_plant_may_sit_is_refused_with_its_heat(line):
    line.walked_to_a05()
    line.sheet()
    make.stock("T1", max_temp_c=80)
    place = line["A05"]
    place.surface_temp_c = 61
    place.save()
    with pytest.raises(Refused, match="a surface at 61 °C asks for tape that stands 81 °C"):
        decided(line)
    place.surface_temp_c = 60
    place.save()
    assert decided(line).answer == "tape"


def test_the_next_run_of_another_product_is_kept_among_the_warnings_of_a_decision(line):
    line.walked_to_a05()
    line.sheet()
    other = make.product(
        "PE-12", line.path.line, width=1400, thickness=12, modulus=4500, tension=60, speed=200, friction=0.3
    )
    Run.objects.create(
        line=line.path.line,
        path=line.path,
        product_version=other,
        tension_n_per_m=60,
        speed_m_per_min=200,
        planned_at=make.AT,
        planned_by=line.cast.hanna,
        starts_at=later(hours=2),
    )
    said = " ".join(decided(line).grounds["warnings"])
    assert "The next run planned here is PE-12" in said
