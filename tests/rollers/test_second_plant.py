"""The second, small plant from its CSV files to a released line: the same program in inches."""

from datetime import UTC, datetime, timedelta

import pytest

from calcs.case import parse_case
from calcs.sizing import suggest
from plant.errors import Refused
from plant.floor.models import Position, Product, WebPath
from plant.people.models import Person
from rollers.cases import TypedBand
from rollers.demo import hands
from rollers.models import TapeFact, TapeStock
from rollers.services.approving import approve_recipe, check_recipe, open_checks
from rollers.services.looking import report_found_tape
from rollers.services.recipes import case_of, current_version, draft_recipe
from rollers.services.runs import plan_run, release_run
from rollers.services.sheets import draft_sheet, sign_sheet
from rollers.services.surveys import close_survey, positions_to_look_at, record_seen, start_survey
from tests import make
from tests.rollers.test_import import ROLES, bring_second_plant

AT = datetime(2026, 3, 25, 15, 0, tzinfo=UTC)
EARLIER = AT - timedelta(hours=1)
EDGES = (549.0, 741.0)  # mm from the roller centre: four lanes of 48 mm, past the edge of a 54 in web

pytestmark = [pytest.mark.django_db, pytest.mark.db_both]


@pytest.fixture
def people(db):
    make.plant()
    bring_second_plant(make.person("Noor Adeyemi", *ROLES, staff_no="B-01"))
    return {person.staff_no: person for person in Person.objects.all()}


def surveyed(people: dict[str, Person]) -> None:
    """What is on every roller of the north hall on the first day."""
    room = Position.objects.get(code="10-05").room
    survey = start_survey(room, by=people["B-03"], at=EARLIER)
    with pytest.raises(Refused, match="10-0"):
        close_survey(survey, confirmation=make.confirmation(people["B-03"], EARLIER))
    for mounting in positions_to_look_at(survey):
        record_seen(survey, mounting.position, state="bare", by=people["B-05"], at=EARLIER)
    close_survey(survey, confirmation=make.confirmation(people["B-03"], EARLIER))


def bands(wraps: int) -> list[TypedBand]:
    return [TypedBand(end, *EDGES, wraps) for end in ("operator", "drive")]


def test_from_the_files_to_a_released_line(people):
    surveyed(people)
    position, path = Position.objects.get(code="10-05"), WebPath.objects.get(line__code="10", name="straight")
    step, film = path.steps.get(position=position), Product.objects.get(code="BR-200")
    crepe, engineer, supervisor = TapeStock.objects.get(code="C5"), people["B-02"], people["B-03"]

    version = current_version(film)
    suggestion = suggest(parse_case(case_of(version, step, stock=crepe, bands=bands(1))))
    # By hand: strain 0.40 pli (midpoint 0.425) = 74.4 N/m over 172.4 MPa x 50.8 um = 0.85 %; step 0.1397 / 76.0 mm
    # = 0.184 %; web on tape 2 x (685.8 - 549) of 1371.6 mm = 0.199: 0.3 x 0.85 / (0.801 x 0.184) = 1.73 wraps.
    assert suggestion.formula[0] == pytest.approx(1.73, abs=0.02)
    assert suggestion.wraps == 2

    recipe = draft_recipe(
        step=step, title="bread bags", products=[film], stock=crepe, bands=bands(2), by=engineer, at=AT
    )
    reasons = {code: dict.fromkeys(checks, "accepted for the first trial on the line")
               for code, checks in open_checks(recipe).items()}  # fmt: skip
    check_recipe(recipe, reasons=reasons, confirmation=make.confirmation(engineer, AT))
    approve_recipe(recipe, meaning="approved", confirmation=make.confirmation(supervisor, AT))
    recipe.refresh_from_db()
    assert recipe.state == "in force"
    sheet = draft_sheet(product=film, path=path, choices={position: recipe}, by=supervisor, at=AT)
    sign_sheet(sheet, confirmation=make.confirmation(supervisor, AT))

    run = plan_run(
        path=path,
        version=version,
        tension_n_per_m=version.tension_set_n_per_m,
        speed_m_per_min=version.speed_set_m_per_min,
        starts_at=AT,
        by=supervisor,
        at=AT,
    )
    with pytest.raises(Refused) as refusal:
        release_run(run, confirmation=make.confirmation(supervisor, AT))
    assert [line for line in refusal.value.details if line.startswith("10-05: put on C5 × 2")] == refusal.value.details

    applier = people["B-04"]
    reel = make.reel(crepe, position.room)
    hands.tape(position, recipe, reel, step=step, by=applier, at=AT - timedelta(minutes=20), lock="4")
    release = release_run(run, confirmation=make.confirmation(supervisor, AT))
    taped = next(row for row in release.snapshot["positions"] if row["position"] == "10-05")
    assert taped["on"].startswith("C5 × 2") and taped["verdict"] in ("fits", "caution")


def test_tape_that_nobody_recorded_is_a_finding_once_the_survey_is_closed(people):
    position = Position.objects.get(code="10-05")
    with pytest.raises(Refused, match="survey"):
        report_found_tape(position, what="crepe at the drive end", by=people["B-04"], at=AT)
    surveyed(people)
    report_found_tape(position, what="crepe at the drive end", by=people["B-04"], at=AT)
    fact = TapeFact.objects.filter(position=position).latest("pk")
    assert (fact.state, fact.recipe_version, fact.kind) == ("unknown", None, "found")
