"""Two persons act at the same moment: one is told, nothing is lost, nothing breaks."""

import threading

import pytest
from django.db import connection

from plant.errors import Conflict, Refused
from plant.people.services import join, try_sign_in
from rollers.models import LimitSet, Mounting, ProductSheet, RecipeProduct, RecipeVersion
from rollers.services import mountings, sheets
from rollers.services.approving import approve_recipe
from rollers.services.calculations import set_limits
from rollers.services.recipes import withdraw_recipe
from rollers.services.runs import plan_run, release_run
from tests import make
from tests.rollers.scenes import both, line_a
from tests.training.test_certificates_at_once import together

pytestmark = [pytest.mark.django_db(transaction=True), pytest.mark.db_both]


def refused_codes(outcomes):
    return sorted(outcome.code for outcome in outcomes if isinstance(outcome, Refused))


def test_two_recipes_of_one_place_approved_at_once_leave_one_in_force_and_the_other_superseded(cast):
    scene = line_a(cast)
    versions = [
        scene.signed(scene.draft("A05", ["SF-17"], make.stock("T1"), both(600, 792, 4), title=title))
        for title in ("one", "two")
    ]
    signers = [make.confirmation(cast.hanna), make.confirmation(cast.babak)]
    outcomes = together(
        *(
            lambda version=version, signer=signer: approve_recipe(version, meaning="approved", confirmation=signer)
            for version, signer in zip(versions, signers, strict=True)
        )
    )
    assert all(isinstance(outcome, RecipeVersion) for outcome in outcomes), outcomes
    states = sorted(RecipeVersion.objects.values_list("state", flat=True))
    assert states == ["in force", "superseded"]
    assert RecipeProduct.objects.get(in_force=True).version.state == "in force"


def test_a_withdrawal_and_a_successor_at_once_end_in_one_of_two_orders(cast):
    scene = line_a(cast)
    old = scene.recipe("A05", ["SF-17"], make.stock("T1"), both(600, 792, 4), title="one")
    new = scene.signed(scene.draft("A05", ["SF-17"], make.stock("T1"), both(600, 792, 4), title="two"))
    signer, yuki = make.confirmation(cast.hanna), cast.yuki
    outcomes = together(
        lambda: approve_recipe(new, meaning="approved", confirmation=signer),
        lambda: withdraw_recipe(old, reason="adhesive transfer seen", by=yuki, at=make.AT),
    )
    assert isinstance(outcomes[0], RecipeVersion), outcomes
    assert outcomes[1] is None or isinstance(outcomes[1], Conflict)
    old.refresh_from_db()
    assert old.state in ("withdrawn", "superseded")


def test_a_sheet_withdrawn_while_it_is_signed_does_not_come_back(cast, monkeypatch):
    scene = line_a(cast)
    draft = sheets.draft_sheet(product=scene.product("SF-17"), path=scene.path, choices={}, by=cast.hanna, at=make.AT)
    signer, yuki = make.confirmation(cast.hanna), cast.yuki
    withdrawn = threading.Event()
    plain = sheets.access.sheet

    def slow(pk):
        withdrawn.wait(timeout=1)
        return plain(pk)

    monkeypatch.setattr(sheets.access, "sheet", slow)

    def withdraw():
        try:
            sheets.withdraw_sheet(draft, reason="signed in error, see log", by=yuki, at=make.AT)
        finally:
            withdrawn.set()

    outcomes = together(lambda: sheets.sign_sheet(draft, confirmation=signer), withdraw)
    events = [type(outcome).__name__ for outcome in outcomes]
    draft.refresh_from_db()
    # Whichever came first: what was withdrawn stays withdrawn.
    assert draft.state == ProductSheet.State.WITHDRAWN, events


def test_two_releases_of_one_line_at_once_let_one_run_start(cast):
    scene = line_a(cast)
    scene.sheet("SF-17")
    runs = [
        plan_run(
            path=scene.path,
            version=scene.versions["SF-17"],
            tension_n_per_m=50,
            speed_m_per_min=280,
            starts_at=make.AT,
            by=cast.hanna,
            at=make.AT,
        )
        for _ in range(2)
    ]
    signers = [make.confirmation(cast.hanna), make.confirmation(cast.babak)]
    outcomes = together(
        *(
            lambda run=run, signer=signer: release_run(run, confirmation=signer)
            for run, signer in zip(runs, signers, strict=True)
        )
    )
    assert refused_codes(outcomes) == ["line-busy"], outcomes


def test_two_who_turn_one_roller_at_once_turn_it_once_or_twice_but_break_nothing(cast):
    scene = line_a(cast)
    kwame, dara, place = cast.kwame, cast.dara, scene["A05"]
    outcomes = together(
        lambda: mountings.turn_body(place, by=kwame, at=make.AT),
        lambda: mountings.turn_body(place, by=dara, at=make.AT),
    )
    assert all(isinstance(outcome, Mounting | Conflict) for outcome in outcomes), outcomes


def test_two_changes_of_limits_at_once_become_two_versions_or_one_is_told(cast):
    engineers = [make.confirmation(cast.dara), make.confirmation(make.person("Elsa Roth", "engineer"))]
    quality = [make.confirmation(cast.yuki), make.confirmation(make.person("Omar Lind", "qa"))]
    outcomes = together(
        *(
            lambda engineer=engineer, qa=qa: set_limits(
                {"edge_ratio": {"caution": 1.5}},
                reason="trial on line A showed early slip",
                engineer=engineer,
                qa=qa,
                at=make.AT,
            )
            for engineer, qa in zip(engineers, quality, strict=True)
        )
    )
    assert all(isinstance(outcome, LimitSet | Conflict) for outcome in outcomes), outcomes


def test_two_joiners_with_one_number_at_once_become_one_person(cast):
    keeper = cast.keeper
    common = {"staff_no": "777", "roles": ["operator"], "active_from": make.AT, "by": keeper, "at": make.AT}
    outcomes = together(*(lambda name=name: join(name=name, **common) for name in ("Ada Falk", "Bo Falk")))
    assert refused_codes(outcomes) == ["number-taken"], outcomes


def test_wrong_secrets_sent_at_once_are_counted_one_by_one(cast):
    ines = cast.ines
    outcomes = together(*(lambda n=n: try_sign_in(ines.staff_no, f"guess {n}", at=make.AT) for n in range(6)))
    assert refused_codes(outcomes) == ["wait"] * 3 + ["wrong-secret"] * 3
    ines.refresh_from_db()
    assert ines.sign_in_failures == 3
    connection.close()
