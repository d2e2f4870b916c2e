"""Direct SQL against rows that never change: not updated, not deleted, not replaced, not emptied."""

import pytest
from django.db import DatabaseError, connection, transaction

from plant.audit.models import Event
from plant.audit.services import make_root
from plant.floor.services import reclassify_room
from plant.people.models import RoleGrant
from plant.people.services import end_role, grant_role, issue_badge, review_access
from plant.reports.models import StoredReport
from rollers.models import Band, Mounting, RecipeVersion, SheetLine, Survey
from tests import make
from tests.rollers.scenes import both, line_a

pytestmark = [pytest.mark.django_db, pytest.mark.db_both]
SIGNED = ("rollers_band", "rollers_recipeproduct", "rollers_recipeversion", "rollers_sheetline", "rollers_productsheet")
FACTS = ("audit_event", "audit_signature", "rollers_tapefact", "rollers_calculation", "training_certificate")


@pytest.fixture
def scene(cast):
    scene = line_a(cast)
    version = scene.recipe("A05", ["SF-17"], make.stock("T1"), both(600, 792, 4))
    scene.sheet("SF-17", A05=version)
    scene.tape("A05", version, by=cast.ines)
    return scene


def rows_of(table):
    with connection.cursor() as cursor:
        cursor.execute(f"SELECT * FROM {table} ORDER BY id")
        return [column[0] for column in cursor.description], cursor.fetchall()


def refused(sql, params=()):
    with pytest.raises(DatabaseError), transaction.atomic(), connection.cursor() as cursor:
        cursor.execute(sql, params)


@pytest.mark.parametrize("table", SIGNED + FACTS)
def test_a_row_that_never_changes_is_not_replaced_by_another_with_its_key(scene, table):
    """In SQLite, REPLACE deletes the old row without asking its DELETE trigger (unless recursive_triggers is on)."""
    if connection.vendor != "sqlite":
        pytest.skip("REPLACE is a word of SQLite")
    names, rows = rows_of(table)
    marks = ", ".join(["%s"] * len(names))
    refused(f"INSERT OR REPLACE INTO {table} VALUES ({marks})", rows[0])
    assert rows_of(table)[1] == rows


def test_an_event_is_not_replaced_by_another_in_its_place_of_the_stream(scene):
    if connection.vendor != "sqlite":
        pytest.skip("REPLACE is a word of SQLite")
    names, rows = rows_of("audit_event")
    forged = list(rows[0])
    forged[names.index("id")], forged[names.index("sentence")] = 999_999, "nothing happened"
    marks = ", ".join(["%s"] * len(names))
    refused(f"INSERT OR REPLACE INTO audit_event VALUES ({marks})", forged)
    assert not Event.objects.filter(sentence="nothing happened").exists()


def test_a_draft_does_not_push_a_signed_version_out_of_its_place(scene, cast):
    if connection.vendor != "sqlite":
        pytest.skip("REPLACE is a word of SQLite")
    draft = scene.draft("A05", ["SF-17"], make.stock("T1"), both(600, 792, 3))
    signed = RecipeVersion.objects.get(state="in force")
    refused("UPDATE OR REPLACE rollers_recipeversion SET number = %s WHERE id = %s", [signed.number, draft.pk])
    assert RecipeVersion.objects.filter(pk=signed.pk).exists()


@pytest.mark.django_db(transaction=True)
@pytest.mark.parametrize("table", SIGNED)
def test_signed_tables_are_not_emptied_at_once(scene, table):
    if connection.vendor != "postgresql":
        pytest.skip("TRUNCATE is a word of PostgreSQL")
    refused(f"TRUNCATE {table}")
    refused(f"TRUNCATE {table} CASCADE")
    assert Band.objects.count() == 2
    assert SheetLine.objects.count() == 1


HISTORY = {
    "rollers_mounting": ("mounted_at = '2020-01-01 00:00:00+00'", "removed_at = '2020-01-01 00:00:00+00'"),
    "people_rolegrant": ("role = 'keeper'", "ended_at = NULL"),
    "people_badge": ("code = 'mine'", "ended_at = NULL"),
    "people_accessreview": ("conclusion = 'all well'", "signature_id = NULL"),
    "floor_roomclass": ("kind = 'general'", "valid_to = NULL"),
    "reports_storedreport": ("title = 'other'", "digest = 'other'"),
    "rollers_survey": ("opened_at = '2020-01-01 00:00:00+00'", "closed_at = NULL"),
}


@pytest.fixture
def history(scene, cast):
    """A row of each kind of history that has ended."""
    issue_badge(cast.ines, code="2345-6789", by=cast.keeper, at=make.AT)
    issue_badge(cast.ines, code="2345-6788", by=cast.keeper, at=make.AT)
    grant_role(cast.ines, "trainer", by=cast.keeper, at=make.AT)
    end_role(cast.ines, "trainer", reason="over", by=cast.keeper, at=make.AT)
    review_access(conclusion="nobody has too much", confirmation=make.confirmation(cast.yuki))
    room = make.room("G1")
    reclassify_room(room, kind="food", valid_from=make.AT, reason="food from now", by=cast.keeper, at=make.AT)
    asked = {"kind": "x", "subject_id": "1", "title": "x", "asked_by": cast.yuki, "asked_at": make.AT}
    StoredReport.objects.create(**asked, made_at=make.AT, digest="0" * 64)
    Survey.objects.create(room=room, opened_at=make.AT, opened_by=cast.yuki, closed_at=make.AT)
    Mounting.objects.filter(position__code="A05").update(removed_at=make.AT)
    return scene


@pytest.mark.parametrize("table", HISTORY)
def test_history_that_ended_is_not_changed_reopened_or_deleted(history, table):
    before = rows_of(table)
    assert before[1]
    for change in HISTORY[table]:
        refused(f"UPDATE {table} SET {change}")
    refused(f"DELETE FROM {table}")
    assert rows_of(table) == before


def test_an_open_row_of_history_may_end_and_change_in_nothing_else(history):
    refused("UPDATE people_rolegrant SET role = 'keeper' WHERE ended_at IS NULL")
    refused("UPDATE rollers_mounting SET orientation = 'flipped' WHERE removed_at IS NULL")
    assert RoleGrant.objects.filter(ended_at=None).update(ended_at=make.AT) > 0


def test_the_head_of_a_stream_does_not_go_back_or_away(scene):
    refused("UPDATE audit_streamhead SET seq = seq - 1")
    refused("UPDATE audit_streamhead SET seq = seq + 2")
    refused("UPDATE audit_streamhead SET hash = 'x'")
    refused("DELETE FROM audit_streamhead")


@pytest.mark.parametrize("table", ["audit_dailyroot", "audit_roothead"])
def test_a_daily_root_is_not_changed_or_deleted(scene, table):
    make_root(make.AT)
    refused(f"UPDATE {table} SET id = id")
    refused(f"DELETE FROM {table}")


def test_a_new_link_that_does_not_fit_the_chain_is_refused(scene):
    names, rows = rows_of("audit_event")
    last = dict(zip(names, max(rows, key=lambda row: row[names.index("seq")]), strict=True))
    forged = last | {"id": 999_999, "seq": last["seq"] + 1, "previous_hash": "f" * 64}
    columns, marks = ", ".join(names), ", ".join(["%s"] * len(names))
    refused(f"INSERT INTO audit_event ({columns}) VALUES ({marks})", [forged[name] for name in names])
    apart = last | {"id": 999_999, "seq": last["seq"] + 7}
    refused(f"INSERT INTO audit_event ({columns}) VALUES ({marks})", [apart[name] for name in names])
