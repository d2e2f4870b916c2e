"""The screens of causes: what is typed is kept when something is refused, and every act ends where it is seen."""

from uuid import uuid4

import pytest
from django.urls import reverse

from rollers.causes.models import CauseEntry, Sighting, Study, Walk, WalkResult
from rollers.models import Decision
from tests import make
from tests.causes.test_monday import counts, planned, ran
from tests.causes.world import stretch_line

pytestmark = pytest.mark.django_db


@pytest.fixture
def line(cast):
    return stretch_line(cast)


def page(name, *args):
    return reverse(name, args=args)


def test_a_look_without_a_grade_is_asked_back_with_everything_typed_kept(line, signed_in):
    client = signed_in(line.cast.ines)
    answer = client.post(page("causes-tablet:report", "A"), {"key": uuid4(), "before": "A05", "note": "at the seam"})
    assert answer.status_code == 422
    text = answer.content.decode()
    assert "Tap what the web shows" in text and "at the seam" in text and 'value="A05" checked' in text


def test_looked_none_is_one_button(line, signed_in):
    client = signed_in(line.cast.ines)
    answer = client.post(page("causes-tablet:report", "A"), {"key": uuid4(), "grade": "0", "before": "A06"})
    assert answer.status_code == 302
    assert Sighting.objects.get().grade == 0


def test_the_same_form_sent_twice_is_one_look(line, signed_in):
    client, sent = signed_in(line.cast.ines), {"key": uuid4(), "grade": "3", "before": "A06"}
    for _ in range(2):
        client.post(page("causes-tablet:report", "A"), sent)
    assert Sighting.objects.count() == 1


def test_a_walk_goes_roller_by_roller_upstream_and_names_one(line, signed_in):
    client = signed_in(line.cast.ines)
    started = client.post(
        page("causes-tablet:walk-line", "A"), {"key": uuid4(), "starts_from": "A06", "product": line.film.pk}
    )
    walk = Walk.objects.get()
    assert started.headers["Location"] == page("causes-tablet:walk", walk.pk)
    for code, seen in (("A06", "crease"), ("A05", "crease"), ("A04", "clean"), ("A03", "clean")):
        assert f"What does {code} show?" in client.get(page("causes-tablet:walk", walk.pk)).content.decode()
        client.post(page("causes-tablet:walk", walk.pk), {"key": uuid4(), "position": code, "seen": seen})
    done = client.post(page("causes-tablet:finish-walk", walk.pk), {"key": uuid4(), "changes_with_speed": "yes"})
    assert done.headers["Location"] == page("causes-tablet:walk-said", walk.pk)
    assert WalkResult.objects.get().first.code == "A05"
    said = client.get(page("causes-tablet:walk-said", walk.pk)).content.decode()
    assert "A05 starts it, with the span from A04 to A05" in said and "air film" in said


def test_a_cause_takes_a_value_or_a_reason_not_both_and_not_neither(line, signed_in):
    sheet, client = line.sheet(close=False, skip=("temperature", "drag")), signed_in(line.cast.dara)
    address = page("causes:fill", sheet.pk, "drag")
    for typed in ({}, {"drag-value": "3", "drag-unit": "%", "drag-reason": "no scale here"}):
        answer = client.post(address, typed)
        assert answer.status_code == 422
        assert "type what was measured, or why it was not checked" in answer.content.decode()
    assert client.post(address, {"drag-value": "3", "drag-unit": "%"}).status_code == 302
    assert CauseEntry.objects.filter(cause="drag").last().outcome == "pass"


def test_a_decision_for_tape_is_refused_with_its_sentence_and_the_reason_stays_typed(line, signed_in):
    client = signed_in(line.cast.dara)
    typed = {"answer": "tape", "ends": "both", "products": [line.film.product_id], "reason": "It creases every day"}
    answer = client.post(page("causes:decide", "A05"), typed)
    assert answer.status_code == 422
    text = answer.content.decode()
    assert "No finished line walk" in text and "It creases every day" in text
    assert client.post(page("causes:decide", "A05"), typed | {"answer": "watch"}).status_code == 302
    assert Decision.objects.get().answer == "watch"


def test_a_study_is_planned_in_plant_time_and_shown_with_its_windows(line, signed_in):
    client = signed_in(line.cast.dara)
    typed = {
        "measure": "wrinkles",
        "product": line.film.product_id,
        "what": "T1, four wraps",
        "before_from": "2026-03-01T06:00",
        "before_to": "2026-03-20T06:00",
        "after_from": "2026-03-21T06:00",
        "after_to": "2026-04-20T06:00",
        "currency": "EUR",
    }
    assert client.post(page("causes:plan-study", "A05"), typed).status_code == 302
    made = Study.objects.get()
    assert made.before_from.isoformat() == "2026-03-01T05:00:00+00:00"
    assert made.after_to.isoformat() == "2026-04-20T04:00:00+00:00"  # summer time by then
    late = client.post(page("causes:plan-study", "A05"), typed | {"after_from": "2026-03-19T06:00"})
    assert late.status_code == 422 and "before ends before" in late.content.decode()


def test_does_it_pay_prints_every_row_it_counts_and_no_year_from_a_week(line, signed_in):
    for n, events in enumerate(counts(46, 20)):
        ran(line, f"b{n}", -3, wrinkles=events)
    study = planned(line, saved_per_event=18.0, cost=240.0)
    for n, events in enumerate(counts(9, 20)):
        ran(line, f"a{n}", 2, metres=6500, wrinkles=events)
    client = signed_in(line.cast.sol)
    client.post(page("causes:work-out", study.pk))
    text = client.get(page("causes:pays-of", "A05")).content.decode()
    assert (
        "better" in text
        and "shorter than four weeks" in text
        and "a year" not in text.replace("any figure for a year", "")
    )
    rows = client.get(page("causes:pays-csv", "A05")).content.decode()
    assert rows.count("wrinkles,before") == 20 and rows.count("wrinkles,after") == 20


def test_a_guest_reads_but_exports_and_decides_nothing(line, signed_in):
    client = signed_in(make.person("Pia Hollander", "guest"))
    for name in ("causes:roller", "causes:pays-of"):
        assert client.get(page(name, "A05")).status_code == 200
    for name in ("causes:pays-csv", "causes:decide", "causes:plan-study", "causes:trial"):
        assert client.get(page(name, "A05")).status_code == 403
    assert client.post(page("causes:open-sheet", "A05")).status_code == 403


def test_the_line_for_a_product_that_never_ran_is_a_picture_with_its_figures(line, signed_in):
    stiff = make.product(
        "PE-12", line.path.line, width=1400, thickness=12, modulus=4500, tension=60, speed=200, friction=0.3
    )
    text = signed_in(line.cast.dara).get(page("causes:what-if", "A"), {"product": stiff.pk}).content.decode()
    assert "PE-12 at 60 N/m, 200 m/min" in text and "Nearest first" in text
