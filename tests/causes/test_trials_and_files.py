"""A trial ends by itself; a file of what ran comes in whole or not at all."""

from datetime import timedelta

import pytest

from plant.errors import Forbidden, Refused
from rollers.cases import TypedBand
from rollers.causes.models import Exposure
from rollers.causes.services.exposures import KIND, as_file
from rollers.causes.services.studies import work_out
from rollers.causes.services.trials import end_due_trials, make_trial
from rollers.models import RecipeVersion
from rollers.services.importing import examine, take_in
from rollers.services.recipes import draft_recipe
from tests import make
from tests.causes.test_monday import planned, ran
from tests.causes.world import later, stretch_line

pytestmark = pytest.mark.django_db
BANDS = [TypedBand("operator", 600, 792, 4), TypedBand("drive", 600, 792, 4)]
ROW = dict(KIND.example[0]) | {"line": "A", "product": "SF-17"}


@pytest.fixture
def line(cast):
    return stretch_line(cast)


def drafted(line, title="Trial of four wraps"):
    return draft_recipe(
        step=line.path.steps.get(position=line["A05"]),
        title=title,
        products=[line.film.product],
        stock=make.stock("T1"),
        bands=BANDS,
        by=line.cast.dara,
        at=make.AT,
    )


def test_a_trial_ends_by_itself_with_the_shift_of_its_engineer(line):
    trial = make_trial(drafted(line), by=line.cast.dara, at=make.AT)
    assert trial.trial_ends_at == make.AT.replace(hour=13) and trial.trial_rolls == 3
    assert end_due_trials(later(hours=3)) == []
    assert end_due_trials(later(hours=4)) == [trial.pk]
    trial.refresh_from_db()
    assert trial.state == RecipeVersion.State.WITHDRAWN and "by itself" in trial.end_reason
    assert end_due_trials(later(hours=5)) == []


def test_a_trial_takes_three_rolls_at_the_most_and_one_shift(line):
    with pytest.raises(Refused, match="1 to 3 rolls"):
        make_trial(drafted(line), rolls=4, by=line.cast.dara, at=make.AT)
    with pytest.raises(Refused, match="one shift at the most"):
        make_trial(drafted(line, "Another"), ends_at=later(hours=9), by=line.cast.dara, at=make.AT)


def test_nobody_tries_tape_for_an_engineer_who_is_not_there(line):
    away = make.person("Off Duty", "engineer", skills="aware size")
    version = drafted(line)
    with pytest.raises(Refused, match="not on shift"):
        make_trial(version, by=away, at=make.AT)
    with pytest.raises(Forbidden):
        make_trial(version, by=make.person("Pia Hollander", "guest"), at=make.AT)


def test_a_lasting_recipe_does_not_turn_into_a_trial(line):
    drafted(line, "Stretch films")
    second = drafted(line, "Stretch films")
    with pytest.raises(Refused, match="title of its own"):
        make_trial(second, by=line.cast.dara, at=make.AT)


def test_a_file_of_what_ran_comes_in_with_its_units(line):
    rows = [ROW | {"length": "6.0", "roll": "F-1"}, ROW | {"roll": "F-2", "waste": "10", "waste_unit": "lb"}]
    take_in(KIND, as_file(rows).encode(), file_name="rolls.csv", by=line.cast.dara, at=make.AT)
    assert Exposure.objects.get(roll="F-1").length_m == 6.0
    assert Exposure.objects.get(roll="F-2").waste_kg == pytest.approx(4.5359237)
    assert Exposure.objects.get(roll="F-2").typed["waste_kg"] == {"value": "10", "unit": "lb"}


def test_one_bad_row_keeps_the_whole_file_out_and_is_named(line):
    rows = [
        ROW | {"roll": "F-1"},
        ROW | {"roll": "F-2", "length_unit": ""},
        ROW | {"roll": "F-3", "ends": ROW["starts"]},
    ]
    with pytest.raises(Refused) as refusal:
        take_in(KIND, as_file(rows).encode(), file_name="rolls.csv", by=line.cast.dara, at=make.AT)
    said = " ".join(refusal.value.details)
    assert "Line 3, length" in said and "has no unit" in said and "Line 4, ends" in said
    assert not Exposure.objects.exists()


def test_a_roll_that_is_recorded_or_stands_twice_is_refused_by_its_row(line):
    take_in(KIND, as_file([ROW | {"roll": "F-1"}]).encode(), file_name="one.csv", by=line.cast.dara, at=make.AT)
    again = [ROW | {"roll": "F-1"}, ROW | {"roll": "F-2"}, ROW | {"roll": "F-2"}]
    bad = examine(KIND, as_file(again).encode(), by=line.cast.dara, at=make.AT).bad
    assert [(row.line, row.column) for row in bad] == [(2, "roll"), (4, "roll")]
    assert "recorded already" in bad[0].reason and "line 3 already" in bad[1].reason


def test_what_was_not_counted_stays_empty_and_is_not_taken_for_zero(line):
    rows = [ROW | {"roll": "F-1", "wrinkles": "", "breaks": "0"}]
    take_in(KIND, as_file(rows).encode(), file_name="one.csv", by=line.cast.dara, at=make.AT)
    made = Exposure.objects.get()
    assert made.wrinkles is None and made.breaks == 0


def test_an_operator_brings_in_no_counts(line):
    with pytest.raises(Forbidden):
        examine(KIND, as_file([ROW]).encode(), by=line.cast.ines, at=make.AT)


def test_while_the_window_after_is_open_better_is_withheld_and_worse_is_said(line):
    for n in range(6):
        ran(line, f"b{n}", -3, wrinkles=6)
    study = planned(line)
    for n in range(6):
        ran(line, f"a{n}", 1, wrinkles=0)
    early = work_out(study, by=line.cast.dara, at=later(days=3))
    assert early.verdict == "not enough evidence"
    assert any("still open" in said for said in early.answer["sentences"])
    assert work_out(study, by=line.cast.dara, at=study.after_to + timedelta(hours=1)).verdict == "better"


def test_the_two_rollers_downstream_say_whether_anybody_looked(line):
    for n in range(4):
        ran(line, f"b{n}", -3, wrinkles=1)
    study = planned(line)
    for n in range(4):
        ran(line, f"a{n}", 1, wrinkles=1)
    line.seen(2, before="A06", after="A05", at=later(days=1), recorded_at=later(days=1))
    said = work_out(study, by=line.cast.dara, at=later(days=8)).answer["downstream"]
    assert [row["position"] for row in said] == ["A06", "A07"]
    assert said[0]["worst"] == 2 and said[1]["said"] == "nobody looked"
