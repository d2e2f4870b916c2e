"""A look at the web is one row, sent once or twice; looked and none counts; a correction points back."""

from uuid import uuid4

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.db import DatabaseError, transaction

from plant.audit.models import Event
from plant.errors import Conflict, Refused
from plant.web.quantities import Typed
from rollers.causes.models import Sighting
from rollers.causes.queries import sightings_of
from rollers.causes.services.sightings import words_of
from tests import make
from tests.causes.world import later, stretch_line

pytestmark = pytest.mark.django_db


@pytest.fixture
def line(cast):
    return stretch_line(cast)


@pytest.mark.db_both
def test_the_same_report_sent_twice_is_one_row_and_one_event(line):
    key = uuid4()
    first = line.seen(3, key=key, lane="operator", direction="toward-drive")
    again = line.seen(3, key=key, lane="operator", direction="toward-drive")
    assert again.pk == first.pk
    assert Sighting.objects.count() == 1
    assert Event.objects.filter(action="report-sighting").count() == 1


def test_looked_and_none_is_kept_without_a_place(line):
    made = line.seen(0, before="")
    assert words_of(made) == "looked, none"
    assert made.lane == ""


def test_a_wrinkle_without_a_place_is_asked_back(line):
    with pytest.raises(Refused, match="before which roller") as refusal:
        line.seen(2, before="")
    assert refusal.value.field == "before"


def test_typed_units_are_kept_to_the_digit_and_stored_in_our_own(line):
    made = line.seen(3, speed_m_per_min=Typed("918", "fpm"), tension_n_per_m=Typed("0.29", "pli"))
    assert made.typed["speed_m_per_min"] == {"value": "918", "unit": "fpm"}
    assert made.speed_m_per_min == pytest.approx(279.8, abs=0.05)
    assert made.tension_n_per_m == pytest.approx(50.79, abs=0.01)


@pytest.mark.parametrize("words", ["on the left", "right side", "LINKS"])
def test_left_and_right_are_refused_in_the_note(line, words):
    with pytest.raises(Refused, match="operator end or drive end"):
        line.seen(2, note=words)


def test_a_time_that_has_not_come_is_refused(line):
    with pytest.raises(Refused, match="has not come yet"):
        line.seen(2, at=later(minutes=5), recorded_at=make.AT)


def test_a_roller_of_another_line_is_refused(line):
    other = make.position("B01", path=make.web_path(make.line("B")), room=make.room("G1"))
    with pytest.raises(Refused, match="not on line A"):
        line.seen(2, before=other.code)


def test_a_correction_is_a_row_that_points_back_and_only_the_newest_counts(line):
    wrong = line.seen(4)
    right = line.seen(2, corrects=wrong, reason="Looked again with the lamp")
    assert [row.pk for row in sightings_of(line.path.line)] == [right.pk]
    with pytest.raises(Conflict, match="corrected already"):
        line.seen(1, corrects=wrong, reason="Once more")


@pytest.mark.db_both
def test_the_database_itself_refuses_to_change_a_sighting(line):
    made = line.seen(3)
    with pytest.raises(DatabaseError), transaction.atomic():
        Sighting.objects.filter(pk=made.pk).update(grade=0)


def test_a_file_that_is_no_picture_is_refused_and_nothing_is_kept(line):
    upload = SimpleUploadedFile("photo.jpg", b"not a picture at all", content_type="image/jpeg")
    with pytest.raises(Refused, match="no photograph"):
        line.seen(3, photo=upload)
    assert not Sighting.objects.exists()


def test_who_left_the_plant_reports_nothing(line):
    gone = make.person("Gone Away", "operator", active_to=make.LONG_AGO)
    with pytest.raises(Refused, match="active here"):
        line.seen(1, by=gone)
