"""The trail as QA, keeper, manager and guest read it, and what is taken away of it."""

import csv
import io
import json
from datetime import timedelta

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from plant.audit.models import Event, Signature
from plant.audit.services import make_root
from plant.audit.verification.whole import verify
from plant.floor.services import change_plant
from plant.jobs.models import Job
from plant.jobs.running import run_one
from plant.people.services import end_role, grant_role
from plant.records.models import TrailReview
from plant.web import clock
from tests import make
from tests.records.test_verification import say

pytestmark = pytest.mark.django_db


@pytest.fixture
def told(cast, monkeypatch):
    """Some acts on a few days, and a clock that stands."""
    monkeypatch.setattr(clock, "now", lambda: make.AT)
    plant = make.plant()
    for number in range(3):
        say("line:A", cast.ines, f"tape {number} put on A05", make.AT - timedelta(days=number))
        say("line:B", cast.yuki, f"look {number} at B09", make.AT - timedelta(days=number))
    grant_role(cast.ines, "trainer", by=cast.keeper, at=make.AT)
    end_role(cast.ines, "trainer", reason="moved to the night shift", by=cast.keeper, at=make.AT)
    change_plant(plant, name="Tarn Hollow Works 2", time_zone="Europe/Vienna", units="si", by=cast.keeper, at=make.AT)
    return cast


def text_of(answer):
    return answer.content.decode()


def test_the_trail_is_found_by_person_stream_act_words_record_and_day(told, signed_in):
    client, url = signed_in(told.yuki), reverse("records:trail")
    everything = text_of(client.get(url))
    assert "9 events" in everything and "Tarn Hollow Works 2 changed" in everything
    for asked, has, lacks in (
        ({"person": told.ines.staff_no}, "tape 1 put on A05", "look 1 at B09"),
        ({"stream": "line:B"}, "look 2 at B09", "tape 1"),
        ({"action": "end-role"}, "is no longer trainer", "tape 1"),
        ({"words": "night shift"}, "is no longer trainer", "tape 1"),
        ({"kind": "person", "key": str(told.ines.pk)}, "is now trainer", "Works 2 changed"),
        ({"first": "2026-03-24", "last": "2026-03-24"}, "tape 1 put on A05", "tape 0"),
    ):
        page = text_of(client.get(url, asked))
        assert has in page and lacks not in page, asked
    assert "Nothing fits" in text_of(client.get(url, {"words": "no such thing"}))
    wrong = client.get(url, {"first": "yesterday"})
    assert wrong.status_code == 422 and "Type the day as year-month-day" in text_of(wrong)


def test_an_event_shows_the_old_value_beside_the_new_and_links_to_its_record(told, signed_in):
    event = Event.objects.get(action="change-plant")
    page = text_of(signed_in(told.yuki).get(reverse("records:event", args=[event.pk])))
    assert "Before" in page and "<td>Tarn Hollow Works</td><td>Tarn Hollow Works 2</td>" in page
    assert reverse("floor:plant") in page and event.hash in page and "stands as it was written" in page
    assert "the next daily root, within a day" in page


def test_a_guest_reads_of_the_line_but_not_of_persons_and_every_page_read_stands_in_the_trail(told, signed_in):
    guest = make.person("Pia Hollander", "guest")
    client = signed_in(guest)
    page = text_of(client.get(reverse("records:trail")))
    assert "tape 1 put on A05" not in page  # its subject is a person
    assert "Works 2 changed" in page and "is no longer trainer" not in page and "Export as CSV" not in page
    hidden = Event.objects.get(action="end-role")
    assert client.get(reverse("records:event", args=[hidden.pk])).status_code == 404
    assert client.post(reverse("records:export")).status_code == 403
    read = Event.objects.filter(stream=f"guest:{guest.staff_no}")
    assert [event.sentence for event in read] == [f"Pia Hollander read {reverse('records:trail')}"]


def test_an_operator_does_not_read_the_trail(told, signed_in):
    answer = signed_in(told.ines).get(reverse("records:trail"))
    assert answer.status_code == 403 and "Yuki Sandoval" in text_of(answer)


def test_an_export_says_filter_time_person_and_rows_and_no_cell_computes(told, signed_in):
    say("line:A", told.ines, "=1+1 put on A05")
    answer = signed_in(told.yuki).post(reverse("records:export"), {"stream": "line:A"})
    lines = text_of(answer).lstrip("\ufeff").splitlines()
    head = [line for line in lines if line.startswith("#")]
    assert "# filter: stream = line:A" in head and "# rows: 4" in head
    assert any(line.startswith("# by: Yuki Sandoval") for line in head)
    assert any(line.startswith("# written: 2026-03-25T10:00:00+01:00") for line in head)
    rows = list(csv.DictReader(io.StringIO("\n".join(lines[len(head) :]))))
    assert rows[0]["what"] == "'=1+1 put on A05"
    assert json.loads(rows[0]["canonical JSON"])["sentence"] == "=1+1 put on A05"
    event = Event.objects.get(action="export-trail")
    assert '"rows":4' in event.body and event.actor == told.yuki


def test_qa_reviews_the_trail_with_the_own_password_and_the_review_is_an_act_itself(told, signed_in):
    client, url = signed_in(told.yuki), reverse("records:reviews")
    assert "Review is due" in text_of(client.get(url))
    typed = {"first": "2026-03-24", "last": "2026-03-25", "remarks": "read all of it, nothing to ask back"}
    wrong = client.post(url, typed | {"secret": "not it"})
    assert wrong.status_code == 422 and "nothing to ask back" in text_of(wrong)
    short = client.post(url, typed | {"secret": make.SECRET, "remarks": "ok"})
    assert short.status_code == 422 and "at least a short sentence" in text_of(short)
    late = client.post(url, typed | {"secret": make.SECRET, "last": "2026-03-27"})
    assert late.status_code == 422 and "ends in the future" in text_of(late)
    assert client.post(url, typed | {"secret": make.SECRET}).status_code == 302
    review = TrailReview.objects.get()
    assert review.events == Event.objects.filter(at__gte=review.since, at__lt=review.until).count() == 2
    assert review.signature.meaning == "trail reviewed"
    assert Event.objects.get(action="review-trail").actor == told.yuki
    page = text_of(client.get(url))
    assert "Review is due" not in page and review.signature.digest in page and "own password, typed again" in page
    assert [str(misfit) for misfit in verify().misfits if "review" in misfit.where] == []
    assert signed_in(told.sol).post(url, typed | {"secret": make.SECRET}).status_code == 403


def test_a_proof_is_taken_once_a_root_covers_the_event_and_the_taking_is_recorded(told, signed_in):
    client, event = signed_in(told.yuki), Event.objects.filter(stream="line:A").first()
    early = client.post(reverse("records:proof", args=[event.pk]))
    assert early.status_code == 409 and "The next one is made within a day" in text_of(early)
    root = make_root(make.AT)
    proof = json.loads(client.post(reverse("records:proof", args=[event.pk])).content)
    assert proof["root"] == root.root
    assert Event.objects.filter(action="export-proof").count() == 1
    script = b"".join(client.get(reverse("records:script")).streaming_content)
    assert script.startswith(b"#!/usr/bin/env python3")
    file = client.post(reverse("records:roots-file"))
    assert json.loads(file.content.splitlines()[0])["root"] == root.root
    assert root.root in text_of(client.get(reverse("records:roots")))


def test_verification_is_asked_for_done_by_a_job_and_told_with_its_outcome(told, signed_in):
    client = signed_in(told.keeper)
    assert client.post(reverse("records:verify")).status_code == 302
    assert run_one(Job.objects.get(work="verify records").pk, make.AT)
    event = Event.objects.get(action="verify-records")
    assert event.actor == told.keeper
    page = text_of(client.get(reverse("records:roots")))
    # the builders of the tests grant roles without an act, and exactly that is what it names
    assert "something does not fit" in page and "no act of the trail gave it" in page


def test_a_page_of_the_trail_asks_the_same_few_questions_for_many_events(told, signed_in):
    client, url = signed_in(told.yuki), reverse("records:trail")

    def count():
        with CaptureQueriesContext(connection) as asked:
            assert client.get(url).status_code == 200
        return len(asked)

    few = count()
    for number in range(40):
        say(f"line:{number}", told.ines, "more")
    assert count() == few <= 14


def test_signing_is_locked_after_five_wrong_tries_also_here(told, signed_in):
    client, url = signed_in(told.yuki), reverse("records:reviews")
    typed = {"first": "2026-03-24", "last": "2026-03-25", "remarks": "read all of it, nothing to ask back"}
    for _ in range(5):
        client.post(url, typed | {"secret": "not it"})
    answer = client.post(url, typed | {"secret": make.SECRET})
    assert answer.status_code == 422 and "Signing is locked" in text_of(answer)
    assert Signature.objects.count() == 0
