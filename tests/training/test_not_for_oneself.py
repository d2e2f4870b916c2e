"""Pairs of hands that must be two persons, each asked of the page by a direct request of somebody who is both.

The same pairs are refused by the services (test_certificates, test_practicals, test_paths, test_tests, test_dues,
test_papers), and those that the database can hold are constraints. The API of training only reads, which is shown
here too, so there is no third way in.
"""

from datetime import timedelta

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from plant.web import clock
from tests import make
from tests.training import lessons
from training import content_files
from training.api import urls as api
from training.independence import bench, markable
from training.models import Assessment, Certificate, Coaching, Due, Practice, Skill, TriggerAnswer, Verdict
from training.queries_practicals import assessments
from training.services import ask_refresher, raise_dues
from training.services.figures import FIGURES, propose_figures
from training.services.suspending import suspend

pytestmark = [pytest.mark.django_db, pytest.mark.db_both]
AT, DAY = make.AT, timedelta(days=1)
BUDGET = 32  # session, person, roles, plant and shift take about twelve of them
EVIDENCE = {"evidence": "my own papers, in my own drawer", "secret": make.SECRET, "valid_from": "2026-03-25"}


@pytest.fixture(autouse=True)
def course(db, tmp_path, monkeypatch):
    make.plant()
    path = make.web_path(make.line("A"))
    make.person("Builder")
    make.position("A05", path=path, room=make.room("G1"))
    monkeypatch.setattr(clock, "now", lambda: AT)
    monkeypatch.setattr(content_files, "topics", lambda: content_files.Topics({}, {}))
    return lessons.lay_down(tmp_path)


@pytest.fixture
def trainee(course):
    return make.person("Tilda Roos", "operator", skills="aware")


@pytest.fixture
def every(course):
    """One person with every role and every skill of the office of training."""
    return make.person("Uma Sole", "trainer", "assessor", "qa", "supervisor", skills="aware apply teach assess")


def url(name, *args):
    return reverse(f"training:{name}", args=args)


def refused(client, address, data, said):
    answer = client.post(address, data)
    assert answer.status_code in (403, 422), answer.status_code
    assert said in " ".join(answer.content.decode().split()), answer.content.decode()[-3000:]


def test_nobody_issues_or_takes_over_the_own_certificate(signed_in, every):
    client = signed_in(every)
    typed = EVIDENCE | {"skill": "check"}
    said = "Nobody issues a certificate to himself or herself"
    refused(client, url("issue", every.pk), typed, said)
    refused(client, url("founding", every.pk), typed | {"valid_to": "2026-12-31"}, said)
    refused(client, url("certify", every.pk, "check"), {"secret": make.SECRET}, "has not done all")
    assert not Certificate.objects.filter(person=every, skill__code="check").exists()


def test_nobody_reinstates_the_own_certificate(signed_in, every, cast):
    held = Certificate.objects.get(person=every, skill__code="apply")
    suspend(held, reason="a tail led", by=cast.hanna, at=AT)
    refused(signed_in(every), url("act", held.pk, "reinstate"), {"reason": "I am sure of it"}, "own certificate")
    assert held.acts.get().kind == "suspended"


def test_nobody_answers_the_own_refresher_or_sets_the_own_due_aside(signed_in, every, cast):
    client = signed_in(every)
    trigger = ask_refresher(every, "apply", "finding", reason="wrong count", by=cast.yuki, at=AT)
    refused(client, url("refreshed", trigger.pk), {"evidence": "read it again at home"}, "own refresher")
    make.certificate(every, "hot", until=AT.date())
    raise_dues(AT)
    due = Due.objects.get(person=every, skill__code="hot", kind="renewal")
    refused(client, url("put-aside", due.pk), {"reason": "not needed any more"}, "Nobody sets aside")
    due.refresh_from_db()
    assert due.closed_at is None and not TriggerAnswer.objects.exists()


def test_nobody_signs_the_figures_that_he_or_she_proposed(signed_in, every):
    after = {"valid_months": 6}
    skill = Skill.objects.get(code="apply")
    figures = {name: getattr(skill, name) for name in FIGURES} | after
    made = propose_figures(skill, figures, reason="twice a year", by=every, at=AT)
    refused(signed_in(every), url("proposal", made.pk), {"secret": make.SECRET}, "propos")
    skill.refresh_from_db()
    assert skill.valid_months == 12


def test_nobody_signs_for_the_own_practice_coaching_or_attendance(signed_in, every, cast):
    client, _ = signed_in(every), cast.greta
    practice = {
        "skill": "apply",
        "kind": "job",
        "place": "A05",
        "room_kind": "general",
        "done_at": "2026-03-24T08:00",
        "outcome": "well",
        "note": "wound well",
        "secret": make.SECRET,
    }
    refused(client, url("practice", every.pk), practice, "Nobody signs the own practice")
    said = "Nobody coaches himself or herself. Ask Greta Munro (trainer)."
    refused(client, url("coach", every.pk, "apply"), {"note": "talked to myself"}, said)
    other = make.person("Odo Finch", "operator", skills="aware")
    held = lessons.teach(every, other, "apply", AT - DAY)
    refused(client, url("attend", held.pk, every.pk), {"minutes": 180, "note": ""}, every.name)
    assert not Practice.objects.exists() and not Coaching.objects.exists()
    assert held.attendances.get().person == other


def test_reader_witness_and_candidate_of_a_test_read_aloud_are_three_persons(signed_in, trainee, cast):
    client, lena, greta = signed_in(trainee), str(cast.lena.pk), str(cast.greta.pk)
    for reader, witness in ((lena, lena), (str(trainee.pk), greta), (lena, str(trainee.pk))):
        answer = client.post(url("begin-oral", "aware"), {"reader": reader, "witness": witness})
        assert answer.status_code == 422, (reader, witness)
    assert not trainee.attempts.exists()


def test_who_came_to_teach_the_person_meanwhile_does_not_end_the_assessment(signed_in, trainee, cast):
    made = lessons.begin(cast.greta, trainee, "apply", AT - DAY)
    client = signed_in(cast.greta)
    for step in range(1, 16):
        client.post(url("step", made.pk, step), {"mark": "done"})
    lessons.teach(cast.greta, trainee, "apply", AT - timedelta(hours=6))
    refused(client, url("end-practical", made.pk, "end"), {"secret": make.SECRET, "note": ""}, "taught Tilda Roos")
    assert not Verdict.objects.exists()


def test_a_coach_does_not_assess(signed_in, trainee, cast):
    Coaching.objects.create(
        person=trainee, skill=Skill.objects.get(code="apply"), at=AT - DAY, by=cast.greta, note="Went through mistakes"
    )
    address = url("assess", trainee.pk, "apply")
    for data in ({"kind": "taping"}, {}):
        refused(signed_in(cast.greta), address, data, "coached Tilda Roos")
    assert not Assessment.objects.exists()


def drawn_again(cast, assessor, n=30):
    """Assessments until one is drawn for a second marking."""
    for number in range(n):
        person = make.person(f"T {number}", "operator", skills="aware", home_shift="Early")
        verdict = lessons.assess(assessor, person, "apply", AT)
        if verdict.second_due:
            return verdict.assessment
    raise AssertionError("one of ten is drawn")


def test_a_second_marking_takes_neither_the_first_assessor_nor_the_person_nor_who_taught(signed_in, cast):
    found = drawn_again(cast, cast.dara)
    make.certificate(found.person, "apply")
    make.certificate(found.person, "assess")
    lessons.teach(cast.greta, found.person, "apply", AT - timedelta(hours=6))
    marks = {f"step{n}": "done" for n in range(1, 16)} | {"kind": "second", "secret": make.SECRET}
    for person in (cast.dara, found.person, cast.greta):
        assert signed_in(person).post(url("mark-again", found.pk), marks).status_code in (403, 422), person
    assert not found.markings.exists()


def test_the_list_of_second_markings_says_of_each_what_the_rule_says(cast, django_assert_num_queries):
    """Many at once in a fixed number of queries, against the rule asked one by one."""
    boss = make.person("Udo Brenner", "supervisor", skills="aware apply assess", home_shift="early")
    for n in range(4):
        person = make.person(f"T {n}", "operator", skills="aware", home_shift="Early" if n % 2 else "Late")
        lessons.assess(cast.dara, person, "apply", AT + n * DAY)
        if n == 2:
            lessons.teach(cast.greta, person, "apply", AT + 5 * DAY)
        if n == 3:
            lessons.practise(cast.greta, person, "apply", AT + 5 * DAY)
    rows, later = list(assessments().order_by("pk")), AT + 9 * DAY
    assert len(rows) == 4
    for reader in (cast.greta, boss, cast.dara, cast.ines):
        alone = [each for each in rows if bench(each.person, each.skill, later, also=[reader]).trouble(reader) is None]
        assert markable(reader, rows, later) == alone
    with django_assert_num_queries(13):
        markable(cast.greta, rows, later)
    with django_assert_num_queries(13):
        markable(cast.greta, rows[:1], later)


def test_the_api_of_training_only_reads(signed_in, every):
    client = signed_in(every)
    for pattern in api.urlpatterns:
        address = reverse(f"training-api:{pattern.name}")
        for verb in ("post", "put", "patch", "delete"):
            assert getattr(client, verb)(address, {}).status_code == 405, (verb, address)


def test_the_page_of_practicals_asks_the_same_for_two_second_markings_as_for_one(signed_in, cast):
    client, asked = signed_in(cast.greta), []
    for begin in (0, 10):
        for n in range(begin, begin + 10):
            lessons.assess(cast.dara, make.person(f"T {n}", "operator", skills="aware"), "apply", AT)
        with CaptureQueriesContext(connection) as queries:
            page = client.get(url("practicals")).content.decode()
        assert page.count("Mark it") == begin // 10 + 1
        asked.append(len(queries))
    assert asked[0] == asked[1] <= BUDGET
