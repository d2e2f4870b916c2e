"""The screens of learning: no key on the page, own answers for few eyes, each refusal by address too."""

import json
import re
from datetime import timedelta

import pytest
from django.urls import reverse

from plant.web import clock
from tests import make
from tests.training import lessons
from training import content_files, pages
from training.models import (
    Assessment,
    Attempt,
    AttemptResult,
    Certificate,
    Marking,
    Pick,
    QuestionVersion,
    StepMark,
    Verdict,
)
from training.services.content import lay_down_content

AT = make.AT
DAY = timedelta(days=1)


@pytest.fixture(autouse=True)
def course(db, tmp_path, monkeypatch):
    make.plant()
    path = make.web_path(make.line("A"))
    make.person("Builder")
    make.position("A05", path=path, room=make.room("G1"))
    monkeypatch.setattr(clock, "now", lambda: AT)
    monkeypatch.setattr(content_files, "topics", lambda: content_files.Topics({}, {}))
    return lessons.lay_down(tmp_path, langs=("en", "de"))


@pytest.fixture
def trainee():
    return make.person("Tilda Roos", "operator", skills="aware")


def url(name, *args):
    return reverse(f"training:{name}", args=args)


def words(answer):
    return " ".join(re.sub(r"<[^>]+>", " ", answer.content.decode()).split())


def begun(client, code="aware"):
    answer = client.post(url("begin-test", code))
    assert answer.status_code == 302
    return Attempt.objects.latest("pk")


@pytest.mark.parametrize("code", ["aware", "apply", "size"])
def test_the_page_of_an_open_test_and_every_answer_of_the_server_hold_no_key_and_no_why(signed_in, trainee, code):
    client = signed_in(trainee)
    attempt = begun(client, code)
    answers = [
        client.get(url("test", attempt.pk)),
        client.get(url("test", attempt.pk), headers={"Accept": "application/json"}),
        client.post(url("keep-picks", attempt.pk), {"q1": "2"}, headers={"HX-Request": "true"}),
        client.post(url("keep-picks", attempt.pk), {"q1": "2"}, headers={"Accept": "application/json"}),
        client.get(url("path")),
        client.get(url("begin-test", code)),
    ]
    for answer in answers:
        assert answer.status_code in (200, 302)
        body = answer.content.decode()
        assert "Because of" not in body
        assert not re.search(r"answer=|data-answer|correct|\bwhy\b|\bseed\b", body)
        assert attempt.seed not in body
    # Option and value say no more than the order on the page, and that order is no order of the bank.
    page = answers[0].content.decode()
    values = re.findall(r'name="q\d+" value="(\d)"', page)
    assert values == ["0", "1", "2", "3"] * attempt.drawn.count()
    places = [lessons.key(row) for row in attempt.drawn.select_related("version")]
    assert len(set(places)) > 1


def test_the_order_of_the_options_on_the_page_is_the_drawn_one(signed_in, trainee):
    client = signed_in(trainee)
    attempt = begun(client)
    page = client.get(url("test", attempt.pk)).content.decode()
    row = attempt.drawn.select_related("version").get(place=1)
    found = re.findall(rf'name="q1" value="\d"[^>]*> <span>({row.version.question.code} option \d en)</span>', page)
    assert found == [row.version.options[index] for index in row.order]


def test_a_test_survives_a_reload_and_is_handed_in_once(signed_in, trainee):
    client = signed_in(trainee)
    attempt = begun(client)
    client.post(url("keep-picks", attempt.pk), {"q1": "2", "q2": "7", "q99": "1", "qx": "1"})
    assert dict(Pick.objects.values_list("drawn__place", "shown")) == {1: 2}
    page = client.get(url("test", attempt.pk)).content.decode()
    assert page.count(" checked") == 1 and "1 of 10 answered and kept" in page
    ticks = {f"q{place}": shown for place, shown in lessons.answers(attempt).items()}
    for _ in range(2):
        answer = client.post(url("test", attempt.pk), ticks, follow=True)
        assert answer.status_code == 200 and "Because of" in words(answer)
    assert AttemptResult.objects.get().right == 10
    assert client.post(url("keep-picks", attempt.pk), {"q1": "1"}).status_code == 409


def test_nobody_else_sees_answers_or_hands_in_an_open_test(signed_in, trainee, cast):
    attempt = begun(signed_in(trainee))
    for other in (cast.greta, cast.dara, cast.ines, cast.yuki):
        client = signed_in(other)
        assert client.get(url("test", attempt.pk)).status_code == 403
        assert client.post(url("test", attempt.pk), {"q1": "1"}).status_code == 403
        assert client.post(url("keep-picks", attempt.pk), {"q1": "1"}).status_code == 403
    assert not Pick.objects.exists() and not AttemptResult.objects.exists()


def test_scores_are_seen_by_the_person_the_trainer_and_the_assessor_only(signed_in, trainee, cast):
    result = lessons.sit_test(trainee, "aware", wrong=1)
    for person, status in ((trainee, 200), (cast.greta, 200), (cast.dara, 200)):
        answer = signed_in(person).get(url("test", result.attempt_id))
        assert answer.status_code == status and "Right is:" in words(answer)
    for person in (cast.yuki, cast.hanna, cast.sol, cast.ines, cast.keeper):
        client = signed_in(person)
        for address in (
            url("test", result.attempt_id),
            url("path-of", trainee.pk),
            url("skill-path", trainee.pk, "aware"),
        ):
            answer = client.get(address)
            assert answer.status_code == 403 and "Greta Munro" in words(answer)
        trail = client.get(reverse("people:person", args=[trainee.pk]))
        assert not re.search(r"passed|not yet: |9 / 10", words(trail).split("Trail")[-1]) or trail.status_code != 200


def test_after_two_failures_the_page_says_what_comes_first(signed_in, trainee, cast):
    assert cast.greta
    for minutes in (40, 20):
        lessons.sit_test(trainee, "aware", AT - timedelta(minutes=minutes), wrong=9)
    client = signed_in(trainee)
    assert "a talk with the trainer first" in words(client.get(url("begin-test", "aware")))
    answer = client.post(url("begin-test", "aware"))
    assert answer.status_code == 422 and "Greta Munro (trainer)" in words(answer)


def test_reader_and_witness_sign_with_their_own_secrets_and_a_wrong_one_loses_nothing(signed_in, trainee, cast):
    client = signed_in(trainee)
    client.post(url("begin-oral", "aware"), {"reader": cast.mei.pk, "witness": cast.hanna.pk})
    attempt = Attempt.objects.get()
    ticks = {f"q{place}": shown for place, shown in lessons.answers(attempt).items()}
    wrong = client.post(url("test", attempt.pk), ticks | {"reader_secret": "no", "witness_secret": make.SECRET})
    assert wrong.status_code == 422 and "Mei Okafor: This is not your password" in words(wrong)
    assert wrong.content.decode().count(" checked") == 10
    both = {"reader_secret": make.SECRET, "witness_secret": make.SECRET}
    assert client.post(url("test", attempt.pk), ticks | both).status_code == 302
    assert AttemptResult.objects.get().passed


def test_a_module_page_carries_its_language_and_switches_it(signed_in, trainee):
    client = signed_in(trainee)
    assert '<article class="lesson" lang="en">' in client.get(url("module", 1)).content.decode()
    page = client.get(url("module", 1), {"lang": "de"}).content.decode()
    assert '<article class="lesson" lang="de">' in page and "Module 1 de" in page
    trainee.language = "de"
    trainee.save()
    assert 'lang="de"' in client.get(url("module", 2)).content.decode()


def test_read_and_understood_is_said_of_the_version_on_the_page(signed_in, trainee, course):
    client = signed_in(trainee)
    page = client.get(url("module", 1)).content.decode()
    sent = dict(re.findall(r'name="(version|opened)" value="([^"]+)"', page))
    assert client.post(url("module", 1), sent).status_code == 302
    assert trainee.readings.get().version.number == 1
    (course / "en" / "modules" / "01-part.md").write_text(lessons.module_file(1, version=2, text="Another text."))
    lay_down_content(at=AT, folder=course)
    assert "changed since you read it" in words(client.get(url("modules")))
    assert "Another text." in words(client.get(url("module-changes", 1)))
    late = client.post(url("module", 1), sent)
    assert late.status_code == 422 and "changed since you opened it" in words(late)


def test_the_text_of_a_module_lets_no_markup_script_or_foreign_address_through():
    text = (
        "<script>alert(1)</script>\n\n[a](javascript:alert(1)) [b](https://example.org) ![c](http://example.org/x.png)\n\n"
        "[d](//example.org/x) [own](/training/) ![tail](drawing:tail-trailing) ![tail](drawing:tail-trailing)"
    )
    html = pages.html_of(text, "en")
    assert "<script" not in html and 'href="javascript' not in html and 'example.org/x.png"' not in html
    assert 'href="https' not in html and 'href="//' not in html
    assert 'href="/training/"' in html
    ids = re.findall(r'\bid="([^"]+)"', html)
    assert html.count("<svg") >= 2 and len(ids) == len(set(ids))


@pytest.mark.parametrize("name", ["..%2F..%2Fsettings.py", "x.py", "none.png", ".png", "a.png.exe"])
def test_only_pictures_and_clips_of_the_content_are_served(signed_in, trainee, name):
    assert signed_in(trainee).get(f"/training/learning/content/en/{name}").status_code == 404


def ties(cast, trainee):
    """Every reason for which somebody may not assess, with the person."""
    lessons.teach(cast.greta, trainee, "apply", AT - 9 * DAY)
    lessons.practise(cast.lena, trainee, "apply", AT - 8 * DAY)
    make.certificate(cast.lena, "assess")
    trainee.home_shift = "Early"
    trainee.save()
    boss = make.person("Udo Brenner", "supervisor", skills="aware apply assess", home_shift="Early")
    level = make.person("Vera Klotz", "assessor", skills="aware assess")
    make.certificate(trainee, "assess")
    return {
        "taught": (cast.greta, "taught Tilda Roos"),
        "supervised": (cast.lena, "supervised Tilda Roos"),
        "boss": (boss, "direct supervisor"),
        "no level": (level, "never been certified for Apply"),
        "no assess": (cast.ines, "never been certified for Assess"),
        "self": (trainee, "Nobody assesses himself"),
    }


def test_each_tie_is_refused_by_page_and_by_direct_request_and_names_who_may(signed_in, trainee, cast):
    assert cast.dara
    for reason, (assessor, said) in ties(cast, trainee).items():
        client, address = signed_in(assessor), url("assess", trainee.pk, "apply")
        for answer in (client.get(address), client.post(address, {"kind": "taping"})):
            assert answer.status_code == 403, reason
            assert said in words(answer), (reason, words(answer))
            assert "Dara Whitlow" in words(answer), reason
    assert not Assessment.objects.exists()


def test_fifteen_steps_are_marked_one_after_another_and_both_sign(signed_in, trainee, cast):
    client = signed_in(cast.dara)
    assert client.post(url("assess", trainee.pk, "apply"), {"kind": "taping", "line": "A"}).status_code == 302
    made = Assessment.objects.get()
    assert (made.place, made.drawn_from) == ("A05", ["A05"])
    for step in range(1, 16):
        data = {"mark": "done", "note": "", "photo": make.photo()} if step == 8 else {"mark": "done"}
        answer = client.post(url("step", made.pk, step), data)
        following = url("step", made.pk, step + 1) if step < 15 else url("practical", made.pk)
        assert (answer.status_code, answer.headers["Location"]) == (302, following)
    assert made.photos.get().step == 8
    wrong = client.post(url("end-practical", made.pk, "end"), {"secret": "no", "note": "Good hands"})
    assert wrong.status_code == 422 and "Good hands" in wrong.content.decode()
    client.post(url("end-practical", made.pk, "end"), {"secret": make.SECRET})
    assert Verdict.objects.get().outcome == "passed"
    for person in (cast.greta, cast.mei):
        assert signed_in(person).post(url("candidate", made.pk), {"secret": make.SECRET}).status_code == 403
    assert client.post(url("candidate", made.pk), {"secret": "no"}).status_code == 422
    assert client.post(url("candidate", made.pk), {"secret": make.SECRET}).status_code == 302
    assert Verdict.objects.get().candidate.signature.printed_name == "Tilda Roos"


def test_nobody_but_the_assessor_marks_ends_or_photographs_by_direct_request(signed_in, trainee, cast):
    made = lessons.begin(cast.dara, trainee, "apply")
    for person in (trainee, cast.greta, cast.mei, cast.yuki):
        client = signed_in(person)
        assert client.post(url("step", made.pk, 1), {"mark": "done"}).status_code == 403
        assert client.post(url("step", made.pk, 1), {"photo": make.photo()}).status_code == 403
        for how in ("end", "break-off"):
            data = {"secret": make.SECRET, "reason": "because"}
            assert client.post(url("end-practical", made.pk, how), data).status_code == 403
    assert not StepMark.objects.exists() and not made.photos.exists()


def test_a_file_that_is_no_picture_is_refused_on_the_step_and_the_note_stays(signed_in, trainee, cast):
    made = lessons.begin(cast.dara, trainee, "apply")
    fake = make.photo("tail.png")
    fake.file.seek(0)
    fake.file.write(b"%PDF-1.7")
    answer = signed_in(cast.dara).post(url("step", made.pk, 8), {"mark": "done", "note": "tail", "photo": fake})
    assert (
        answer.status_code == 422 and "no photograph" in words(answer) and "tail</textarea>" in answer.content.decode()
    )
    assert not StepMark.objects.exists()


def test_a_second_marking_is_made_without_the_first_marks_in_sight(signed_in, trainee, cast):
    made = lessons.assess(cast.dara, trainee, "apply", not_done=(2,)).assessment
    other = lessons.assess(cast.dara, make.person("Ole Dahl", "operator", skills="aware"), "apply", AT).assessment
    due = next((each for each in (made, other) if each.verdict.second_due), None)
    while due is None:
        person = make.person(f"P {Assessment.objects.count()}", "operator", skills="aware")
        found = lessons.assess(cast.dara, person, "apply", AT).assessment
        due = found if found.verdict.second_due else None
    client = signed_in(cast.greta)
    assert client.get(url("practical", due.pk)).headers["Location"] == url("mark-again", due.pk)
    page = client.get(url("mark-again", due.pk)).content.decode()
    assert " checked" not in page
    marks = {f"step{n}": "done" for n in range(1, 16)} | {"kind": "second", "secret": make.SECRET}
    assert client.post(url("mark-again", due.pk), marks).status_code == 302
    assert Marking.objects.get().kind == "second"
    assert client.get(url("practical", due.pk)).status_code == 200


def test_attendance_has_no_button_for_all_and_keeps_what_was_typed(signed_in, trainee, cast):
    session = lessons.teach(cast.greta, trainee, "apply", AT - DAY)
    session.invited.add(cast.mei)
    client = signed_in(cast.greta)
    page = client.get(url("session", session.pk)).content.decode()
    assert page.count(f'action="{url("attend", session.pk, cast.mei.pk)}"') == 1
    assert page.count("/attend/") == 2
    answer = client.post(url("attend", session.pk, cast.mei.pk), {"minutes": "999", "note": "all day"})
    assert answer.status_code == 422 and "all day" in answer.content.decode()
    assert client.post(url("attend", session.pk, cast.mei.pk), {"minutes": "60"}).status_code == 302
    for other in (cast.hanna, cast.dara):
        assert signed_in(other).post(url("attend", session.pk, cast.mei.pk), {"minutes": "1"}).status_code in (403, 422)


def test_the_certificate_at_the_end_of_the_path_takes_the_own_secret_and_a_complete_path(signed_in, trainee, cast):
    client = signed_in(cast.yuki)
    early = client.post(url("certify", trainee.pk, "apply"), {"secret": make.SECRET})
    assert early.status_code == 422 and "Supervised jobs: 0 of 3" in words(early)
    lessons.read_all(trainee, "apply", AT - 20 * DAY)
    lessons.teach(cast.greta, trainee, "apply", AT - 10 * DAY)
    for n in range(3):
        lessons.practise(cast.ines, trainee, "apply", AT - (8 - n) * DAY)
    lessons.sit_test(trainee, "apply", AT - 3 * DAY)
    lessons.assess(cast.dara, trainee, "apply", AT - 2 * DAY)
    assert "Issue the certificate" in words(signed_in(cast.greta).get(url("path-of", trainee.pk)))
    assert client.post(url("certify", trainee.pk, "apply"), {"secret": "no"}).status_code == 422
    assert client.post(url("certify", trainee.pk, "apply"), {"secret": make.SECRET}).status_code == 302
    assert Certificate.objects.get(person=trainee, skill__code="apply").grounds["practices"]


def test_figures_of_a_question_are_shown_from_thirty_answers_on(signed_in, cast):
    question = QuestionVersion.objects.filter(lang="en").first()
    for n in range(30):
        if n == 29:
            assert "0.97" not in words(signed_in(cast.greta).get(url("bank")))
        person = make.person(f"P {n}", "operator")
        attempt = Attempt.objects.create(
            person=person, skill=lessons.skill("aware"), paper={}, seed="x", lang="en", began_at=AT, closes_at=AT + DAY
        )
        drawn = attempt.drawn.create(place=1, version=question, order=[0, 1, 2, 3])
        result = AttemptResult.objects.create(
            attempt=attempt, at=AT, right=5 + (n > 0), asked=10, safety_wrong=0, passed=False
        )
        result.answers.create(drawn=drawn, chosen=question.answer, right=n > 0)
    page = words(signed_in(cast.greta).get(url("bank")))
    assert "30 0.97" in page and "everybody answered alike" in page


def test_no_page_of_learning_answers_json_with_a_key(signed_in, trainee):
    client = signed_in(trainee)
    attempt = begun(client)
    answer = client.post(
        url("test", attempt.pk),
        json.dumps({"q1": 1}),
        content_type="application/json",
        headers={"Accept": "application/json"},
    )
    assert answer.status_code < 500
    assert AttemptResult.objects.count() in (0, 1)
