"""The invented works: loaded once, through the services, up to any moment of its week."""

from collections import Counter
from datetime import UTC, date, datetime
from io import StringIO

import pytest
from django.core.management import CommandError, call_command
from django.db import transaction

from plant.audit.canonical import ZERO, chained
from plant.audit.models import Event, Signature
from plant.floor.models import Position, Product, Run, Shift
from plant.people.models import Person
from rollers.demo.cast import DEMO_PASSWORD, GUEST, STAFF
from rollers.demo.loading import load
from rollers.demo.week import Week
from rollers.models import Body, ProductSheet, RecipeVersion, Survey, TapeFact
from rollers.queries import tape_on_line
from rollers.readiness import readiness
from rollers.services.approving import still_needed
from training.queries import is_certified

WEDNESDAY = datetime(2026, 3, 25, 9, 0, tzinfo=UTC)
pytestmark = [pytest.mark.django_db, pytest.mark.db_both]


def on_lines():
    """Taped positions and their recipes."""
    positions = list(Position.objects.all())
    found = tape_on_line(positions)
    return {p.code: str(found[p.pk][1].state) for p in positions if found[p.pk][1].state != "bare"}


def running():
    rows = Run.objects.filter(state="released").select_related("line", "product_version__product")
    return {run.line.code: run.product_version.product.code for run in rows}


MOMENTS = {
    "2026-03-23T04:00+00:00": ({"A05", "B04", "B09", "C06"}, "BO-35"),
    "2026-03-24T09:38+00:00": ({"A05", "B04", "C06"}, None),
    "2026-03-26T05:00+00:00": ({"A05", "C06", "D04"}, "CP-70"),
    "2026-03-29T20:00+00:00": ({"A05", "C06"}, "CP-70"),
}


@pytest.mark.parametrize("moment", MOMENTS)
def test_the_story_stands_at_any_moment_of_its_week(moment):
    now = datetime.fromisoformat(moment)
    load(now)
    taped, on_line_b = MOMENTS[moment]
    assert set(on_lines()) == taped
    assert running().get("B") == on_line_b
    assert not TapeFact.objects.filter(recorded_at__gt=now).exists()


def test_the_week_told_is_the_one_around_today_by_the_clock_of_the_works():
    sunday_night = datetime(2026, 3, 29, 21, 59, tzinfo=UTC)
    monday_morning = datetime(2026, 3, 29, 22, 0, tzinfo=UTC)
    assert str(Week.of(sunday_night).monday) == "2026-03-23"
    assert str(Week.of(monday_morning).monday) == "2026-03-30"


def said(*arguments):
    out = StringIO()
    call_command("load_demo", *arguments, stdout=out)
    return out.getvalue()


def test_the_command_prints_who_may_sign_in_and_does_nothing_the_second_time():
    first = said("--at", "2026-03-25T10:00+01:00")
    for member in STAFF:
        assert f"{member.staff_no}  {member.name}" in first
    assert DEMO_PASSWORD in first and "demo only" in first
    assert len(DEMO_PASSWORD) >= 15
    assert Person.objects.get(name="Hanna Lindqvist").check_password(DEMO_PASSWORD)
    events = Event.objects.count()
    assert "There is data here already" in said()
    assert Event.objects.count() == events


@pytest.mark.parametrize("text", ["yesterday", "2026-03-25", "2026-03-25T10:00", "2026-13-01T00:00+00:00"])
def test_a_moment_that_is_none_is_refused_with_an_example(text):
    with pytest.raises(CommandError, match=r"2026-03-25T09:00\+01:00"):
        said("--at", text)
    assert not Person.objects.exists()


@pytest.fixture(scope="module")
def wednesday(django_db_setup, django_db_blocker):
    """Loaded once for the tests that only look; each of them runs in a savepoint inside this transaction."""
    with django_db_blocker.unblock(), transaction.atomic():
        yield load(WEDNESDAY)
        transaction.set_rollback(True)


def test_the_works_stand_with_all_rollers_two_spares_and_closed_surveys(wednesday):
    assert Counter(p.line.code for p in Position.objects.select_related("line")) == {"A": 9, "B": 14, "C": 10, "D": 7}
    assert Body.objects.count() == 42
    assert Body.objects.filter(whereabouts="spare").count() == 2
    assert not Body.objects.filter(diameter_measured=False).exists()
    assert Survey.objects.filter(closed_at=None).count() == 0 and Survey.objects.count() == 4
    assert Product.objects.count() == 12
    assert Person.objects.count() == len(STAFF) + 1 == 16


def test_on_wednesday_film_and_pouch_rollers_are_taped_and_the_coating_line_is_bare_after_tuesday(wednesday):
    assert on_lines() == {"A05": "taped", "C06": "taped"}
    assert running() == {"A": "SF-17", "B": "CP-70", "C": "ML-62", "D": "PT-50"}
    tuesday = TapeFact.objects.filter(kind="removed", position__code__in=("B09", "B04"), at__date=date(2026, 3, 24))
    assert {(fact.position.code, fact.details["pieces_removed"], fact.state) for fact in tuesday} == {
        ("B09", 8, "residue"),
        ("B09", 0, "bare"),
        ("B04", 3, "residue"),
        ("B04", 0, "residue"),
    }


def test_every_product_with_a_sheet_has_its_recipes_and_the_lid_waits_for_a_second_person_with_size(wednesday):
    in_force = set(RecipeVersion.objects.filter(state="in force").values_list("recipe__position__code", flat=True))
    assert in_force == {"A05", "B04", "B09", "C06", "D04"}
    waiting = RecipeVersion.objects.get(state="checked")
    assert waiting.recipe.position.code == "C06"
    assert [needed.meaning for needed in still_needed(waiting, WEDNESDAY)] == ["second size"]
    sheets = set(ProductSheet.objects.filter(state="in force").values_list("product__code", flat=True))
    assert sheets == set(Product.objects.exclude(code="MN-160").values_list("code", flat=True))


def test_each_line_may_go_on_and_what_stands_in_the_way_of_the_next_product_is_named(wednesday):
    for run in Run.objects.filter(state="released"):
        assert readiness(run.path, run.product_version, at=WEDNESDAY).may_run, run
    blocked = {
        run.product_version.product.code: {
            block.sentence.split(":")[0] for block in readiness(run.path, run.product_version, at=WEDNESDAY).blocks
        }
        for run in Run.objects.filter(state="planned")
    }
    assert blocked == {
        "SF-23": set(),
        "BO-20": {"B09"},
        "BO-35": {"B04", "B09"},
        "CP-70": set(),
        "MP-75": {"C06"},
        "PT-100": {"D04"},
    }


def test_one_operator_is_certified_to_the_end_of_wednesday_only(wednesday):
    rui = Person.objects.get(name="Rui Castell")
    assert is_certified(rui, "apply", "general", datetime(2026, 3, 25, 22, 59, 59, tzinfo=UTC))
    assert not is_certified(rui, "apply", "general", datetime(2026, 3, 25, 23, 0, tzinfo=UTC))
    for person in Person.objects.filter(role_grants__role__in=("operator", "qa")).exclude(
        name__in=("Rui Castell", "Tilda Roos")  # the trainee has no Apply yet
    ):
        assert is_certified(person, "apply", "general", datetime(2026, 4, 5, 22, 0, tzinfo=UTC)), person


def test_the_outside_consultant_has_dated_access_and_no_certificate(wednesday):
    guest = Person.objects.get(name=GUEST.name)
    assert guest.active_to == datetime(2026, 3, 31, 22, 0, tzinfo=UTC)
    assert not guest.certificates.exists()


def test_three_weeks_of_shifts_have_a_crew_and_the_night_of_the_clock_change_lasts_seven_hours(wednesday):
    shifts = list(Shift.objects.prefetch_related("crew"))
    assert len(shifts) == 63 and all(shift.crew.all() for shift in shifts)
    hours = {(str(s.date), s.name): (s.ends_at - s.starts_at).total_seconds() / 3600 for s in shifts}
    assert hours[("2026-03-28", "Night")] == 7
    assert set(hours.values()) == {7, 8}


def test_every_stream_of_events_is_chained_and_in_the_order_of_time(wednesday):
    heads = {}
    for event in Event.objects.order_by("stream", "seq"):
        seq, hash_before, at = heads.get(event.stream, (0, ZERO, event.at))
        assert (event.seq, event.previous_hash) == (seq + 1, hash_before)
        assert event.hash == chained(hash_before, event.body.encode())
        # The base of the works is entered noun by noun: signatures and papers on it are not in one order of time.
        assert event.at >= at or event.stream.startswith(("signatures:", "training")), event
        heads[event.stream] = (event.seq, event.hash, event.at)
    assert Event.objects.filter(at__gt=WEDNESDAY).count() == 0


def test_a_signature_of_the_demo_says_that_nobody_typed_a_secret(wednesday):
    assert set(Signature.objects.values_list("method", flat=True)) == {"demo"}
