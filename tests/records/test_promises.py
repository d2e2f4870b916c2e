"""What no trigger can guard is found by verification: rows that say something nobody signed or did."""

import pytest
from django.db import connection

from plant.audit.models import Event
from plant.audit.verification.whole import verify
from plant.people.models import RoleGrant
from plant.people.services import grant_role, join, review_access
from plant.reports.engine import path_of
from plant.reports.models import StoredReport
from plant.reports.registry import Page, report
from plant.reports.services import ask_report, make_report, opened
from rollers.models import ProductSheet, RecipeVersion
from tests import make
from tests.records.tampering import unguarded
from tests.rollers.scenes import both, line_a

pytestmark = pytest.mark.django_db


@pytest.fixture
def scene(cast):
    scene = line_a(cast)
    version = scene.recipe("A05", ["SF-17"], make.stock("T1"), both(600, 792, 4))
    scene.sheet("SF-17", A05=version)
    return scene


def named():
    """What does not fit, but for the roles that the builders of the tests grant without an act."""
    return [str(misfit) for misfit in verify().misfits if not misfit.where.startswith("role ")]


@pytest.mark.db_both
def test_signed_documents_fit(scene):
    assert named() == []


@pytest.mark.db_both
def test_a_draft_that_direct_sql_brings_into_force_has_no_signatures(scene):
    draft = scene.draft("A05", ["SF-17"], make.stock("T1"), both(600, 792, 3))
    RecipeVersion.objects.filter(pk=draft.pk).update(state="in force", in_force_at=make.AT)
    assert any("came into force without the signature: authored" in line for line in named())


@pytest.mark.db_both
def test_a_checked_recipe_that_nobody_signed_and_one_without_a_moment_are_named(scene):
    draft = scene.draft("A05", ["SF-17"], make.stock("T1"), both(600, 792, 3))
    RecipeVersion.objects.filter(pk=draft.pk).update(state="checked")
    assert any("it is checked and nobody signed it" in line for line in named())
    RecipeVersion.objects.filter(pk=draft.pk).update(state="in force")
    assert any("no moment is on record" in line for line in named())


def test_a_signed_recipe_with_other_bands_is_named(scene):
    if connection.vendor != "sqlite":
        pytest.skip("the guards are taken away in SQLite")
    with unguarded() as cursor:
        cursor.execute("UPDATE rollers_band SET wraps = 5")
    assert any(line.startswith("recipe ") and line.endswith("for another version") for line in named())


def test_a_sheet_with_other_lines_or_without_a_signature_is_named(scene):
    if connection.vendor != "sqlite":
        pytest.skip("the guards are taken away in SQLite")
    with unguarded() as cursor:
        cursor.execute("DELETE FROM rollers_sheetline")
    assert any(line.startswith("product sheet ") and "another version" in line for line in named())
    sheet = ProductSheet.objects.get(state="in force")
    ProductSheet.objects.create(
        product=sheet.product,
        path=sheet.path,
        number=9,
        state="superseded",
        author=sheet.author,
        drafted_at=make.AT,
        in_force_at=make.AT,
    )
    assert any("v9: it is superseded and nobody signed it" in line for line in named())


@pytest.mark.db_both
def test_a_role_that_no_act_gave_is_named_and_one_that_was_granted_fits(cast):
    given = join(staff_no="900", name="New Hand", roles=["operator"], active_from=make.AT, by=cast.keeper, at=make.AT)
    grant_role(given, "trainer", by=cast.keeper, at=make.AT)
    roles = [str(misfit) for misfit in verify().misfits if " 900" in misfit.where]
    assert roles == []
    RoleGrant.objects.create(person=given, role="qa", granted_at=make.AT)
    roles = [str(misfit) for misfit in verify().misfits if " 900" in misfit.where]
    assert roles == ["role qa of 900: no act of the trail gave it"]


def test_a_review_of_access_with_another_conclusion_is_named(cast):
    if connection.vendor != "sqlite":
        pytest.skip("the guards are taken away in SQLite")
    review_access(conclusion="two persons have too many roles", confirmation=make.confirmation(cast.yuki))
    assert named() == []
    with unguarded() as cursor:
        cursor.execute("UPDATE people_accessreview SET conclusion = 'all well'")
    assert named() == ["review of access 1: its signature is not for this version"]


@report("for-the-test")
def _page(subject_id, at):
    return Page("A page", "base_report.html", {}, {"subject": subject_id}, at)


@pytest.mark.pdf
def test_a_report_is_named_when_its_file_changed_and_printing_and_opening_stand_in_the_trail(cast, settings, tmp_path):
    settings.MEDIA_ROOT = tmp_path
    asked = ask_report("for-the-test", "1", by=cast.yuki, at=make.AT)
    made = make_report(asked.pk, at=make.AT)
    opened(made, by=cast.yuki, at=make.AT)
    assert list(Event.objects.filter(stream="prints").values_list("action", flat=True)) == [
        "print",
        "make-report",
        "open-report",
    ]
    assert named() == []
    whole = path_of(made.file_name).read_bytes()
    path_of(made.file_name).write_bytes(whole[:-1] + b"\x00")
    assert named() == [f"report {made.pk}: its file was changed: the bytes do not give the recorded digest"]
    path_of(made.file_name).write_bytes(whole)
    if connection.vendor == "sqlite":
        with unguarded():
            StoredReport.objects.all().delete()
        assert named() == [f"report {made.pk}: it was made and is gone"]
